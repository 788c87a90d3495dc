package workbench

import (
	"context"
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Explanation is what the brace height does on one bow, in its own numbers:
// the page that answers "why this setting, what does it cost, how sure are
// we".
type Explanation struct {
	Now     unit.Length
	Heights []unit.Length
	Topics  []ExplainTopic
	Bows    int  // plausible bows behind the bands, 1 for a fitted bow
	Fitted  bool // to this bow's readings
	Notes   []string
}

// ExplainTopic is one thing that a brace height does.
type ExplainTopic struct {
	Key   string // speed, time, bend, left, forgiveness
	Title string
	Unit  string // of Values, SI; "" for periods, % for the spread
	// Values at each height, with the span of 90 % of the plausible bows. None
	// where the model has nothing to say, and then Why is set.
	Values []Estimate[float64]
	// PerCM is the change for one centimetre more, about the present height.
	PerCM Estimate[float64]
	Text  string
	Why   string
}

// explainHeights are how many brace heights the pictures show.
const explainHeights = 7

// Explain computes the page, but for what the brace height forgives, which
// ExplainForgiveness adds. progress may be nil. It takes about a second; ctx
// stops it.
func Explain(ctx context.Context, s notebook.Settings, hand arrow.Hand, progress func(float64)) (Explanation, error) {
	now, ok := s.BraceHeight.ToPivot()
	if !ok {
		return Explanation{}, &notebook.Error{Code: notebook.Invalid, Field: "/brace_height/value", Message: "the brace height is missing", Hint: "measure from the grip's deepest point, like 22 cm"}
	}
	out := Explanation{Now: now, Heights: heightsAround(s, now), Bows: Members}
	tell := func(share float64) {
		if progress != nil {
			progress(share)
		}
	}
	seen := make([]Shows, len(out.Heights))
	for i, h := range out.Heights {
		var err error
		if seen[i], err = probeAt(ctx, s, hand, h); err != nil {
			return out, err
		}
		tell(float64(i+1) / float64(len(seen)+2))
	}
	below, err := probeAt(ctx, s, hand, now-0.005)
	if err != nil {
		return out, err
	}
	above, err := probeAt(ctx, s, hand, now+0.005)
	if err != nil {
		return out, err
	}
	for _, t := range topics {
		out.Topics = append(out.Topics, t.of(seen, below, above))
	}
	out.Notes = append([]string{"Every band holds 90 % of the bows that fit what is known of yours; a slope is known better than a height."}, explainNotes...)
	return out, nil
}

// explainNotes say what no picture of the page shows.
var explainNotes = []string{
	"The mechanism that people hear as a lively or a settled spot is not in this model: a trial finds it, this page does not.",
	"Late ringing after the shot is chaotic and is not predicted; the energy left behind is what it feeds on.",
}

func probeAt(ctx context.Context, s notebook.Settings, hand arrow.Hand, h unit.Length) (Shows, error) {
	writeBrace(&s, float64(h))
	return Probe(ctx, s, hand, 30)
}

// heightsAround are evenly spaced over the limb maker's range as this riser
// reads it, or a centimetre to either side.
func heightsAround(s notebook.Settings, now unit.Length) []unit.Length {
	low, high := now-0.01, now+0.01
	if r, ok := Range(s); ok {
		low, high = r.Low-s.Riser.Offset.Value, r.High-s.Riser.Offset.Value
	}
	out := make([]unit.Length, explainHeights)
	for i := range out {
		out[i] = low + (high-low)*unit.Length(i)/(explainHeights-1)
	}
	return out
}

// topic is a quantity with its words.
type topic struct {
	key, title, unit string
	shows            Quantity
	words            func(perCM Estimate[float64]) string
}

var topics = []topic{
	{"speed", "Arrow speed", "m/s", Quantity{Kind: OfSpeed}, func(e Estimate[float64]) string {
		return toldPerCM(e, "m/s", 1, "the arrow leaves %s %s", "faster", "slower") + " A higher brace height shortens the stroke: the string pushes over less way."
	}},
	{"time", "Time on the string", "s", Quantity{Kind: OfTime}, func(e Estimate[float64]) string {
		return toldPerCM(e, "ms", 1e3, "the arrow is on the string %s %s", "longer", "shorter") + " What the bow arm does in that time goes into the shot; it is a small share of the whole."
	}},
	{"bend", "How far the arrow has bent", "", Quantity{Kind: OfBend}, func(e Estimate[float64]) string {
		return toldPerCM(e, "of a bend", 1, "the arrow has gone through %s %s when it leaves", "more", "less") + " One whole bend is out and back both ways; where in its bend the arrow leaves decides which way it first points, and so where a bare shaft lands."
	}},
	{"left", "Energy left behind", "J", Quantity{Kind: OfLeftBehind}, func(e Estimate[float64]) string {
		return toldPerCM(e, "J", 1, "%s %s stays in limbs and string", "more", "less") + " That is what the bow rings and buzzes with: less of it is a quieter bow, as far as loudness follows energy."
	}},
}

// toldPerCM says a slope in words, or that its sign is not sure.
func toldPerCM(e Estimate[float64], unit string, scale float64, form, more, less string) string {
	word := more
	if e.Value < 0 {
		word = less
	}
	size := func(v float64) string { return fmt.Sprintf("%.2g", math.Abs(scale*v)) }
	text := fmt.Sprintf("For one centimetre more brace height "+form, size(e.Value)+" "+unit, word)
	low, high := math.Abs(e.Low), math.Abs(e.High)
	if e.Low < 0 && e.High > 0 {
		return fmt.Sprintf("%s (%+.2g to %+.2g %s: the sign is not sure).", text, scale*e.Low, scale*e.High, unit)
	}
	return fmt.Sprintf("%s (%s to %s).", text, size(min(low, high)), size(max(low, high)))
}

// of fills the topic in.
func (t topic) of(seen []Shows, below, above Shows) ExplainTopic {
	out := ExplainTopic{Key: t.key, Title: t.title, Unit: t.unit}
	for _, s := range seen {
		e, ok := s.Value(t.shows)
		if !ok {
			return without(out, "The arrow's static spine is not entered.")
		}
		out.Values = append(out.Values, e)
	}
	var ok bool
	if out.PerCM, ok = below.Change(above, t.shows); !ok {
		return without(out, "The model cannot follow this bow there.")
	}
	out.Text = t.words(out.PerCM)
	return out
}

func without(t ExplainTopic, why string) ExplainTopic {
	t.Values, t.Why = nil, why
	return t
}

// ExplainForgiveness says what a centimetre of brace height does to the spread
// at 70 m. It takes some seconds; progress may be nil.
func ExplainForgiveness(ctx context.Context, s notebook.Settings, hand arrow.Hand, progress func(float64)) ExplainTopic {
	now, _ := s.BraceHeight.ToPivot()
	out := ExplainTopic{Key: "forgiveness", Title: "What it forgives", Unit: "%"}
	if now == 0 || s.Arrow.Spine.IsZero() {
		return without(out, "The brace height or the arrow's static spine is not entered.")
	}
	f, err := Forgive(ctx, s, ForgiveQuestion{Hand: hand, Heights: []unit.Length{now - 0.005, now + 0.005}}, progress)
	if err != nil || len(f.Changes) == 0 {
		return without(out, "The spread at 70 m cannot be computed for this set-up.")
	}
	for _, c := range f.Changes {
		if out.Text != "" {
			out.Text += " "
		}
		out.Text += c.Sentence
	}
	out.PerCM = f.Changes[0].Resolved
	return out
}

// Explain is the same page from the fitted bow: its readings are in every
// curve and slope, which the unfitted page's are not.
func (f *FittedBow) Explain(ctx context.Context, s notebook.Settings, hand arrow.Hand, progress func(float64)) (Explanation, error) {
	now, ok := s.BraceHeight.ToPivot()
	if !ok {
		return Explain(ctx, s, hand, progress) // says what is missing
	}
	out := Explanation{Now: now, Heights: heightsAround(s, now), Bows: 1, Fitted: true}
	bend, err := firstMode(s, hand)
	if err != nil {
		return out, err
	}
	seen := make([]map[Quantity]Estimate[float64], len(out.Heights))
	for i, h := range out.Heights {
		at := s
		writeBrace(&at, float64(h))
		told, err := f.Predict(ctx, at, []Quantity{{Kind: QSpeed}, {Kind: QTime}, {Kind: QResidual}})
		if err != nil {
			return out, err
		}
		seen[i] = withBend(told, bend)
		if progress != nil {
			progress(float64(i+1) / float64(len(out.Heights)+1))
		}
	}
	low, high := s, s
	writeBrace(&low, float64(now)-0.005)
	writeBrace(&high, float64(now)+0.005)
	change, err := f.WhatIfSettings(ctx, low, high)
	if err != nil {
		return out, err
	}
	var moved []Expected
	for _, e := range change.Effects {
		moved = append(moved, e.Expected)
	}
	per := withBend(moved, bend)
	for _, t := range topics {
		out.Topics = append(out.Topics, t.fitted(seen, per))
	}
	out.Notes = append([]string{"Every band holds 90 % of what the readings of this bow leave possible; a slope is known better than a height."}, explainNotes...)
	return out, nil
}

// firstMode is the arrow's first bending frequency in hertz, 0 when its spine
// is not known.
func firstMode(s notebook.Settings, hand arrow.Hand) (float64, error) {
	if s.Arrow.Spine.IsZero() {
		return 0, nil
	}
	side, err := SidewaysFromSettings(s, hand)
	if err != nil {
		return 0, err
	}
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		return 0, understand(err)
	}
	return a.Frequencies()[0], nil
}

