// Package demo fills a notebook with invented bows, some evenings of plotted
// ends and one finished brace-height trial, its recordings synthesised. Everything in it is made up:
// the person, the bows, the readings and the sounds.
package demo

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"

	"tautline/examples"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// start is when the invented person began to write.
var start = time.Date(2026, 3, 7, 9, 0, 0, 0, time.UTC)

// writer writes one invented notebook. Its ids and readings follow from the
// seed alone, so that two demo notebooks hold the same records.
type writer struct {
	ctx  context.Context
	book notebook.Store
	rng  *rand.Rand
	at   time.Time
	me   notebook.ID
	// sounds are the recipes of the recordings written.
	sounds []soundRecipe
}

// invent writes the demo into an empty notebook, as the program computes it
// today, and gives the recipes of its recordings. It takes half a minute, so
// that what it wrote is kept beside this file (records.json).
func invent(ctx context.Context, book notebook.Store) ([]soundRecipe, error) {
	w := &writer{ctx: ctx, book: book, rng: rand.New(rand.NewPCG(20260307, 1)), at: start}
	w.me = w.id()
	if err := put(w, book.People(), notebook.Person{Stamp: notebook.Stamp{ID: w.me, By: w.me, At: w.at}, Name: "Ida Falk", Hand: notebook.RightHanded, Units: "mixed", Version: 1}); err != nil {
		return nil, err
	}
	err := w.bows()
	return w.sounds, err
}

// bows writes the three bows; the first has a history, a trial and evenings at
// the field, the others a summer each.
func (w *writer) bows() error {
	var heron, first, second notebook.ID
	var others []notebook.SetUp
	for _, b := range []struct{ name, file string }{{"Heron 70", "heron-70.json"}, {"Sandpiper 66", "sandpiper-66.json"}, {"Wren", "wren-25.json"}} {
		raw, err := examples.Bows.ReadFile(b.file)
		if err != nil {
			return fmt.Errorf("demo: %w", err)
		}
		settings, err := notebook.ReadSettings(raw)
		if err != nil {
			return fmt.Errorf("demo: %s: %w", b.file, err)
		}
		bow := notebook.Bow{Stamp: w.stamp(), Owner: w.me, Name: b.name, Style: notebook.Recurve, Version: 1}
		if err := put(w, w.book.Bows(), bow); err != nil {
			return err
		}
		setup := notebook.SetUp{Stamp: w.stamp(), Bow: bow.ID, Reason: "as it came out of the bag", Settings: settings}
		if err := put(w, w.book.SetUps(), setup); err != nil {
			return err
		}
		if b.name != "Heron 70" {
			others = append(others, setup)
		} else {
			heron, first = bow.ID, setup.ID
			if second, err = w.history(bow, setup); err != nil {
				return err
			}
		}
	}
	if err := w.bale(heron, second); err != nil {
		return err
	}
	if err := w.evenings(heron, first, second); err != nil {
		return err
	}
	return w.seasons(others[0], others[1])
}

// history adds a change and a finished trial to the first bow, and gives the
// set-up that is on it then.
func (w *writer) history(bow notebook.Bow, first notebook.SetUp) (notebook.ID, error) {
	w.at = w.at.AddDate(0, 0, 14)
	next, err := first.Settings.With("nocking_point", "8 mm")
	if err != nil {
		return "", fmt.Errorf("demo: %w", err)
	}
	second := notebook.SetUp{Stamp: w.stamp(), Bow: bow.ID, Parent: first.ID, Reason: "bare shafts fell low at 18 m", Settings: next}
	if err := put(w, w.book.SetUps(), second); err != nil {
		return "", err
	}
	w.at = w.at.AddDate(0, 0, 7)
	plan, err := workbench.PlanBrace(w.ctx, second.Settings, workbench.BraceAsk{}, nil)
	if err != nil {
		return "", fmt.Errorf("demo: %w", err)
	}
	raw, err := json.Marshal(plan)
	if err != nil {
		return "", fmt.Errorf("demo: %w", err)
	}
	trial := notebook.Trial{Stamp: w.stamp(), Bow: bow.ID, SetUp: second.ID, What: "brace height", Plan: raw}
	if err := put(w, w.book.Trials(), trial); err != nil {
		return "", err
	}
	for i := range plan.Plan.Stops {
		if err := w.stop(trial, plan, i); err != nil {
			return "", err
		}
	}
	return second.ID, put(w, w.book.Events(), notebook.TrialEvent{Stamp: w.stamp(), Trial: trial.ID, What: notebook.Finished})
}

