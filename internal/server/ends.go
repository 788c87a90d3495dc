package server

import (
	"context"
	"slices"
	"time"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// endView is an end as this person reads it.
type endView struct {
	End       notebook.End `json:"end" doc:"The record; distance as it was typed, places in metres."`
	Distance  string       `json:"distance" doc:"In this person's units; empty: not noted." example:"70 m"`
	Metres    *float64     `json:"distance_m" doc:"In metres; null: not noted." example:"70"`
	Rings     []string     `json:"rings" nullable:"false" doc:"Beside the impacts: as called, or by the face's line rule; empty on blank paper." example:"[\"10\",\"8\",\"X\"]"`
	Points    *int         `json:"points" doc:"Sum of the rings; null on blank paper." example:"28"`
	Corrected notebook.ID  `json:"corrected_by,omitempty" doc:"The later end that replaces this one."`
}

func viewEnd(e notebook.End, facts workbench.SetUpFacts, system unit.System) endView {
	v := endView{End: e}
	if !e.Distance.IsZero() {
		v.Distance, v.Metres = system.DistanceStyle().Print(e.Distance.Value), finite(float64(e.Distance.Value))
	}
	rings, points, scored := workbench.Score(e, facts.Shaft)
	if v.Rings = rings; scored {
		v.Points = &points
	}
	return v
}

// putEndBody is an end as a client writes it.
type putEndBody struct {
	Bow      notebook.ID       `json:"bow"`
	SetUp    notebook.ID       `json:"setup" doc:"The set-up it was shot with."`
	Session  notebook.ID       `json:"session,omitempty"`
	Trial    notebook.ID       `json:"trial,omitempty"`
	Stop     *int              `json:"stop,omitempty" doc:"Position in the trial's plan, from 0."`
	Number   int               `json:"number,omitempty" doc:"1 for the first end of the session or the stop." example:"1"`
	Distance notebook.Length   `json:"distance,omitzero"`
	Face     string            `json:"face,omitempty" doc:"A face's key as in /faces; empty: blank paper." example:"122"`
	Impacts  []notebook.Impact `json:"impacts" doc:"1 to 144 arrows; each has x_m and y_m from the face's centre (x right, y up, as seen from the shooting line), or a ring, or both."`
	Corrects notebook.ID       `json:"corrects,omitempty" doc:"The end this one replaces."`
	Note     string            `json:"note,omitempty"`
	At       time.Time         `json:"at,omitzero" doc:"When it was shot, by the writer's clock; default the id's time."`
}

// putEndInput is a new end.
type putEndInput struct {
	IDInput
	Body written[putEndBody]
}

func (s *server) putEnd(ctx context.Context, in *putEndInput) (*kept[endView], error) {
	me, err := s.actor(ctx)
	if err != nil {
		return nil, err
	}
	b, err := in.Body.read(systemOf(me))
	if err != nil {
		return nil, err
	}
	stamp, err := made(in.ID, me.ID, b.At)
	if err != nil {
		return nil, err
	}
	record := notebook.End{
		Stamp: stamp, Bow: b.Bow, SetUp: b.SetUp, Session: b.Session, Trial: b.Trial, Stop: b.Stop, Number: b.Number, Distance: b.Distance,
		Face: b.Face, Impacts: b.Impacts, Corrects: b.Corrects, Note: b.Note,
	}
	facts, err := s.checkEnd(ctx, record)
	if err != nil {
		return nil, err
	}
	stored, status, err := keep(ctx, s.Notebook.Ends(), me.ID, record)
	if err != nil {
		return nil, err
	}
	return &kept[endView]{Status: status, Body: viewEnd(stored, facts, systemOf(me))}, nil
}

// checkEnd demands that what an end refers to exists and fits, and that its
// rings are printed on its face.
func (s *server) checkEnd(ctx context.Context, e notebook.End) (workbench.SetUpFacts, error) {
	var none workbench.SetUpFacts
	if err := e.Check().OrNil(); err != nil {
		return none, err
	}
	if err := workbench.CheckFace(e); err != nil {
		return none, err
	}
	if _, err := refers(ctx, s, s.Notebook.Bows(), "/bow", e.Bow); err != nil {
		return none, err
	}
	setup, err := refers(ctx, s, s.Notebook.SetUps(), "/setup", e.SetUp)
	if err != nil {
		return none, err
	}
	if setup.Bow != e.Bow {
		return none, &notebook.Error{Code: notebook.Invalid, Field: "/setup", Message: "the set-up belongs to another bow", Hint: "use the bow's current set-up"}
	}
	if e.Session != "" {
		if _, err := refers(ctx, s, s.Notebook.Sessions(), "/session", e.Session); err != nil {
			return none, err
		}
	}
	if e.Trial != "" {
		if _, err := refers(ctx, s, s.Notebook.Trials(), "/trial", e.Trial); err != nil {
			return none, err
		}
	}
	if e.Corrects != "" {
		if _, err := refers(ctx, s, s.Notebook.Ends(), "/corrects", e.Corrects); err != nil {
			return none, err
		}
	}
	return workbench.FactsOf(setup), nil
}

func (s *server) getEnd(ctx context.Context, in *IDInput) (*found[endView], error) {
	e, err := fetch(ctx, s, s.Notebook.Ends(), in.ID)
	if err != nil {
		return nil, err
	}
	views, err := s.viewEnds(ctx, []notebook.End{e})
	if err != nil {
		return nil, err
	}
	return &found[endView]{Body: views[0]}, nil
}

func (s *server) listEnds(ctx context.Context, in *listInput) (*found[rows[endView]], error) {
	page, err := list(ctx, s, s.Notebook.Ends(), *in, func(e notebook.End) notebook.End { return e })
	if err != nil {
		return nil, err
	}
	views, err := s.viewEnds(ctx, page.Body.Rows)
	return &found[rows[endView]]{Body: rows[endView]{Rows: views, Next: page.Body.Next}}, err
}

// viewEnds shows ends, corrected ones marked by those of the same list.
func (s *server) viewEnds(ctx context.Context, ends []notebook.End) ([]endView, error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	facts, err := s.factsFor(ctx, ends)
	if err != nil {
		return nil, err
	}
	links := slices.Clone(ends)
	if err := notebook.ThroughTaken(ctx, s.Notebook.Ends(), me.ID, links, links); err != nil {
		return nil, err
	}
	by := notebook.Replaced(links)
	out := make([]endView, 0, len(ends))
	for _, e := range ends {
		out = append(out, viewEnd(e, facts[e.SetUp], system))
	}
	for i := range out {
		out[i].Corrected = by[out[i].End.ID]
	}
	return out, nil
}

// factsFor reads what the arrows need to know of the ends' set-ups.
func (s *server) factsFor(ctx context.Context, ends []notebook.End) (map[notebook.ID]workbench.SetUpFacts, error) {
	facts := map[notebook.ID]workbench.SetUpFacts{}
	for _, e := range ends {
		if _, known := facts[e.SetUp]; known || e.SetUp == "" {
			continue
		}
		setup, err := fetch(ctx, s, s.Notebook.SetUps(), string(e.SetUp))
		if err != nil && notebook.CodeOf(err) != notebook.NotFound {
			return nil, err
		}
		facts[e.SetUp] = workbench.FactsOf(setup)
	}
	return facts, nil
}

// facesView lists the faces.
func (s *server) listFaces(context.Context, *struct{}) (*found[rows[workbench.FaceView]], error) {
	return &found[rows[workbench.FaceView]]{Body: rows[workbench.FaceView]{Rows: slices.Clone(workbench.FaceViews())}}, nil
}
