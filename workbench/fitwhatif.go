package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"

	"tautline/arrow"
	"tautline/bow"
	"tautline/notebook"
	"tautline/unit"
)

// Setting is one entry of a set-up and what it is to become: a key of
// notebook.Keys or a short one, and its value as a person types it.
type Setting struct {
	Key   string `json:"key"`
	Value string `json:"value"`
}

// Effect is what a change does to one quantity.
type Effect struct {
	Expected         // the change
	Name     string  `json:"name"`
	Now      float64 `json:"now"`
	Then     float64 `json:"then"`
	Says     string  `json:"says"` // in words, "cannot tell" where the interval holds both
	Sureness float64 `json:"sure_ratio"`
	// Withheld says why no number is told, all of them 0; empty where one is.
	Withheld string `json:"withheld,omitempty"`
}

// Foreseen is what moving settings does.
type Foreseen struct {
	Changes []notebook.Difference `json:"changes"`
	Effects []Effect              `json:"effects"`
	// Parts say what each setting alone does, where more than one moved.
	Parts []Part `json:"parts,omitempty"`
	// InWindow: a bare shaft tells stiff from weak after the change; Reason
	// says why not.
	InWindow bool   `json:"in_window"`
	Reason   string `json:"window_reason,omitempty"`
	// HeightInWindow: the change of the bare shaft's height can be told; the
	// reason says why not.
	HeightInWindow bool     `json:"height_in_window"`
	HeightReason   string   `json:"height_window_reason,omitempty"`
	Warnings       []string `json:"warnings"`
	// Settings after the change.
	Settings notebook.Settings `json:"settings"`
}

// marksAt are the distances whose sight marks a change is told for.
var marksAt = []unit.Length{18, 30, 50, 70}

// whatIfQuantities are told of every change.
func (f *FittedBow) whatIfQuantities() []Quantity {
	out := f.UsualQuantities()
	if f.rig.base.sideErr == nil {
		out = append(out, Quantity{Kind: QGroup, Distance: 70}, Quantity{Kind: QBareUp, Distance: 18}, Quantity{Kind: QBareUp, Distance: 30})
	}
	for _, d := range marksAt {
		out = append(out, Quantity{Kind: QMark, Distance: d})
	}
	return out
}

// WhatIf moves settings away from the fitted set-up and says what that does,
// and what else it moves. It takes about 130 ms of processor time, shared among the cores.
func (f *FittedBow) WhatIf(ctx context.Context, moved []Setting) (Foreseen, error) {
	to, err := withAll(f.ask.Settings, moved)
	if err != nil {
		return Foreseen{}, err
	}
	return f.WhatIfSettings(ctx, f.ask.Settings, to)
}

// withAll applies settings in turn.
func withAll(s notebook.Settings, moved []Setting) (notebook.Settings, error) {
	var err error
	for _, m := range moved {
		if s, err = s.With(m.Key, m.Value); err != nil {
			return s, err
		}
	}
	return s, nil
}

// WhatIfSettings is WhatIf between any two set-ups of the bow.
func (f *FittedBow) WhatIfSettings(ctx context.Context, from, to notebook.Settings) (Foreseen, error) {
	to, left := nockLeft(from, to)
	out, err := f.foresee(ctx, from, to, f.whatIfQuantities())
	switch {
	case left:
		out.Warnings = append(out.Warnings, fmt.Sprintf("Taken: the nocking point stays where it is on the string, so that the square reads %s over the moved rest. Say a nocking point as well if it moves.", to.NockingPoint.Value))
	case restMoved(from, to) != 0 && to.NockingPoint.Value.IsZero():
		out.Warnings = append(out.Warnings, "Taken: the nocking point moves with the rest, because none is noted. Read it on the square first.")
	}
	return out, err
}

// foresee tells the change of quantities.
func (f *FittedBow) foresee(ctx context.Context, from, to notebook.Settings, of []Quantity) (Foreseen, error) {
	out := Foreseen{Settings: to, Warnings: []string{}, Effects: []Effect{}}
	var err error
	if out.Changes, err = notebook.Diff(from, to); err != nil {
		return out, err
	}
	a, err := f.sceneOf(from)
	if err != nil {
		return out, err
	}
	b, err := f.sceneOf(to)
	if err != nil {
		return out, err
	}
	at, err := newAnswers(f.rig.world(f.u), askAll(b, of))
	if err != nil {
		return out, err
	}
	of = out.height(f, a, b, at, of)
	shift, err := f.changeFrom(ctx, a, b, at, of)
	if err != nil {
		return out, err
	}
	beyond := beyondMarks(out.Changes, from, to, float64(b.sight.Reach))
	for i, t := range shift.Change {
		out.Effects = append(out.Effects, beyond.effect(t, shift.From[i], shift.To[i]))
		out.Effects[i].withhold(out.HeightReason)
		beyond.withhold(&out.Effects[i])
	}
	if len(shift.Parts) > 1 {
		out.Parts = shift.Parts
	}
	out.window(b, at)
	out.warn(from, to)
	if beyond.why != "" && slices.ContainsFunc(of, func(q Quantity) bool { return q.Kind == QMark }) {
		out.Warnings = append(out.Warnings, "The sight marks are not computed: "+beyond.why+". Shoot them again.")
	}
	return out, nil
}

