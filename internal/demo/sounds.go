package demo

import (
	"math"
	"math/rand/v2"

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