// stop writes what was recorded at one stop.
func (w *writer) stop(trial notebook.Trial, plan workbench.BracePlan, i int) error {
	w.at = w.at.Add(8 * time.Minute)
	p := plan.Plan.Stops[i]
	// the string answers a little less than the model thought
	height := unit.Length(plan.Now) + 0.93*(p.Brace.Value-unit.Length(plan.Now))
	if err := put(w, w.book.Events(), notebook.TrialEvent{Stamp: w.stamp(), Trial: trial.ID, What: notebook.Reached, Stop: &i}); err != nil {
		return err
	}
	for n := 1; n <= 2; n++ {
		read := height + unit.Length(0.0004*w.rng.NormFloat64())
		if err := w.reading(trial, i, notebook.ReadBrace, unit.Said(unit.Length(float64(int(float64(read)*2000+0.5))/2000), unit.MM), n); err != nil {
			return err
		}
	}
	speed := unit.Speed(plan.Predictions[i].Speed - 0.9 + 0.12*w.rng.NormFloat64())
	if err := w.reading(trial, i, notebook.ReadSpeed, unit.Said(unit.Speed(float64(int(float64(speed)*10+0.5))/10), unit.MPS), 1); err != nil {
		return err
	}
	count := func(kind notebook.Kind, v float64) error {
		return w.put(trial, i, notebook.Reading{Kind: kind, Value: v, Text: fmt.Sprint(v)})
	}
	if err := errors.Join(count(notebook.ReadTurns, p.FromNow), count(notebook.ReadArrows, float64(p.Arrows))); err != nil {
		return err
	}
	return w.recording(trial, i, height, p.Settling+p.Arrows)
}

func (w *writer) reading(trial notebook.Trial, stop int, kind notebook.Kind, value any, repeat int) error {
	r := notebook.Reading{Kind: kind, Repeat: repeat}
	switch v := value.(type) {
	case unit.Typed[unit.Length]:
		r.Value, r.Text, r.Unit, r.Edge = float64(v.Value), v.Text, string(v.Unit), notebook.EdgePivot
	case unit.Typed[unit.Speed]:
		r.Value, r.Text, r.Unit, r.Instrument = float64(v.Value), v.Text, string(v.Unit), "chronograph"
	}
	return w.put(trial, stop, r)
}

func (w *writer) put(trial notebook.Trial, stop int, r notebook.Reading) error {
	r.Stamp, r.Bow, r.SetUp, r.Trial, r.Stop = w.stamp(), trial.Bow, trial.SetUp, trial.ID, &stop
	return put(w, w.book.Readings(), r)
}

func put[T notebook.Record](w *writer, into notebook.Records[T], r T) error {
	if _, _, err := into.Put(w.ctx, w.me, r); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	return nil
}

// stamp names the next record.
func (w *writer) stamp() notebook.Stamp {
	w.at = w.at.Add(20 * time.Second)
	return notebook.Stamp{ID: w.id(), By: w.me, At: w.at}
}

// id makes a UUIDv7 of the writer's own time and randomness.
func (w *writer) id() notebook.ID {
	var u uuid.UUID
	binary.BigEndian.PutUint64(u[:8], uint64(w.at.UnixMilli())<<16|w.rng.Uint64()&0x0fff|0x7000)
	binary.BigEndian.PutUint64(u[8:], w.rng.Uint64()&(1<<62-1)|1<<63)
	return notebook.ID(u.String())
}

// recording synthesises the shots at one stop and keeps them.
func (w *writer) recording(trial notebook.Trial, stop int, height unit.Length, shots int) error {
	var wav bytes.Buffer
	recipe := soundRecipe{Height: height, Shots: shots, Seed: w.rng.Uint64()}
	if err := recipe.write(&wav); err != nil {
		return err
	}
	hash, size, err := w.book.Blobs().Add(w.ctx, &wav, 1<<28)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	bale, err := unit.Read("5 m", unit.Reading[unit.Length]{})
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	stamp := w.stamp()
	recipe.Recording = stamp.ID
	w.sounds = append(w.sounds, recipe)
	return put(w, w.book.Recordings(), notebook.Recording{
		Stamp: stamp, Hash: hash, Bytes: size, Media: "audio/wav", Name: fmt.Sprintf("stop %d.wav", stop+1),
		Bow: trial.Bow, Trial: trial.ID, Stop: &stop, Phone: "an old phone", Where: "1.5 m left of the archer, on a stool",
		ToBale: notebook.Length{Typed: bale},
	})
}
