package soundtest

import (
	"math"
	"testing"

	"tautline/unit"
)

// The same seed must give the same recording, another seed another: demo
// folders and tests are compared byte for byte.
func TestSynthesiseIsDeterministic(t *testing.T) {
	c := Config{Shots: []Shot{{Release: 0.3, Impact: 0.1, Clicker: 0.15}}, Noise: Noise{Pink: 0.01}, Seed: 4}
	a, b := Synthesise(c), Synthesise(c)
	c.Seed = 5
	other := Synthesise(c)
	same := true
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("sample %d differs between two runs of one seed", i)
		}
		same = same && a[i] == other[i]
	}
	if same {
		t.Error("two seeds gave one recording")
	}
}

// The mode must follow its own formula, or every test of mode measurement is
// blind: amplitude after ten cycles is e^(−2πζ·10).
func TestRingFollowsItsFormula(t *testing.T) {
	out := make([]float64, 48000)
	m := Mode{Frequency: 100, Damping: 0.01, Amplitude: 1, Phase: math.Pi / 2}
	ring(out, 48000, 0, []Mode{m})
	fd := 100 * math.Sqrt(1-1e-4)
	i := int(math.Round(10 / fd * 48000))
	want := math.Exp(-2*math.Pi*0.01*100*float64(i)/48000) * math.Cos(2*math.Pi*fd*float64(i)/48000)
	if math.Abs(out[i]-want) > 1e-9 {
		t.Errorf("after ten cycles %g, want %g", out[i], want)
	}
}

// The room's tail must fall by 60 dB in T60, within the ripple of four combs.
func TestRoomDecay(t *testing.T) {
	x := make([]float64, 48000)
	x[0] = 1
	reverberate(x, 48000, 0.4, 1)
	energy := func(from, to float64) (e float64) {
		for _, v := range x[int(from*48000):int(to*48000)] {
			e += v * v
		}
		return e
	}
	drop := 10 * math.Log10(energy(0.1, 0.2)/energy(0.3, 0.4))
	if math.Abs(drop-30) > 3 {
		t.Errorf("the tail fell by %.1f dB in half of T60, want 30 ± 3", drop)
	}
}

// Pink noise has equal power in every octave: 1 dB is the shaping's ripple
// and the sampling error of one second.
func TestPinkIsPink(t *testing.T) {
	_, noise := Parts(Config{Duration: 4, Noise: Noise{Pink: 1}, Seed: 1})
	power := func(f float64) float64 { // power within a third around f, by a resonator bank of sines
		sum, count := 0.0, 0
		for k := 0.9; k < 1.1; k += 0.004 {
			var re, im float64
			for i, v := range noise {
				ph := 2 * math.Pi * f * k * float64(i) / 48000
				re += v * math.Cos(ph)
				im += v * math.Sin(ph)
			}
			sum += re*re + im*im
			count++
		}
		return f * sum / float64(count)
	}
	ref := power(1000)
	for _, f := range []float64{125, 4000} {
		if d := 10 * math.Log10(power(f)/ref); math.Abs(d) > 2 {
			t.Errorf("octave at %g Hz is %.1f dB off the one at 1 kHz", f, d)
		}
	}
}

func TestBowQuietensWithBraceHeight(t *testing.T) {
	b := DefaultBow()
	energy := func(brace unit.Length) (e float64) {
		for _, v := range b.Session(brace, 6, 1.5, 16000, 9) {
			e += v * v
		}
		return e
	}
	if low, high := energy(200*unit.Millimetre), energy(240*unit.Millimetre); low <= high {
		t.Errorf("louder at the high stop (%g) than at the low one (%g)", high, low)
	}
}
