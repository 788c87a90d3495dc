package demo

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strconv"
	"time"

	"tautline/notebook"
	"tautline/sound/soundtest"
	"tautline/unit"
)

// The evening at the blank bale: six arrows shot five times round, in order.
// One shot of number 4 went off with a knock, and rings on.
const (
	baleShots = 30
	baleOdd   = 21 // from 0: number 4, fourth round
)

// baleRelease is when a shot of the evening goes off, s.
func baleRelease(i int) float64 { return 1.2 + 1.6*float64(i) }

// baleSound invents the evening's recording.
func baleSound() []float64 {
	bows, rng := soundtest.DefaultBow(), rand.New(rand.NewPCG(20260307, 9))
	bows.Scatter = 0.5
	c := soundtest.Config{Rate: soundRate, Seed: 9, Noise: soundtest.Noise{Pink: 0.002, Wind: 0.003}}
	for i := range baleShots {
		s := bows.Shot(bows.Middle, 0, rng)
		s.Release = unit.Duration(baleRelease(i))
		if i == baleOdd {
			s.String, s.Decay = 3, 0.03
		}
		c.Shots = append(c.Shots, s)
	}
	return soundtest.Synthesise(c)
}

// bale records the evening on a set-up, with the arrows' numbers tied to the
// shots, so that the signature has something to find.
func (w *writer) bale(bow, setup notebook.ID) error {
	w.at = start.AddDate(0, 0, 20).Add(9 * time.Hour)
	onsets := notebook.Onsets{Corrections: []notebook.OnsetCorrection{}}
	for i := range baleShots {
		onsets.Ties = append(onsets.Ties, notebook.Tie{Release: baleRelease(i), Arrow: strconv.Itoa(1 + i%6)})
	}
	var wav bytes.Buffer
	recipe := soundRecipe{Bale: true}
	if err := recipe.write(&wav); err != nil {
		return err
	}
	hash, size, err := w.book.Blobs().Add(w.ctx, &wav, 1<<28)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	distance, err := unit.Read("5 m", unit.Reading[unit.Length]{})
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	recording := notebook.Recording{
		Stamp: w.stamp(), Hash: hash, Bytes: size, Media: "audio/wav", Name: "thirty at the bale.wav", Bow: bow, SetUp: setup,
		Phone: "an old phone", Where: "1.5 m left of the archer, on a stool", Place: "club hall, lane 2", ToBale: notebook.Length{Typed: distance},
	}
	recipe.Recording = recording.ID
	w.sounds = append(w.sounds, recipe)
	if err := put(w, w.book.Recordings(), recording); err != nil {
		return err
	}
	onsets.Stamp, onsets.Recording = w.stamp(), recording.ID
	return put(w, w.book.Onsets(), onsets)
}