// withBend are values by quantity, with the bends that follow from the time on
// the string.
func withBend(told []Expected, mode float64) map[Quantity]Estimate[float64] {
	out := map[Quantity]Estimate[float64]{}
	for _, e := range told {
		out[Quantity{Kind: e.Quantity.Kind, Distance: e.Quantity.Distance}] = Estimate[float64]{e.Value, e.Low, e.High}
	}
	if t, ok := out[Quantity{Kind: QTime}]; ok && mode > 0 {
		out[Quantity{Kind: OfBend}] = Estimate[float64]{mode * t.Value, mode * t.Low, mode * t.High}
	}
	return out
}

// fitted fills the topic in from the fitted bow.
func (t topic) fitted(seen []map[Quantity]Estimate[float64], per map[Quantity]Estimate[float64]) ExplainTopic {
	out := ExplainTopic{Key: t.key, Title: t.title, Unit: t.unit}
	for _, s := range seen {
		e, ok := s[t.shows]
		if !ok {
			return without(out, "The arrow's static spine is not entered.")
		}
		out.Values = append(out.Values, e)
	}
	var ok bool
	if out.PerCM, ok = per[t.shows]; !ok {
		return without(out, "The fitted bow cannot be followed there.")
	}
	out.Text = t.words(out.PerCM)
	return out
}
