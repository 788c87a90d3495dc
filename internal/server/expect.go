package server

import (
	"context"
	"fmt"

	"tautline/internal/figure"
	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// expectBody asks what a measured spread scores at any distance and face, or
// the reverse.
type expectBody struct {
	Arrows   *selection      `json:"from,omitempty" doc:"The measured arrows: of one set-up at one distance."`
	Sigma    notebook.Length `json:"sigma,omitzero" doc:"Or the spread of one axis as typed; then measured_distance says where."`
	Measured notebook.Length `json:"measured_distance,omitzero" doc:"Distance at which sigma was measured."`
	Distance notebook.Length `json:"distance,omitzero" doc:"Distance asked about; default the measured one."`
	Face     string          `json:"face" doc:"A face's key as in /faces." example:"122"`
	Shaft    notebook.Length `json:"shaft,omitzero" doc:"Diameter; default 5.5 mm, or the set-up's."`
	Round    int             `json:"round_arrows,omitempty" doc:"Arrows of the round; default 72." example:"72"`
	Score    float64         `json:"score,omitempty" doc:"The reverse: points of the round; the answer is the spread it needs." example:"600"`
}

// expectInput is the request.
type expectInput struct {
	Body written[expectBody]
}

func (s *server) expectScore(ctx context.Context, in *expectInput) (*found[workbench.ExpectView], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	b, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	ask := workbench.ExpectAsk{MeasuredAt: b.Measured.Value, ShotAt: b.Distance.Value, Face: b.Face, Shaft: b.Shaft.Value, Arrows: b.Round, Score: b.Score}
	given := 0
	for _, there := range []bool{b.Arrows != nil, !b.Sigma.IsZero(), b.Score != 0} {
		if there {
			given++
		}
	}
	if given != 1 {
		return nil, refuse(FieldError{"/from", codeInvalid, "say what is known", "the measured arrows (from), a spread (sigma), or a score to turn into a spread"})
	}
	if !b.Sigma.IsZero() {
		v := float64(b.Sigma.Value)
		ask.Sigma = workbench.Ranged{Value: &v, Low: &v, High: &v}
	}
	if b.Arrows != nil {
		if err := s.measured(ctx, *b.Arrows, &ask, system); err != nil {
			return nil, err
		}
	}
	view, err := workbench.Expect(ask, system.ImpactStyle(), system.DistanceStyle())
	return &found[workbench.ExpectView]{Body: report.AllMarked(view, system)}, err
}

// measured takes spread, distance and shaft from arrows.
func (s *server) measured(ctx context.Context, sel selection, ask *workbench.ExpectAsk, system unit.System) error {
	v, err := s.oneVolley(ctx, sel, "/from", system)
	if err != nil {
		return err
	}
	g, err := workbench.DescribeVolley(v, system.ImpactStyle())
	if err != nil {
		return err
	}
	sigma := g.LongRun // the ends of a round have centres of their own, too
	if g.Ends > 0 {
		ask.Within, ask.PerEnd = g.Sigma, g.Arrows/g.Ends
	}
	if sigma.Value == nil && g.Rings != nil {
		sigma = g.Rings.Sigma
	}
	if sigma.Value == nil {
		return refuse(FieldError{"/from", codeInvalid, "these arrows do not show a spread", "choose ends of several arrows"})
	}
	ask.Sigma = sigma
	ask.MeasuredAt = v.Distance
	if ask.Shaft == 0 {
		ask.Shaft = v.Shaft
	}
	return nil
}

// bowObserved is what ordinary ends of a bow show, with pictures.
type bowObserved struct {
	Rows    []workbench.ObservedView `json:"rows" nullable:"false" doc:"One for each distance and measure that has two set-ups with two ends."`
	Text    string                   `json:"text" doc:"In a sentence what there is."`
	Figures []figure.Figure          `json:"figures" nullable:"false" doc:"Beside the rows."`
}

// observeBow compares a bow's set-ups by its ordinary ends; those of trials
// were shot to a plan and are judged there.
func (s *server) observeBow(ctx context.Context, in *IDInput) (*found[bowObserved], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	return onceTold(ctx, s, bow.ID, []any{"observed", bow.ID}, func() (*found[bowObserved], error) { return s.observed(ctx, bow, system) })
}

// observed compares a bow's set-ups by its ordinary ends.
func (s *server) observed(ctx context.Context, bow notebook.Bow, system unit.System) (*found[bowObserved], error) {
	ends, err := s.endsOf(ctx, selection{Bow: bow.ID})
	if err != nil {
		return nil, err
	}
	var ordinary []notebook.End
	for _, e := range ends {
		if e.Trial == "" {
			ordinary = append(ordinary, e)
		}
	}
	facts, err := s.factsFor(ctx, ordinary)
	if err != nil {
		return nil, err
	}
	rows, err := workbench.Observe(ordinary, facts, system.ImpactStyle())
	if err != nil {
		return nil, err
	}
	out := bowObserved{Rows: []workbench.ObservedView{}, Figures: []figure.Figure{},
		Text: "Ordinary ends of two set-ups at one distance, two ends of each at least, would show something here, whenever they were shot."}
	for _, r := range rows {
		out.Rows, out.Figures = append(out.Rows, r), append(out.Figures, observedFigure(r, system))
		out.Text = rows[0].Text
	}
	return &found[bowObserved]{Body: out}, nil
}

// observedFigure draws every set-up's mean with its interval, in order of
// first use.
func observedFigure(r workbench.ObservedView, system unit.System) figure.Figure {
	style := system.ImpactStyle()
	line := figure.Line{Name: "mean over days", Kind: figure.Points}
	f := figure.Figure{Title: fmt.Sprintf("%s by set-up at %s, ordinary ends", r.Measure, system.DistanceStyle().Print(unit.Length(r.Distance))), Finding: r.Text,
		X: figure.Axis{Label: "set-up, in order of use"}, Y: figure.Axis{Label: "points an arrow", Digits: 2}, Note: "Bars are 95 % intervals over days. Observed, not randomised: days may differ for reasons nobody noted."}
	if r.Measure == "spread" {
		f.Y = figure.Axis{Label: "spread of one axis", Unit: style.Symbol(), Digits: 1}
	}
	shown := func(v *float64) figure.Number {
		if v != nil && r.Measure == "spread" {
			return figure.Number(style.Unit.From(unit.Length(*v)))
		}
		return figure.Maybe(v)
	}
	for i, s := range r.Setups {
		line.X, line.Y = append(line.X, figure.Number(i+1)), append(line.Y, shown(s.Mean.Value))
		line.Low, line.High = append(line.Low, shown(s.Mean.Low)), append(line.High, shown(s.Mean.High))
		f.Marks = append(f.Marks, figure.Mark{At: float64(i + 1), Label: s.Label})
	}
	f.Series = []figure.Line{line}
	return f
}
