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

// describeInput asks what arrows tell.
type describeInput struct {
	Body written[selection]
}

// groupShown is a group with its lengths as this person reads them.
type groupShown struct {
	workbench.GroupView
	Shown []Doubted `json:"shown" nullable:"false" doc:"Spread and centre in this person's units, each with its doubt."`
}

// describeView is one group a set-up, distance and kind of arrow.
type describeView struct {
	Groups []groupShown `json:"groups" nullable:"false" doc:"One for each set-up, distance and kind of arrow, in the order in which each was first shot."`
}

func (s *server) describeGroups(ctx context.Context, in *describeInput) (*found[describeView], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	sel, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	bow := sel.Bow
	if sel.SetUp != "" {
		setup, there, err := ifThere(ctx, s, s.Notebook.SetUps(), string(sel.SetUp))
		switch {
		case err != nil:
			return nil, err
		case there:
			bow = setup.Bow
		}
	}
	return onceTold(ctx, s, bow, []any{"describe", sel}, func() (*found[describeView], error) { return s.describeAll(ctx, sel, system) })
}

// describeAll describes every group of a selection.
func (s *server) describeAll(ctx context.Context, sel selection, system unit.System) (*found[describeView], error) {
	list, err := s.volleys(ctx, sel, "")
	if err != nil {
		return nil, err
	}
	out := describeView{Groups: []groupShown{}}
	for _, v := range list {
		g, err := showGroup(v, system)
		if err != nil {
			return nil, err
		}
		out.Groups = append(out.Groups, g)
	}
	return &found[describeView]{Body: report.AllMarked(out, system)}, nil
}

func showGroup(v workbench.Volley, system unit.System) (groupShown, error) {
	style := system.ImpactStyle()
	g, err := workbench.DescribeVolley(v, style)
	if err != nil {
		return groupShown{}, err
	}
	out := groupShown{GroupView: g, Shown: []Doubted{}}
	for _, q := range report.GroupRanges(g) {
		if q.Of.Value != nil {
			out.Shown = append(out.Shown, shownRange(q.Name, q.Label, q.Of, style))
		}
	}
	return out, nil
}

// shownRange shows a length with the ends of its interval.
func shownRange(name, label string, r workbench.Ranged, style unit.Style[unit.Length]) Doubted {
	d := Doubted{Name: name, Label: label, Unit: "m", SI: r.Value, Low: r.Low, High: r.High, Text: style.Print(unit.Length(*r.Value)), Doubt: noDoubt}
	if r.Low != nil && r.High != nil {
		d.Doubt = style.Range(unit.Length(*r.Low), unit.Length(*r.High))
	}
	return d
}

// compareBody asks which of two set-ups shoots tighter.
type compareBody struct {
	A       selection `json:"a"`
	B       selection `json:"b"`
	Looking bool      `json:"looking_as_you_go,omitempty" doc:"Ends were shot in pairs, order by coin, and looked at as they came: the k-th end of A stands beside the k-th of B. False: the number of arrows was fixed beforehand."`
	Measure string    `json:"measure,omitempty" doc:"Looking as you go: spatial median (default) or sum of squares."`
}

// compareInput is the request.
type compareInput struct {
	Body written[compareBody]
}

// compareShown is the answer.
type compareShown struct {
	A          groupShown            `json:"a"`
	B          groupShown            `json:"b"`
	Comparison workbench.CompareView `json:"comparison"`
	Figures    []figure.Figure       `json:"figures" nullable:"false"`
}

func (s *server) compareGroups(ctx context.Context, in *compareInput) (*found[compareShown], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	a, err := s.oneVolley(ctx, body.A, "/a", system)
	if err != nil {
		return nil, err
	}
	b, err := s.oneVolley(ctx, body.B, "/b", system)
	if err != nil {
		return nil, err
	}
	ask := workbench.CompareAsk{Looking: body.Looking}
	setText(&ask.Measure, body.Measure)
	c, err := workbench.CompareVolleys(a, b, ask)
	if err != nil {
		return nil, err
	}
	out := compareShown{Comparison: c, Figures: report.CompareFigures(c, system)}
	if out.A, err = showGroup(a, system); err != nil {
		return nil, err
	}
	out.B, err = showGroup(b, system)
	return &found[compareShown]{Body: report.AllMarked(out, system)}, err
}

// oneVolley demands that a selection means the arrows of one set-up at one
// distance; fletched ones unless it says otherwise.
func (s *server) oneVolley(ctx context.Context, sel selection, field string, system unit.System) (workbench.Volley, error) {
	if sel.Kind == "" {
		sel.Kind = "fletched"
	}
	list, err := s.volleys(ctx, sel, field)
	if err != nil {
		return workbench.Volley{}, err
	}
	switch len(list) {
	case 0:
		return workbench.Volley{}, &notebook.Error{Code: notebook.Invalid, Field: field, Message: "no arrows are selected", Hint: "choose ends that hold arrows of this kind"}
	case 1:
		return list[0], nil
	}
	hint := "choose one set-up and one distance; there are "
	for i, v := range list {
		if i > 0 {
			hint += ", "
		}
		hint += fmt.Sprintf("%s at %s", v.Label, system.DistanceStyle().Print(v.Distance))
		if i == 4 {
			hint += " and more"
			break
		}
	}
	return workbench.Volley{}, &notebook.Error{Code: notebook.Invalid, Field: field, Message: fmt.Sprintf("%d different set-ups or distances are selected", len(list)), Hint: hint}
}
