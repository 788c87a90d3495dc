package server

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tautline/notebook"
	"tautline/workbench"
)

// selection says which arrows are meant: ends of the notebook, or arrows sent
// along.
type selection struct {
	Bow      notebook.ID     `json:"bow,omitempty" doc:"All ends of this bow."`
	SetUp    notebook.ID     `json:"setup,omitempty" doc:"Only of this set-up."`
	Session  notebook.ID     `json:"session,omitempty" doc:"Only of this session."`
	Trial    notebook.ID     `json:"trial,omitempty" doc:"Only of this trial."`
	Stops    []int           `json:"stops,omitempty" doc:"Only at these positions of the trial's plan."`
	Ends     []notebook.ID   `json:"ends,omitempty" doc:"These ends."`
	Distance notebook.Length `json:"distance,omitzero" doc:"Only at this distance; with impacts, the distance they were shot at."`
	Kind     string          `json:"kind,omitempty" doc:"fletched or bare; default both when describing, fletched when comparing." example:"fletched"`
	Impacts  []sentImpact    `json:"impacts,omitempty" doc:"Arrows sent along instead of ends from the notebook."`
	Face     string          `json:"face,omitempty" doc:"With impacts: a face's key as in /faces." example:"122"`
}

// sentImpact is an arrow that is in no notebook.
type sentImpact struct {
	End int `json:"end,omitempty" doc:"Arrows of one end share a centre; default 1." example:"1"`
	notebook.Impact
}

// mostSent is how many arrows may be sent along.
const mostSent = 20_000

// volleys gives the selected arrows, set-up by set-up; field is where the
// selection stands in the body.
func (s *server) volleys(ctx context.Context, sel selection, field string) ([]workbench.Volley, error) {
	ends, err := s.selected(ctx, sel, field)
	if err != nil {
		return nil, err
	}
	facts, err := s.factsFor(ctx, ends)
	if err != nil {
		return nil, err
	}
	list, err := workbench.Volleys(ends, facts)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(list, func(v workbench.Volley) bool { return sel.Kind != "" && string(v.Kind) != sel.Kind }), nil
}

// selected gives the ends meant.
func (s *server) selected(ctx context.Context, sel selection, field string) ([]notebook.End, error) {
	stored := sel.Bow != "" || sel.SetUp != "" || sel.Session != "" || sel.Trial != "" || len(sel.Ends) > 0
	switch {
	case sel.Kind != "" && sel.Kind != "fletched" && sel.Kind != "bare":
		return nil, refuse(FieldError{field + "/kind", codeInvalid, "is no kind of arrow", "fletched or bare"})
	case stored == (len(sel.Impacts) > 0):
		return nil, refuse(FieldError{field, codeInvalid, "say which arrows are meant", "a bow, set-up, session, trial or ends from the notebook, or impacts"})
	case len(sel.Impacts) > 0:
		return sentEnds(sel, field)
	case len(sel.Ends) > 0:
		return s.namedEnds(ctx, sel.Ends, field)
	}
	return s.endsOf(ctx, sel)
}

// namedEnds reads ends by their ids.
func (s *server) namedEnds(ctx context.Context, ids []notebook.ID, field string) ([]notebook.End, error) {
	if len(ids) > mostSent {
		return nil, refuse(FieldError{field + "/ends", codeInvalid, "names too many ends", fmt.Sprintf("at most %d; select by set-up or bow instead", mostSent)})
	}
	ends := make([]notebook.End, 0, len(ids))
	for i, id := range ids {
		e, err := refers(ctx, s, s.Notebook.Ends(), fmt.Sprintf("%s/ends/%d", field, i), id)
		if err != nil {
			return nil, err
		}
		ends = append(ends, e)
	}
	return ends, nil
}

