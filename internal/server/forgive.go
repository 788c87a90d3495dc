package server

import (
	"context"
	"fmt"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// forgiveBody asks what a brace height forgives.
type forgiveBody struct {
	PredictBody
	From   notebook.Length `json:"from,omitzero" doc:"Brace height to compare from; default 2 cm below the set-up." example:"21 cm"`
	To     notebook.Length `json:"to,omitzero" doc:"Brace height to compare with; default 1 cm above." example:"23 cm"`
	Group  notebook.Length `json:"group,omitzero" doc:"Your measured group at 70 m, sideways, one standard deviation: anchors the total." example:"15 cm"`
	Repeat repeatBody      `json:"repeatability,omitzero" doc:"One standard deviation of each; what is left out is assumed usual."`
	Work   notebook.ID     `json:"work,omitempty" doc:"An id of your own, under which /work/{id} tells how far it is."`
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
	Summary     string          `json:"summary" doc:"One plain answer."`
	Heights     []forgiveRow    `json:"heights" nullable:"false" doc:"What the archer's errors make of the arrows at 70 m, by brace height, nothing else changed."`
	Changes     []treatedView   `json:"changes" nullable:"false" doc:"The two brace heights compared, with the tune left alone or put right again."`
	Sources     []assumedView   `json:"sources" nullable:"false" doc:"The errors, with what was taken for each."`
	Ghosts      float64         `json:"ghosts_over_linear_ratio" doc:"All errors at once over the sum of each alone: near 1 where the map is smooth."`
	ShownBy     float64         `json:"shown_by_72_arrows_percent" doc:"The least change that 72 arrows at either height tell from none."`
	Unexplained *Shown          `json:"unexplained,omitempty" doc:"What the measured group has beyond the model."`
	Vertical    string          `json:"vertical_reason" doc:"Why nothing is said of heights on the target."`
	Figures     []figure.Figure `json:"figures" nullable:"false"`
	Notes       []string        `json:"notes" nullable:"false"`
	Cautions    []string        `json:"cautions" nullable:"false"`
}

// forgiveRow is the spread at one brace height.
type forgiveRow struct {
	BraceHeight Shown            `json:"brace_height"`
	Sideways    Doubted          `json:"sideways" doc:"One standard deviation at 70 m; the doubt is what the two models of the string make of it."`
	BySource    map[string]Shown `json:"by_source" doc:"They add up in squares to the whole."`
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
	if err := body.Repeat.check(); err != nil {
		return nil, err
	}
	repeat, sources := body.Repeat.read(system)
	q := workbench.ForgiveQuestion{Hand: workbench.HandOf(me.Hand), From: body.From.Value, To: body.To.Value, Group: body.Group.Value, Repeat: repeat}
	if q.From > 0 && q.To > 0 {
		q.Heights = heightsBetween(q.From, q.To)
	}
	var f workbench.Forgiveness
	err = s.long(ctx, body.Work, func(ctx context.Context, tell func(float64)) (err error) {
		f, err = workbench.Forgive(ctx, settings, q, tell)
		return err
	})
	if err != nil {
		return nil, err
	}
	view := viewForgiveness(f, system)
	view.Sources = sources
	return &found[forgiveView]{Body: view}, nil
}

// heightsBetween are seven heights from one to the other.
func heightsBetween(from, to unit.Length) (list []unit.Length) {
	const n = 7
	low, high := min(from, to), max(from, to)
	if low == high {
		return []unit.Length{low}
	}
	for i := range n {
		list = append(list, low+(high-low)*unit.Length(i)/(n-1))
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

func viewForgiveness(f workbench.Forgiveness, system unit.System) forgiveView {
	impact := system.ImpactStyle()
	v := forgiveView{
		Summary: f.Summary, Heights: []forgiveRow{}, Changes: []treatedView{}, Ghosts: f.Ghosts, ShownBy: f.ShownBy,
		Notes: someText(f.Notes), Cautions: []string{"The makers' ranges and instructions and your coach decide; a computed figure never overrides them."},
		Figures: []figure.Figure{},
	}
	for _, r := range f.Rows {
		row := forgiveRow{
			BraceHeight: Shown{r.BraceHeight, "m", system.SettingStyle().Print(unit.Length(r.BraceHeight))},
			Sideways:    spanned("sideways", "sideways at 70 m, one standard deviation", "m", r.Sideways, workbench.Span{min(r.Sideways, r.Lumped), max(r.Sideways, r.Lumped)}, impact),
			BySource:    map[string]Shown{},
		}
		for name, x := range r.BySource {
			row.BySource[name] = Shown{x, "m", impact.Print(unit.Length(x))}
		}
		v.Heights, v.Vertical = append(v.Heights, row), r.VerticalReason
	}
	for _, c := range f.Changes {
		v.Changes = append(v.Changes, viewTreated(c, system))
	}
	if f.Unexplained != nil {
		v.Unexplained = &Shown{*f.Unexplained, "m", impact.Print(unit.Length(*f.Unexplained))}
	}
	return v
}

func viewTreated(c workbench.ForgiveChange, system unit.System) treatedView {
	percent := func(name, label string, e workbench.Estimate[float64]) Doubted {
		if c.BySource == nil {
			return Doubted{Name: name, Label: label, Unit: "%", Text: "–", Doubt: "cannot be re-tuned"}
		}
		text := func(x float64) string { return plainNumber(rounded(x, 1), system) + " %" }
		return Doubted{Name: name, Label: label, Unit: "%", SI: finite(e.Value), Low: finite(e.Low), High: finite(e.High), Text: text(e.Value), Doubt: text(e.Low) + " to " + text(e.High)}
	}
	v := treatedView{
		Treatment: string(c.Treatment), Sentence: c.Sentence, Sign: c.Sign, Agree: c.Agree, Retuned: c.Retuned, BySource: []sourceChange{},
		Percent: percent("change", "spread without the aim", c.Resolved), Other: percent("change_other_string", "with the other model of the string", c.Lumped),
	}
	for s := workbench.ArmRate; c.BySource != nil && s <= workbench.ShaftSpine; s++ {
		one := c.BySource[s.String()]
		low, high := min(abs(one.Resolved), abs(one.Lumped)), max(abs(one.Resolved), abs(one.Lumped))
		said := sourceChange{Name: s.String(), Label: s.Words(), Sign: one.Sign, Text: "cannot tell"}
		span := fmt.Sprintf("%s to %s %%", plainNumber(rounded(low, 0), system), plainNumber(rounded(high, 0), system))
		switch one.Sign {
		case 1:
			said.Text = "matters more, " + span
		case -1:
			said.Text = "matters less, " + span
		}
		v.BySource = append(v.BySource, said)
	}
	return v
}

func abs(x float64) float64 { return max(x, -x) }
