package server

import (
	"context"
	"net/http"
	"time"

	"tautline/notebook"
)

// putBowInput is a new bow.
type putBowInput struct {
	IDInput
	Body struct {
		Name    string         `json:"name" doc:"What its owner calls it." example:"Blue 68"`
		Style   notebook.Style `json:"style,omitempty" enum:"recurve,barebow" default:"recurve"`
		Notes   string         `json:"notes,omitempty"`
		Growing bool           `json:"growing,omitempty" doc:"Who shoots it grows: the draw length is checked every quarter."`
		Owner   notebook.ID    `json:"owner,omitempty" doc:"The archer, when someone who may work on all of theirs adds it; default you."`
		At      time.Time      `json:"at,omitzero" doc:"When it was written down, by the writer's clock; default the id's time."`
	}
}

// bowOutput is a bow's whole page.
type bowOutput = found[bowView]

// bowRow is a bow with the version's tag.
type bowRow struct {
	notebook.Bow
	Tag string `json:"tag" doc:"The ETag, for clients that keep the answer: send it in If-Match to change the bow." example:"\"2-9f51c0de9f51c0de\""`
}

func (s *server) putBow(ctx context.Context, in *putBowInput) (*kept[bowRow], error) {
	me, stamp, err := s.stamped(ctx, in.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	owner := in.Body.Owner
	if owner == "" {
		owner = me.ID
	}
	if _, err := refers(ctx, s, s.Notebook.People(), "/owner", owner); err != nil {
		return nil, err
	}
	bow := notebook.Bow{Stamp: stamp, Owner: owner, Name: in.Body.Name, Style: in.Body.Style, Notes: in.Body.Notes, Version: 1, Growing: in.Body.Growing}
	stored, status, err := keep(ctx, s.Notebook.Bows(), me.ID, bow)
	if notebook.CodeOf(err) == notebook.Outdated {
		stored, status, err = s.resentBow(ctx, bow, err)
	}
	if err != nil {
		return nil, err
	}
	return &kept[bowRow]{status, tagOf(stored), bowRow{stored, tagOf(stored)}}, nil
}

// resentBow tells the late resend of a create, after the bow was renamed, from
// another bow under the same id.
func (s *server) resentBow(ctx context.Context, bow notebook.Bow, cause error) (notebook.Bow, int, error) {
	stored, err := s.Notebook.Bows().Get(ctx, bow.By, bow.ID)
	switch {
	case err != nil:
		return bow, 0, err
	case stored.Version > 1 && stored.At.Equal(bow.At) && stored.By == bow.By:
		return stored, http.StatusOK, nil
	}
	return bow, 0, conflict(ctx, s.Notebook.Bows(), bow.By, bow, cause)
}

// putAboutInput changes what can change of a bow.
type putAboutInput struct {
	IDInput
	VersionInput
	Body struct {
		Name     string         `json:"name" example:"Blue 68, outdoor"`
		Style    notebook.Style `json:"style" enum:"recurve,barebow"`
		Notes    string         `json:"notes,omitempty"`
		Archived bool           `json:"archived,omitempty" doc:"Put away: left out of the bench."`
		Growing  bool           `json:"growing,omitempty" doc:"Who shoots it grows: the draw length is checked every quarter."`
	}
}

func (s *server) putAbout(ctx context.Context, in *putAboutInput) (*found[bowRow], error) {
	now, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	next := now
	next.Name, next.Style, next.Notes, next.Archived = in.Body.Name, in.Body.Style, in.Body.Notes, in.Body.Archived
	next.Growing = in.Body.Growing
	next.Version = now.Version + 1
	if err := demandVersion(in.IfMatch, now, next); err != nil {
		return nil, err
	}
	if err := next.Check().OrNil(); err != nil {
		return nil, err
	}
	me, err := s.actor(ctx)
	if err != nil {
		return nil, err
	}
	stored, _, err := s.Notebook.Bows().Put(ctx, me.ID, next)
	if err != nil {
		return nil, raced(err, next, func() (notebook.Bow, error) { return fetch(ctx, s, s.Notebook.Bows(), in.ID) })
	}
	return &found[bowRow]{tagOf(stored), bowRow{stored, tagOf(stored)}}, nil
}

func (s *server) getBow(ctx context.Context, in *IDInput) (*bowOutput, error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	view, err := s.benchView(ctx, bow)
	if err != nil {
		return nil, err
	}
	return &bowOutput{tagOf(bow), view}, nil
}

// benchInput narrows the bench.
type benchInput struct {
	Archived bool `query:"archived" doc:"Show bows that were put away too."`
}

// bench is every bow at a glance.
type bench struct {
	Bows []bowView `json:"bows" nullable:"false"`
	// First says what to do on an empty bench.
	First *nextStep `json:"first,omitempty" doc:"On an empty bench: what to do first."`
}

func (s *server) getBench(ctx context.Context, in *benchInput) (*found[bench], error) {
	bows, err := all(ctx, s, s.Notebook.Bows(), notebook.Query{})
	if err != nil {
		return nil, err
	}
	out := found[bench]{Body: bench{Bows: []bowView{}}}
	for _, b := range bows {
		if b.Archived && !in.Archived {
			continue
		}
		view, err := s.benchView(ctx, b)
		if err != nil {
			return nil, err
		}
		out.Body.Bows = append(out.Body.Bows, view)
	}
	if len(out.Body.Bows) == 0 {
		out.Body.First = &nextStep{Code: "add-bow", Text: "Add your first bow: a name, its draw weight and draw length are enough to begin."}
	}
	return &out, nil
}
