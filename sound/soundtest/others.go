package soundtest

import (
	"math"
	"math/rand/v2"
)

func addOther(out []float64, fs float64, o Other, rng *rand.Rand) {
	at, g := float64(o.At), 0.5*gain(o.Level)
	switch o.Kind {
	case Voice:
		voice(out, fs, at, g, 110+110*rng.Float64())
	case Step:
		ring(out, fs, at, []Mode{{Frequency: 70 + 40*rng.Float64(), Damping: 0.25, Amplitude: g}})
		burst(out, fs, at+0.004, band{1500, 6000}, 0.004, 0.012, 0.4*g, rng)
	case Clap:
		burst(out, fs, at, band{700, 6000}, 0.0008, 0.003, g, rng)
	case Rattle:
		for k := range 5 {
			burst(out, fs, at+0.06*float64(k)+0.02*rng.Float64(), band{2000, 8000}, 0.0003, 0.003, g*(0.5+0.5*rng.Float64()), rng)
		}
	case Bird:
		chirp(out, fs, at, g)
	}
}

// voice is a harmonic tone through a broad formant around 700 Hz.
func voice(out []float64, fs, at, g, pitch float64) {
	const length, soft = 0.2, 0.025
	for i := max(0, int(at*fs)); i < min(len(out), int((at+length)*fs)); i++ {
		t := float64(i)/fs - at
		env := math.Min(1, math.Min(t, length-t)/soft)
		for h := 1.0; h*pitch < 3500; h++ {
			f := h * pitch
			out[i] += 0.25 * g * env / (1 + math.Pow((f-700)/500, 2)) * math.Sin(2*math.Pi*f*t+h*h)
		}
	}
}

func chirp(out []float64, fs, at, g float64) {
	const length = 0.08
	for i := max(0, int(at*fs)); i < min(len(out), int((at+length)*fs)); i++ {
		t := float64(i)/fs - at
		env := math.Sin(math.Pi * t / length)
		out[i] += 0.5 * g * env * env * math.Sin(2*math.Pi*(3000*t+0.5*3000/length*t*t))
	}
}