// sceneOf is the fit's own scene where the settings are its own.
func (f *FittedBow) sceneOf(s notebook.Settings) (*scene, error) {
	if settingsKey(s) == settingsKey(f.ask.Settings) {
		return f.rig.base, nil
	}
	return f.rig.scene(s)
}

// untold stands where a change's interval holds both directions.
const untold = "cannot tell"

func effect(t Expected, now, then float64) Effect {
	e := Effect{Expected: t, Name: t.Quantity.String(), Now: now, Then: then, Sureness: t.Sure()}
	size := plainValue(math.Abs(t.Value), t.Quantity)
	if t.Quantity.Kind == QBare || t.Quantity.Kind == QBareUp || t.Quantity.Kind == QGroup {
		size = fmt.Sprintf("%.1f cm", 100*math.Abs(t.Value))
	}
	more, less := "more", "less"
	switch t.Quantity.Kind {
	case QBare, QGroup:
		more, less = "to the right", "to the left"
	case QBareUp:
		more, less = "higher", "lower"
	case QMark:
		more, less = "up the scale's numbers", "down the scale's numbers"
	case QSpeed:
		more, less = "faster", "slower"
	}
	switch {
	case t.SD == 0 || t.Value == 0 && t.Quantity.Kind != QMark:
		e.Says = "no change"
	case max(math.Abs(t.Low), math.Abs(t.High)) < t.Quantity.notable():
		e.Says = "no change to speak of"
	case t.Direction() > 0:
		e.Says = size + " " + more
	case t.Direction() < 0:
		e.Says = size + " " + less
	default:
		e.Says = untold
	}
	return e
}

// notable is the least change that anyone would read off (common practice, no
// source).
func (q Quantity) notable() float64 {
	switch q.Kind {
	case QSpeed, QStored, QResidual:
		return 0.05
	case QDrawWeight, QDrawForce:
		return 0.5
	case QBare, QBareUp, QGroup:
		return 0.003 * math.Max(1, float64(q.Distance)/30)
	case QTime:
		return 0.02e-3
	}
	return 0.1e-3
}

// window judges whether a bare shaft can be read after the change.
func (out *Foreseen) window(sc *scene, at *answers) {
	if sc.sideErr != nil {
		out.Reason = sc.sideErr.Error()
		return
	}
	w, err := at.window(sc)
	if err != nil {
		out.Reason = err.Error()
		return
	}
	out.InWindow, out.Reason = w.In, w.Reason
}

// windowOf judges the fitted bow's shot.
func (f *FittedBow) windowOf(sc *scene) (arrow.Window, error) {
	a, err := newAnswers(f.rig.world(f.u), askAll(sc, []Quantity{{Kind: QClearance}}))
	if err != nil {
		return arrow.Window{}, err
	}
	return a.window(sc)
}

// window judges a scene's shot.
func (a *answers) window(sc *scene) (arrow.Window, error) {
	a.drives[shotKey{sc.limb, sc.mass}] = true
	l, err := a.shot(sc)
	if err != nil {
		return arrow.Window{}, err
	}
	j, err := a.sim.Judge(sc.arrow, l.drive, a.w.sideways(sc))
	return j.Window, err
}

// warn adds what the settings alone say against shooting like this, and the
// sight marks that no longer hold.
func (out *Foreseen) warn(from, to notebook.Settings) {
	out.Warnings = append(out.Warnings, Warnings(to)...)
	if to.StringWalking {
		out.Warnings = append(out.Warnings, "String-walking: what is said of the bare shaft holds for no crawl.")
	}
	for _, e := range out.Effects {
		if e.Quantity.Kind == QMark && e.Withheld == "" && e.Quantity.Distance == 70 && math.Abs(e.Value) > 0.5e-3 && e.Direction() != 0 {
			out.Warnings = append(out.Warnings, fmt.Sprintf("The sight mark for 70 m moves by %.1f mm (%.1f to %.1f): take new marks.", 1e3*e.Value, 1e3*e.Low, 1e3*e.High))
		}
	}
	if a, ok := CheckRange(from); ok && a.Side == bow.InsideRange {
		if b, ok := CheckRange(to); ok && b.Side != bow.InsideRange {
			out.Warnings = append(out.Warnings, "Do not shoot it outside the limb maker's range.")
		}
	}
}
