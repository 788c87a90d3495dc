package server

import (
	"context"

	"tautline/internal/report"
	"tautline/notebook"
)

// handOf is the hand of the archer whose bow it is: what is said of a bow is
// said for who shoots it, not for who reads.
func (s *server) handOf(ctx context.Context, bow notebook.ID) (notebook.Hand, error) {
	me, err := s.me(ctx)
	if err != nil {
		return "", err
	}
	return s.maker().HandOf(ctx, me.ID, bow)
}

// handFor is the hand that a question is about: of the archer whose bow the
// set-up is of, or of who asks where settings were sent along.
func (s *server) handFor(ctx context.Context, setup notebook.ID) (notebook.Hand, error) {
	if setup == "" {
		me, err := s.me(ctx)
		return me.Hand, err
	}
	record, err := fetch(ctx, s, s.Notebook.SetUps(), string(setup))
	if err != nil {
		return "", err
	}
	return s.handOf(ctx, record.Bow)
}

// maker looks at the notebook as sheets do.
func (s *server) maker() report.Maker {
	return report.Maker{Notebook: s.Notebook, Invented: s.Invented}
}
