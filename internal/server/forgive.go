package server

import (
	"context"
	"fmt"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// forgiveBody asks what a brace height, a button setting or an arrow forgives.
type forgiveBody struct {
	PredictBody
	Over      string          `json:"over,omitempty" doc:"What to look at the spread against: brace (default), button (turns added) or arrow (static spine)." example:"brace"`
	From      notebook.Length `json:"from,omitzero" doc:"Brace height to compare from; default 2 cm below the set-up." example:"21 cm"`
	To        notebook.Length `json:"to,omitzero" doc:"Brace height to compare with; default 1 cm above." example:"23 cm"`
	FromTurns *float64        `json:"from_turns,omitempty" doc:"Turns added to the button; default 2 out." example:"-1"`
	ToTurns   *float64        `json:"to_turns,omitempty" doc:"Default 2 in." example:"1"`
	FromSpine notebook.Spine  `json:"from_spine,omitzero" doc:"Static spine; default the softest of what is sold around the present one."`
	ToSpine   notebook.Spine  `json:"to_spine,omitzero" doc:"Default the stiffest."`
	Group     notebook.Length `json:"group,omitzero" doc:"Your measured group at 70 m, sideways, one standard deviation: anchors the total." example:"15 cm"`
	Repeat    repeatBody      `json:"repeatability,omitzero" doc:"One standard deviation of each; what is left out is assumed usual."`
	Work      notebook.ID     `json:"work,omitempty" doc:"An id of your own, under which /work/{id} tells how far it is."`
}

// repeatBody is the archer's repeatability, one standard deviation each.
type repeatBody struct {
	Aim         unit.Text[unit.Angle] `json:"aim,omitzero" doc:"Of the line of sight." example:"1 mrad"`
	ArmRate     *float64              `json:"arm_rate_radps,omitempty" doc:"Bow arm turning at release." example:"0.02"`
	BowTorque   *float64              `json:"bow_torque_nm,omitempty" doc:"The hand's twist on the grip." example:"0.05"`
	ReleaseSize *float64              `json:"release_size_ratio,omitempty" doc:"Share of the draw force the fingers push aside with." example:"0.02"`
	ReleaseSide notebook.Length       `json:"release_side,omitzero" doc:"Draw hand off the string's plane." example:"0.5 mm"`
	DrawLength  notebook.Length       `json:"draw_length,omitzero" example:"1.5 mm"`
	NockFit     notebook.Force        `json:"nock_fit,omitzero" doc:"Pull at which the nock lets go." example:"1 N"`
	ArrowMass   notebook.Mass         `json:"arrow_mass,omitzero" doc:"Arrow to arrow." example:"0.1 g"`
	Spine       notebook.Spine        `json:"spine,omitzero" doc:"Static spine, arrow to arrow." example:"8"`
}

// forgiveInput is the request.
type forgiveInput struct {
	Body written[forgiveBody]
}

// forgiveView is the answer.
type forgiveView struct {
	Over        string          `json:"over" enum:"brace,button,arrow"`
	Summary     string          `json:"summary" doc:"One plain answer."`
	Compared    string          `json:"compared" doc:"The two that are compared, in words." example:"From 21.0 to 23.0 cm"`
	Rows        []forgiveRow    `json:"rows" nullable:"false" doc:"What the archer's errors make of the arrows at 70 m, nothing else changed."`
	Changes     []treatedView   `json:"changes" nullable:"false" doc:"The two compared, with the tune left alone or put right again."`
	Sources     []assumedView   `json:"sources" nullable:"false" doc:"The errors, with what was taken for each."`
	Ghosts      float64         `json:"ghosts_over_linear_ratio" doc:"All errors at once over the sum of each alone: near 1 where the map is smooth."`
	ShownBy     float64         `json:"shown_by_72_arrows_percent" doc:"The least change that 72 arrows either way tell from none."`
	Unexplained *Shown          `json:"unexplained,omitempty" doc:"What the measured group has beyond the model."`
	Vertical    string          `json:"vertical_reason" doc:"Why nothing is said of heights on the target."`
	Figures     []figure.Figure `json:"figures" nullable:"false" doc:"The spread stacked by error: each series is the top of its band, low its floor."`
	Notes       []string        `json:"notes" nullable:"false"`
	Cautions    []string        `json:"cautions" nullable:"false"`
}

// forgiveRow is the spread at one brace height, button setting or spine.
type forgiveRow struct {
	At         Shown            `json:"at" doc:"Brace height, turns added, or static spine."`
	Sideways   Doubted          `json:"sideways" doc:"One standard deviation at 70 m; the interval holds 90 % of the plausible set-ups."`
	Other      Shown            `json:"sideways_other_string" doc:"The same with the other model of the string."`
	BySource   map[string]Shown `json:"by_source" doc:"They add up in squares to the whole."`
	InWindow   bool             `json:"in_window" doc:"A bare shaft can be read there."`
	Reason     string           `json:"window_reason"`
	Height     *Shown           `json:"height,omitempty" doc:"One standard deviation in height at 70 m, of the middle bow; absent for vertical_reason."`
	BySourceUp map[string]Shown `json:"by_source_height,omitempty" doc:"They add up in squares to height."`
}

// treatedView compares the two brace heights under one treatment of the tune.
type treatedView struct {
	Treatment string         `json:"treatment" example:"re-tuned by button"`
	Sentence  string         `json:"sentence"`
	Sign      int            `json:"sign" enum:"-1,0,1" doc:"+1 grows, -1 shrinks, 0 cannot be told: the two models must agree."`
	Agree     float64        `json:"agree_ratio"`
	Retuned   float64        `json:"retuned_ratio" doc:"Of the plausible set-ups that could be re-tuned."`
	Percent   Doubted        `json:"change" doc:"Of the spread without the aim."`
	Other     Doubted        `json:"change_other_string" doc:"The same with the other model of the string."`
	BySource  []sourceChange `json:"by_source" nullable:"false"`
}

// sourceChange is how much more or less one error moves the arrow.
type sourceChange struct {
	Name  string `json:"name" example:"release_size"`
	Label string `json:"label"`
	Sign  int    `json:"sign" enum:"-1,0,1"`
	Text  string `json:"text" doc:"In words: more, less, or cannot tell."`
}

// assumedView is one error with what was taken for it.
type assumedView struct {
	Name     string  `json:"name" example:"draw_length"`
	Field    string  `json:"field" doc:"Field of repeatability." example:"draw_length"`
	Label    string  `json:"label" example:"draw length"`
	Quantity string  `json:"quantity" doc:"What it is typed as, for /units/parse; empty for a plain number."`
	Unit     string  `json:"unit" doc:"Of a plain number." example:"N m"`
	Value    float64 `json:"value" doc:"Taken, SI."`
	Text     string  `json:"text" example:"1.5 mm"`
	Assumed  bool    `json:"assumed" doc:"Not given: taken as usual for a good club archer."`
}

func (s *server) forgive(ctx context.Context, in *forgiveInput) (*found[forgiveView], error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	system := systemOf(me)
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	settings, err := s.settingsFor(ctx, body.SetUp, body.Settings, body.Set, system)
	if err != nil {
		return nil, err
	}
	hand, err := s.handFor(ctx, body.SetUp)
	if err != nil {
		return nil, err
	}
	if err := body.Repeat.check(); err != nil {
		return nil, err
	}
	repeat, sources := body.Repeat.read(system)
	q := body.question()
	q.Hand, q.Repeat = workbench.HandOf(hand), repeat
	var f workbench.Forgiveness
	err = s.long(ctx, body.Work, func(ctx context.Context, tell func(float64)) (err error) {
		f, err = workbench.Forgive(ctx, settings, q, tell)
		return err
	})
	if err != nil {
		return nil, err
	}
	view := viewForgiveness(f, settings, system)
	view.Sources = sources
	return &found[forgiveView]{Body: view}, nil
}

// question is what is asked, but for the archer.
func (b forgiveBody) question() workbench.ForgiveQuestion {
	q := workbench.ForgiveQuestion{
		Over: workbench.Over(b.Over), From: b.From.Value, To: b.To.Value, FromSpine: b.FromSpine.Value, ToSpine: b.ToSpine.Value, Group: b.Group.Value,
	}
	// What is out of bounds is named by its own field, not by seven places.
	if unit.BraceHeight.Holds(q.From) && unit.BraceHeight.Holds(q.To) {
		q.Heights = between(q.From, q.To)
	}
	if b.FromTurns != nil {
		q.FromTurns = *b.FromTurns
	}
	if b.ToTurns != nil {
		q.ToTurns = *b.ToTurns
	}
	if q.Over == workbench.OverButton && q.FromTurns != q.ToTurns && max(abs(q.FromTurns), abs(q.ToTurns)) <= 6 {
		q.Turns = between(q.FromTurns, q.ToTurns)
	}
	return q
}

// between are seven places from one to the other.
func between[T ~float64](from, to T) (list []T) {
	const n = 7
	low, high := min(from, to), max(from, to)
	if low == high {
		return []T{low}
	}
	for i := range n {
		list = append(list, low+(high-low)*T(i)/(n-1))
	}
	return list
}

// check names plain numbers that are no standard deviation; the others name
// themselves.
func (b repeatBody) check() error {
	var errs []FieldError
	for _, n := range []struct {
		field, hint string
		value       *float64
		most        float64
	}{{"arm_rate_radps", "0 to 1 rad/s, like 0.02", b.ArmRate, 1}, {"bow_torque_nm", "0 to 2 N m, like 0.05", b.BowTorque, 2}, {"release_size_ratio", "0 to 0.2 of the draw force, like 0.02", b.ReleaseSize, 0.2}} {
		if n.value != nil && !(*n.value >= 0 && *n.value <= n.most) {
			errs = append(errs, FieldError{"/repeatability/" + n.field, codeInvalid, fmt.Sprintf("%g is no standard deviation here", *n.value), n.hint})
		}
	}
	if len(errs) > 0 {
		return refuse(errs...)
	}
	return nil
}

// read gives the repeatability, with what was taken for each source.
func (b repeatBody) read(system unit.System) (workbench.Repeatability, []assumedView) {
	out := workbench.UsualRepeatability()
	var list []assumedView
	add := func(src workbench.Source, field, quantity, symbol string, given *float64) {
		if given != nil {
			out[src] = *given
		}
		v := assumedView{Name: src.String(), Field: field, Label: src.Words(), Quantity: quantity, Unit: symbol, Value: out[src], Assumed: given == nil}
		if quantity == "" {
			v.Text = plainNumber(out[src], system) + " " + symbol
		} else {
			v.Text = kinds[quantity].precise(system, out[src], out[src]/20)
		}
		list = append(list, v)
	}
	add(workbench.Aim, "aim", "angle", "", si(b.Aim))
	add(workbench.ArmRate, "arm_rate_radps", "", "rad/s", b.ArmRate)
	add(workbench.BowTorque, "bow_torque_nm", "", "N m", b.BowTorque)
	add(workbench.ReleaseSize, "release_size_ratio", "", "of the draw force", b.ReleaseSize)
	add(workbench.ReleaseSide, "release_side", "setting", "", si(b.ReleaseSide))
	add(workbench.DrawLength, "draw_length", "setting", "", si(b.DrawLength))
	add(workbench.NockFit, "nock_fit", "preload", "", si(b.NockFit))
	add(workbench.ArrowMass, "arrow_mass", "mass", "", si(b.ArrowMass))
	add(workbench.ShaftSpine, "spine", "spine", "", si(b.Spine))
	return out, list
}

// si is what was typed as a plain number, nil for nothing.
func si[T unit.Quantity](t unit.Text[T]) *float64 {
	if t.IsZero() {
		return nil
	}
	v := float64(t.Value)
	return &v
}
