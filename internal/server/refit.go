package server

import (
	"context"
	"slices"
	"sync"
	"time"

	"tautline/notebook"
	"tautline/workbench"
)

// refits fit bows anew when a reading arrives, so that the fit is there when
// somebody looks. Each bow has at most one; a newer reading cancels it and
// begins another. It is the same work that GET /bows/{id}/fit asks for, which
// shows how far it is, and it takes its turns between other long calculations.
type refits struct {
	mu    sync.Mutex
	byBow map[notebook.ID]*refit
	over  bool
	wait  sync.WaitGroup
	one   sync.Mutex // held by the one that computes
}

type refit struct{ cancel context.CancelFunc }

// refitAfter lets the readings that are noted together arrive.
const refitAfter = time.Second

// begin cancels the bow's refit, if there is one, and runs another in its
// place, unless the server is closing.
func (r *refits) begin(ctx context.Context, bow notebook.ID, run func(context.Context)) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), longestWork)
	next := &refit{cancel}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.over {
		cancel()
		return
	}
	if old := r.byBow[bow]; old != nil {
		old.cancel()
	}
	if r.byBow == nil {
		r.byBow = map[notebook.ID]*refit{}
	}
	r.byBow[bow] = next
	r.wait.Go(func() {
		defer r.end(bow, next)
		run(ctx)
	})
}

// stop cancels the bow's refit and reports whether there was one.
func (r *refits) stop(bow notebook.ID) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	old := r.byBow[bow]
	if old != nil {
		old.cancel()
	}
	return old != nil
}

// end forgets a refit that is over, unless another took its place.
func (r *refits) end(bow notebook.ID, is *refit) {
	is.cancel()
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.byBow[bow] == is {
		delete(r.byBow, bow)
	}
}

// close cancels all refits, begins no more, and waits for their end.
func (r *refits) close() {
	r.mu.Lock()
	r.over = true
	for _, is := range r.byBow {
		is.cancel()
	}
	r.mu.Unlock()
	r.wait.Wait()
}

// refitFor fits the reading's bow anew if the reading tells a fit something.
// It returns at once; who asked stays who asks.
func (s *server) refitFor(ctx context.Context, r notebook.Reading) {
	if workbench.Fittable(r.Kind) {
		s.refitBow(ctx, r.Bow)
	}
}

// refitBow fits a bow anew after a pause, and keeps the fit.
func (s *server) refitBow(ctx context.Context, bow notebook.ID) {
	if s.RefitAfter < 0 {
		return
	}
	s.refits.begin(ctx, bow, func(ctx context.Context) {
		select {
		case <-ctx.Done():
			return
		case <-time.After(s.RefitAfter):
		}
		s.refits.one.Lock()
		defer s.refits.one.Unlock()
		if err := s.refit(ctx, bow); err != nil && ctx.Err() == nil {
			s.Log.InfoContext(ctx, "a bow was not fitted anew", "why", err)
		}
	})
}

// refit fits the bow and keeps the fit with the readings it saw. It does
// nothing where that fit is kept already, nor where nobody kept one before and
// the readings are fewer than the intervals were tested with.
func (s *server) refit(ctx context.Context, bow notebook.ID) error {
	about, err := s.fittingOf(ctx, bow)
	if err != nil {
		return err
	}
	kept, err := all(ctx, s, s.Notebook.Fits(), notebook.Query{Bow: bow})
	if err != nil || keptOf(kept, about.inputs) || len(kept) == 0 && !workbench.EnoughToFit(about.ask.Readings) {
		return err
	}
	f, err := s.fitInTurns(ctx, bow, about, kept)
	if err != nil {
		return err
	}
	me, err := s.me(ctx)
	if err != nil {
		return err
	}
	// Somebody may have kept it while it was computed.
	if kept, err = all(ctx, s, s.Notebook.Fits(), notebook.Query{Bow: bow}); err != nil || keptOf(kept, about.inputs) {
		return err
	}
	record, err := s.fitRecord(notebook.Stamp{ID: notebook.NewID(), By: me.ID, At: s.Now().UTC()}, f, about)
	if err != nil {
		return err
	}
	stored, _, err := keep(ctx, s.Notebook.Fits(), me.ID, record)
	if err == nil {
		s.sealFit(ctx, me, stored, f, about.setup)
	}
	return err
}

// keptOf reports whether a fit of just these inputs is kept.
func keptOf(kept []notebook.Fit, inputs string) bool {
	return slices.ContainsFunc(kept, func(k notebook.Fit) bool { return k.Inputs == inputs })
}

// fitInTurns sees a fit through. Cancelled, it takes the work with it unless
// somebody watches it.
func (s *server) fitInTurns(ctx context.Context, bow notebook.ID, about fitting, kept []notebook.Fit) (*workbench.FittedBow, error) {
	key, do := s.fitWork(bow, about, kept)
	w := s.works.begin(key, func(ctx context.Context, tell func(float64)) (any, error) { return do(ctx, tell) })
	for {
		select {
		case <-w.done:
			if w.err != nil {
				s.works.end(key, w)
				return nil, w.err
			}
			return w.value.(*workbench.FittedBow), nil
		case <-ctx.Done():
			if w.askers() == 1 {
				s.works.end(key, w)
			}
			return nil, ctx.Err()
		case <-time.After(abandoned / 4):
			w.touch()
		}
	}
}
