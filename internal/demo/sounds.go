package demo

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"

	"tautline/notebook"
	"tautline/sound"
	"tautline/sound/soundtest"
	"tautline/unit"
)

// soundRate is enough for a shot and keeps the demo small, Hz.
const soundRate = 22050

// The invented bow's secret: besides getting quieter with brace height it has
// one settled spot, where it is this much quieter than the trend.
const (
	spotHeight unit.Length = 0.2312
	spotDepth  float64     = 2.6    // dB
	spotWidth  float64     = 0.0013 // m
)

// soundRecipe makes a recording's sound again: sounds are invented when they
// are wanted, and only the recipes are kept.
type soundRecipe struct {
	Recording notebook.ID `json:"recording"`
	Height    unit.Length `json:"height_m,omitempty"`
	Shots     int         `json:"shots,omitempty"`
	Seed      uint64      `json:"seed,omitempty"`
	Bale      bool        `json:"bale,omitempty"` // the evening at the blank bale
}

// write writes the sound as a WAV file.
func (r soundRecipe) write(w io.Writer) error {
	samples := baleSound
	if !r.Bale {
		samples = func() []float64 { return shotsAt(r.Height, r.Shots, r.Seed) }
	}
	if err := sound.EncodeWAV(w, samples(), soundRate); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	return nil
}

// shotsAt invents the recording of some shots at a brace height.
func shotsAt(height unit.Length, shots int, seed uint64) []float64 {
	bow := soundtest.DefaultBow()
	bow.Scatter = 0.55
	rng := rand.New(rand.NewPCG(seed, 7))
	c := soundtest.Config{Rate: soundRate, Seed: seed, Noise: soundtest.Noise{Pink: 0.002, Wind: 0.003}}
	away := float64(height-spotHeight) / spotWidth
	for i := range shots {
		s := bow.Shot(height, -spotDepth*math.Exp(-away*away/2), rng)
		s.Release = 1 + 2*unit.Duration(i)
		c.Shots = append(c.Shots, s)
	}
	return soundtest.Synthesise(c)
}
