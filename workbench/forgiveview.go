package workbench

import (
	"context"
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Forgiveness answers what a brace height, a button setting or an arrow
// forgives.
type Forgiveness struct {
	Over Over         `json:"over"`
	Rows []ForgiveRow `json:"heights"`
	// From and To are the brace heights compared; equal for OverButton and
	// OverArrow, whose comparison stands in Compared in words.
	From     float64         `json:"from_m"`
	To       float64         `json:"to_m"`
	Compared string          `json:"compared"`
	Changes  []ForgiveChange `json:"changes"`
	// Ghosts is the spread of shots with all errors at once over that of the
	// linear map on the same errors, at From: near 1 where the map is smooth.
	Ghosts float64 `json:"ghosts_over_linear_ratio"`
	// ShownBy is the least change, in per cent, that 72 arrows either way tell
	// from none with 90 % confidence.
	ShownBy float64 `json:"shown_by_72_arrows_percent"`
	// Unexplained is what the archer's measured group has beyond the model, m;
	// null without a group.
	Unexplained *float64 `json:"unexplained_m"`
	// Inertia of the riser about the grip, kg m², and whether it was taken from
	// the archer's own stabilisers.
	Inertia      float64 `json:"riser_inertia_kgm2"`
	InertiaKnown bool    `json:"riser_inertia_from_rods"`
	// Summary is one plain answer.
	Summary string   `json:"summary"`
	Notes   []string `json:"notes"`
}

// ForgiveQuestion is what Forgive is asked. Zero values take the defaults.
type ForgiveQuestion struct {
	Hand arrow.Hand
	// Over is what the spread is looked at against, brace height by default.
	Over Over
	// Turns added to the button, and the two that are compared; none takes two
	// turns to either side, first against last. Only for OverButton.
	Turns              []float64
	FromTurns, ToTurns float64
	// Spines, and the two that are compared; none takes what is sold around the
	// present one, softest against stiffest. Only for OverArrow.
	Spines             []unit.Spine
	FromSpine, ToSpine unit.Spine
	// Heights of the table; none takes seven from 2 cm below to 1 cm above.
	Heights []unit.Length
	// From and To are compared; zero takes the first and the last height.
	From, To unit.Length
	// Repeat is the archer's repeatability; the zero value is assumed usual.
	Repeat Repeatability
	// Group is the standard deviation, sideways at 70 m, of the archer's
	// measured group at the bow's present brace height; 0 if there is none.
	Group unit.Length
	// Upright is the set-up's vertical plane; Forgive fills it from the settings.
	Upright *Vertical
}

// usualInertia of a riser with stabilisers about the grip, kg m² (assumed; 0.15
// to 0.35), and the hand on it. They change totals by less than a per cent.
const usualInertia, handStiffness, handDamping = 0.25, 10, 0.2

// Forgive answers from the settings. It takes some three seconds on two
// cores; ctx stops it, and progress, if not nil, is called with the share done.
func Forgive(ctx context.Context, s notebook.Settings, q ForgiveQuestion, progress func(float64)) (Forgiveness, error) {
	side, err := SidewaysFromSettings(s, q.Hand)
	if err != nil {
		return Forgiveness{}, err
	}
	in, err := FromSettings(s)
	if err != nil {
		return Forgiveness{}, err
	}
	b, err := NewBowModel(ctx, in)
	if err != nil {
		return Forgiveness{}, understand(err)
	}
	v := VerticalFromSettings(s, side.Arrow.Diameter)
	q.Upright = &v
	out, err := b.Forgive(ctx, side, q, progress)
	return out, understand(err)
}

// check names what cannot be asked.
func (q *ForgiveQuestion) check() error {
	var problems notebook.Problems
	for s, sd := range q.Repeat {
		if !(sd >= 0) || math.IsInf(sd, 0) {
			problems = append(problems, notebook.Error{
				Code: notebook.Invalid, Field: "/repeatability/" + sourceKeys[s], Message: fmt.Sprintf("a standard deviation of %g", sd),
				Hint: fmt.Sprintf("zero or more, like %g", UsualRepeatability()[s]),
			})
		}
	}
	height := func(field string, h unit.Length) {
		if r := unit.BraceHeight; !r.Holds(h) {
			problems = append(problems, notebook.Error{
				Code: notebook.Invalid, Field: field, Hint: "a brace height like 22 cm",
				Message: fmt.Sprintf("%.0f mm is outside %.0f to %.0f mm", h.Millimetres(), r.Low.Millimetres(), r.High.Millimetres()),
			})
		}
	}
	for i, h := range q.Heights {
		height(fmt.Sprintf("/heights/%d", i), h)
	}
	if q.Over == OverBrace {
		height("/from", q.From)
		height("/to", q.To)
	}
	problems = append(problems, q.checkOver()...)
	if !(q.Group >= 0) {
		problems = append(problems, notebook.Error{Code: notebook.Invalid, Field: "/group", Message: "a group of less than nothing", Hint: "the standard deviation sideways at 70 m, like 15 cm, or none"})
	}
	return problems.OrNil()
}

// Forgive answers for a bow. The bits do not depend on the number of cores.
func (b *BowModel) Forgive(ctx context.Context, side Sideways, q ForgiveQuestion, progress func(float64)) (Forgiveness, error) {
	q.fill(b.Now(), &side)
	if err := q.check(); err != nil {
		return Forgiveness{}, err
	}
	if progress == nil {
		progress = func(float64) {}
	}
	out := Forgiveness{Over: q.Over, From: float64(b.Now()), To: float64(b.Now()), Inertia: side.Inertia, InertiaKnown: side.Inertia > 0}
	if !out.InertiaKnown {
		out.Inertia = usualInertia
	}
	side.Setup.Riser = &arrow.Riser{Inertia: out.Inertia, HandStiffness: handStiffness, HandDamping: handDamping}
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		return Forgiveness{}, err
	}
	stands, from, to, err := q.stands(b.Now(), a)
	if err != nil {
		return Forgiveness{}, err
	}
	if q.Over == OverBrace {
		out.From, out.To = float64(q.From), float64(q.To)
	}
	out.Compared = q.Over.span(from, to)
	// Two groups of n: the difference of ln s has a standard deviation of
	// √(2/(2(n−1))).
	out.ShownBy = 100 * z90 / math.Sqrt(72-1)
	var keep []forgiveStand
	if out.Rows, keep, out.Notes, err = b.forgiveRows(ctx, stands, &side, q); err != nil {
		return Forgiveness{}, err
	}
	if err := b.fillUp(ctx, &side, q, keep, out.Rows); err != nil {
		return Forgiveness{}, err
	}
	progress(0.1)
	if err := b.forgiveSpans(ctx, out.Rows, keep, &side, q); err != nil {
		return Forgiveness{}, err
	}
	progress(0.4)
	if out.Changes, err = b.forgiveChanges(ctx, from, to, &side, q, out.ShownBy); err != nil {
		return Forgiveness{}, err
	}
	progress(0.9)
	if err := b.answer(from, to, forgiveStand{brace: b.Now(), arrow: a}, &side, q, &out); err != nil {
		return Forgiveness{}, err
	}
	if out.Ghosts, err = b.ghostRatio(from, &side, q); err != nil {
		return Forgiveness{}, err
	}
	out.note(&side)
	progress(1)
	return out, nil
}

// note says what the answer rests on.
func (f *Forgiveness) note(side *Sideways) {
	f.Notes = append(f.Notes, "Every repeatability is assumed until it is measured. The spread in height is the middle bow's, without gusts or breath.")
	if !f.InertiaKnown {
		f.Notes = append(f.Notes, fmt.Sprintf("No stabilisers are given: the riser's inertia is taken as %.2f kg m².", usualInertia))
	}
	if f.Over == OverArrow {
		f.Notes = append(f.Notes, "A shaft's weight is taken to change with its spine, as is ordinary; length and point stay.")
	}
	f.Notes = append(f.Notes, side.Assumed...)
}