// endsOf reads ends by what they belong to; corrected ones are left out.
func (s *server) endsOf(ctx context.Context, sel selection) ([]notebook.End, error) {
	ends, err := s.candidates(ctx, sel)
	if err != nil || len(ends) == 0 {
		return nil, err
	}
	wrong, err := s.correctedEnds(ctx, ends[0].Bow)
	if err != nil {
		return nil, err
	}
	var out []notebook.End
	for _, e := range ends {
		if _, replaced := wrong[e.ID]; !replaced && sel.holds(e) {
			out = append(out, e)
		}
	}
	return out, nil
}

// candidates are the ends among which those of a selection are: few of a
// session or a trial, from memory where a bow's whole history is meant. The
// list is not to be changed.
func (s *server) candidates(ctx context.Context, sel selection) ([]notebook.End, error) {
	if sel.Session != "" || sel.Trial != "" {
		return all(ctx, s, s.Notebook.Ends(), notebook.Query{Bow: sel.Bow, SetUp: sel.SetUp, Session: sel.Session, Trial: sel.Trial})
	}
	if sel.Bow != "" {
		return s.endsOfBow(ctx, sel.Bow)
	}
	setup, err := fetch(ctx, s, s.Notebook.SetUps(), string(sel.SetUp))
	if notebook.CodeOf(err) == notebook.NotFound {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return s.endsOfBow(ctx, setup.Bow)
}

// holds tells whether an end is among those selected.
func (sel selection) holds(e notebook.End) bool {
	meant := func(want, have notebook.ID) bool { return want == "" || want == have }
	switch {
	case !meant(sel.Bow, e.Bow), !meant(sel.SetUp, e.SetUp), !meant(sel.Session, e.Session), !meant(sel.Trial, e.Trial):
		return false
	case !sel.Distance.IsZero() && e.Distance.Value != sel.Distance.Value:
		return false
	}
	return len(sel.Stops) == 0 || e.Stop != nil && slices.Contains(sel.Stops, *e.Stop)
}

// sentEnds makes ends of the arrows sent along, and checks them as a record
// would be.
func sentEnds(sel selection, field string) ([]notebook.End, error) {
	if len(sel.Impacts) > mostSent {
		return nil, refuse(FieldError{field + "/impacts", codeInvalid, "holds too many arrows", fmt.Sprintf("at most %d", mostSent)})
	}
	at := map[int]int{}
	var ends []notebook.End
	var fields [][]int // of each end's impacts in the body
	for i, p := range sel.Impacts {
		number := max(p.End, 1)
		k, known := at[number]
		if !known {
			k = len(ends)
			at[number] = k
			ends, fields = append(ends, notebook.End{Number: number, Face: sel.Face, Distance: sel.Distance}), append(fields, nil)
		}
		ends[k].Impacts, fields[k] = append(ends[k].Impacts, p.Impact), append(fields[k], i)
	}
	for k := range ends {
		if err := checkSent(ends[k], fields[k], field); err != nil {
			return nil, err
		}
	}
	return ends, nil
}

// checkSent checks arrows sent along as those of a record, and names them by
// their place in the body.
func checkSent(e notebook.End, places []int, field string) error {
	var out notebook.Problems
	for _, p := range append(e.Check(), problemsOf(workbench.CheckFace(e))...) {
		if rest, ok := strings.CutPrefix(p.Field, "/impacts/"); ok {
			number, tail, _ := strings.Cut(rest, "/")
			if i, err := strconv.Atoi(number); err == nil && i < len(places) {
				p.Field = strings.TrimSuffix(fmt.Sprintf("%s/impacts/%d/%s", field, places[i], tail), "/")
			}
			out = append(out, p)
		} else if p.Field == "/impacts" || p.Field == "/face" || p.Field == "/distance" {
			p.Field = field + p.Field
			out = append(out, p)
		}
	}
	return out.OrNil()
}

// problemsOf lists what an error holds.
func problemsOf(err error) notebook.Problems {
	var many notebook.Problems
	var one *notebook.Error
	switch {
	case errors.As(err, &many):
		return many
	case errors.As(err, &one):
		return notebook.Problems{*one}
	}
	return nil
}
