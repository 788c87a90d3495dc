package workbench

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tautline/unit"
)

// list ranks what was tried: shafts whose bare shaft can be read first, then by
// how many plausible set-ups bring it near.
func (b *BowModel) list(base shaftBase, q ShaftQuestion, tries []tried) ShaftList {
	out := ShaftList{Unfitted: true, Bows: len(b.members) - 1, Shafts: []ShaftTry{}}
	var views []ShaftTry
	for _, t := range tries {
		views = append(views, b.tryView(base, t))
	}
	if base.present {
		own := views[len(views)-1]
		out.Present, views = &own, views[:len(views)-1]
	}
	views = slices.DeleteFunc(views, func(v ShaftTry) bool { return v.TailGap <= 0 || v.Light })
	late := map[bool]int{false: 1}
	slices.SortStableFunc(views, func(a, b ShaftTry) int {
		return cmp.Or(late[a.InWindow]-late[b.InWindow], cmp.Compare(b.Share, a.Share), cmp.Compare(math.Abs(a.Bare18), math.Abs(b.Bare18)))
	})
	out.Shafts = append(out.Shafts, views[:min(q.Count, len(views))]...)
	out.Borrow, out.Advice = base.advise(out.Shafts)
	out.Cautions = b.shaftCautions(base, q)
	out.Notes = append([]string{
		"Where a bare shaft lands is the model's guess until readings of your own set its zero; trust the order and the differences more than the places.",
		"An arrow's weight is estimated from spine and length; weigh the arrow itself.",
	}, base.side.Assumed...)
	return out
}

// tryView turns one shaft into numbers.
func (b *BowModel) tryView(base shaftBase, t tried) ShaftTry {
	d := t.arrow.Design()
	best, good, near, in := t.holes[0], []hole{}, 0, 0
	for _, h := range t.holes[1:] {
		if h.err != nil {
			continue
		}
		good = append(good, h)
		if h.shot.TailGap > 0 && math.Abs(h.bare18) <= float64(NearBare) {
			near++
		}
		if h.window.In {
			in++
		}
	}
	v := ShaftTry{
		Spine: d.Spine.Thousandths(), ShaftLength: float64(d.Length - grooveBehind), PointMass: float64(d.Point.Mass),
		PastRest: float64(d.Length - b.in.Known.Draw + base.side.Setup.Button.Place),
		Bare18:   best.bare18, TailGap: float64(best.shot.TailGap), Speed: float64(best.shot.Speed),
		InWindow: best.err == nil && best.window.In, Reason: best.window.Reason,
		Mass: float64(d.Mass()), MassPerForce: float64(d.Mass()/unit.Grain) / float64(b.in.Known.DrawWeight/unit.PoundForce),
		Balance: float64(d.Balance()), Forward: 100 * d.FOC(),
	}
	v.Light = d.Mass() < base.settings.Arrow.MinimumMass.Value
	if best.err != nil {
		v.Reason = best.err.Error()
	}
	if len(good) > 0 {
		v.Share, v.InShare = float64(near)/float64(len(good)), float64(in)/float64(len(good))
	}
	v.Interval = map[string]Span{
		"bare_minus_fletched_18m_right_m": span(gather[unit.Length](best, good, func(h hole) float64 { return h.bare18 })),
		"tail_clearance_m":                span(gather[unit.Length](best, good, func(h hole) float64 { return float64(h.shot.TailGap) })),
		"speed_mps":                       span(gather[unit.Speed](best, good, func(h hole) float64 { return float64(h.shot.Speed) })),
	}
	return v
}

// shaftCautions are what a list of shafts must never be without (job.md;
// common practice, no source).
func (b *BowModel) shaftCautions(base shaftBase, q ShaftQuestion) []string {
	a := base.settings.Arrow
	var out []string
	if a.MinimumMass.IsZero() {
		out = append(out, "The bow maker's least arrow mass is not in the settings: look it up and compare it with the arrow's mass and its grains per pound before the first shot.")
	} else {
		least := a.MinimumMass.Value
		out = append(out, fmt.Sprintf("Nothing lighter than the bow maker's %s is listed (%s, %s, %.1f gr per lbf on the fingers).", a.MinimumMass.Text,
			unit.Format(least, unit.G, 1, unit.Point), unit.Format(least, unit.Gr, 0, unit.Point), float64(least/unit.Grain)/float64(b.in.Known.DrawWeight/unit.PoundForce)))
		if base.present && a.Mass.Value < least {
			out = append(out, fmt.Sprintf("The present arrow (%s) is lighter than that: do not shoot it.", a.Mass.Text))
		}
	}
	if q.Reach < GrowingReach {
		out = append(out, fmt.Sprintf("These shafts reach as little as %.0f mm past the rest. New and growing archers need at least 25 mm; the coach decides.", q.Reach.Millimetres()))
	} else {
		out = append(out, fmt.Sprintf("Every shaft reaches at least %.0f mm past the rest at full draw; a growing archer needs room to grow, and the coach decides.", q.Reach.Millimetres()))
	}
	return append(out,
		"A bare shaft may fly wide: short distance, wide backstop, clear range behind. Inspect every shaft and nock first; a cracked shaft can shatter in the hand.",
		"The makers' charts, the range's rules and a qualified coach decide; a computed figure never overrides them.")
}
