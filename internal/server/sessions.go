package server

import (
	"context"
	"time"

	"tautline/notebook"
)

// putSessionInput is a visit to the range.
type putSessionInput struct {
	IDInput
	Body struct {
		Bow   notebook.ID `json:"bow,omitempty" doc:"The bow, when only one is shot."`
		Place string      `json:"place,omitempty" example:"club hall, lane 3"`
		Air   string      `json:"air,omitempty" doc:"In words." example:"18 °C, light wind from the left"`
		Note  string      `json:"note,omitempty"`
		At    time.Time   `json:"at,omitzero" doc:"When it began, by the writer's clock; default the id's time."`
	}
}

func (s *server) putSession(ctx context.Context, in *putSessionInput) (*kept[notebook.Session], error) {
	me, stamp, err := s.stamped(ctx, in.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	if in.Body.Bow != "" {
		if _, err := refers(ctx, s, s.Notebook.Bows(), "/bow", in.Body.Bow); err != nil {
			return nil, err
		}
	}
	record := notebook.Session{Stamp: stamp, Bow: in.Body.Bow, Place: in.Body.Place, Air: in.Body.Air, Note: in.Body.Note}
	stored, status, err := keep(ctx, s.Notebook.Sessions(), me.ID, record)
	if err != nil {
		return nil, err
	}
	return &kept[notebook.Session]{Status: status, Body: stored}, nil
}

// sessionView is a session with what was measured.
type sessionView struct {
	Session  notebook.Session `json:"session"`
	Readings []readingView    `json:"readings" nullable:"false"`
}

func (s *server) getSession(ctx context.Context, in *IDInput) (*found[sessionView], error) {
	session, err := fetch(ctx, s, s.Notebook.Sessions(), in.ID)
	if err != nil {
		return nil, err
	}
	readings, err := s.readingsOf(ctx, notebook.Query{Session: session.ID})
	if err != nil {
		return nil, err
	}
	return &found[sessionView]{Body: sessionView{session, readings}}, nil
}

func (s *server) listSessions(ctx context.Context, in *listInput) (*found[rows[notebook.Session]], error) {
	return list(ctx, s, s.Notebook.Sessions(), *in, func(r notebook.Session) notebook.Session { return r })
}
