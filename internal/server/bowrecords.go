package server

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"sync"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// bowRecords gathers everything the notebook holds of one bow, and a
// fingerprint of it.
func (s *server) bowRecords(ctx context.Context, bow notebook.ID) (b workbench.BowRecords, key string, err error) {
	q := notebook.Query{Bow: bow}
	gather := func(get func() error) {
		if err == nil {
			err = get()
		}
	}
	gather(func() (e error) { b.SetUps, e = all(ctx, s, s.Notebook.SetUps(), q); return })
	gather(func() (e error) { b.Readings, e = all(ctx, s, s.Notebook.Readings(), q); return })
	gather(func() (e error) { b.Ends, e = s.endsOfBow(ctx, bow); return })
	gather(func() (e error) { b.Trials, e = all(ctx, s, s.Notebook.Trials(), q); return })
	gather(func() (e error) { b.Forecasts, e = all(ctx, s, s.Notebook.Forecasts(), q); return })
	gather(func() (e error) { b.Fits, e = all(ctx, s, s.Notebook.Fits(), q); return })
	gather(func() (e error) { b.Rulings, e = all(ctx, s, s.Notebook.Rulings(), notebook.Query{}); return })
	b.Events = map[notebook.ID][]notebook.TrialEvent{}
	for _, t := range b.Trials {
		gather(func() (e error) {
			b.Events[t.ID], e = all(ctx, s, s.Notebook.Events(), notebook.Query{Trial: t.ID})
			return
		})
		gather(func() error {
			kept, e := all(ctx, s, s.Notebook.Verdicts(), notebook.Query{Trial: t.ID})
			b.Verdicts = append(b.Verdicts, kept...)
			return e
		})
	}
	if err != nil {
		return b, "", err
	}
	key, err = fingerprintOf(b)
	return b, key, err
}

// fingerprintOf is of a bow's records and what else counts.
func fingerprintOf(b workbench.BowRecords, more ...any) (string, error) {
	rest := b
	rest.Ends = nil
	shot := make([]notebook.ID, len(b.Ends)) // what an id holds never changes
	for i, e := range b.Ends {
		shot[i] = e.ID
	}
	return fingerprint(rest, shot, more)
}

// fingerprint is the SHA-256 of whatever the parts hold.
func fingerprint(parts ...any) (string, error) {
	sum := sha256.New()
	if err := json.NewEncoder(sum).Encode(parts); err != nil {
		return "", fmt.Errorf("server: %w", err)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// slopeShelf keeps what each entry of a set-up moves: set-ups never change, so
// neither do their slopes.
type slopeShelf struct {
	mu    sync.Mutex
	byKey map[string]*workbench.Slopes
	order []string
}

// mostSlopes is how many set-ups' slopes are kept.
const mostSlopes = 48

// get finds slopes that see every distance, or prepares new ones.
func (k *slopeShelf) get(setup notebook.SetUp, hand notebook.Hand, by fittedBy, distances []unit.Length, turn func(context.Context) (func(), error)) *workbench.Slopes {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.byKey == nil {
		k.byKey = map[string]*workbench.Slopes{}
	}
	key := string(setup.ID) + string(hand) + string(by.record.ID)
	if old, ok := k.byKey[key]; ok && !slices.ContainsFunc(distances, func(d unit.Length) bool { return !old.Sees(d) }) {
		return old
	}
	slopes := workbench.NewSlopes(setup.Settings, workbench.HandOf(hand), distances...)
	slopes.Turn, slopes.Fit = turn, by.bow
	k.byKey[key] = slopes
	if k.order = append(k.order, key); len(k.order) > mostSlopes {
		delete(k.byKey, k.order[0])
		k.order = k.order[1:]
	}
	return k.byKey[key]
}

// fittedBy is the kept fit that stands behind what is said of a bow; without
// one the spread of every bow like it does.
type fittedBy struct {
	record notebook.Fit
	bow    *workbench.FittedBow
}

// fittedBy finds the latest kept fit of a bow that this program can still
// read.
func (s *server) fittedBy(ctx context.Context, b workbench.BowRecords, hand notebook.Hand) fittedBy {
	record, bow := b.LatestFit(hand, func(f notebook.Fit, ask workbench.FitAsk) (*workbench.FittedBow, error) {
		key := "kept " + string(f.ID) + string(hand)
		if known, ok := s.fits.recall(key); ok {
			return known, nil
		}
		bow, err := workbench.RestoreFit(ctx, ask, f.Content)
		if err == nil {
			s.fits.keep(key, bow)
		}
		return bow, err
	})
	return fittedBy{record, bow}
}

// kept is the fit for forecasts, nil for none.
func (f fittedBy) kept() *workbench.KeptFit {
	if f.bow == nil {
		return nil
	}
	return &workbench.KeptFit{ID: f.record.ID, Bow: f.bow}
}

// says tells which bows stand behind a number.
func (f fittedBy) says() string {
	if f.bow == nil {
		return "No fit of this bow is kept: computed with every bow that agrees with its settings."
	}
	return fmt.Sprintf("Computed with this bow as fitted on %s (readings: %d).", f.record.At.Format("2 January 2006"), len(f.record.Readings))
}
