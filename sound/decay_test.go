package sound_test

import (
	"math"
	"testing"

	"tautline/sound"
	"tautline/unit"
)

// S5 (computed): a decay of T = 0.5 s under steady noise, record 1.0 s,
// deterministic, 8 kHz: EDT / T10 / T20 / T30. Tolerance 0.0005 s for the
// early times and 0.5 % for the far ones, which hang on single samples at the
// ends of the fit (where the column prints "–", nothing is asked).
func TestSchroederUnderNoise(t *testing.T) {
	const rate, n, decay = 8000, 8000, 0.5
	fits := [][2]float64{{0, -10}, {-5, -15}, {-5, -25}, {-5, -35}}
	none := math.NaN()
	tests := []struct {
		snr                float64
		plain, cut, tailed [4]float64
	}{
		{30, [4]float64{0.5508, 0.7360, 4.0106, 3.5298}, [4]float64{0.5063, 0.5134, 0.5126, 0.4747}, [4]float64{0.5082, 0.5195, 0.5372, none}},
		{40, [4]float64{0.5046, 0.5142, 0.5935, 2.4643}, [4]float64{0.5010, 0.5027, 0.5074, 0.5100}, [4]float64{0.5012, 0.5032, 0.5102, 0.5241}},
		{50, [4]float64{0.5005, 0.5014, 0.5060, 0.5437}, [4]float64{0.5001, 0.5004, 0.5013, 0.5044}, [4]float64{0.5002, 0.5005, 0.5016, 0.5059}},
		{60, [4]float64{0.5000, 0.5001, 0.5006, 0.5029}, [4]float64{0.5000, 0.5001, 0.5002, 0.5008}, [4]float64{0.5000, 0.5001, 0.5002, 0.5009}},
	}
	for _, tt := range tests {
		noise := math.Pow(10, -tt.snr/10)
		p := make([]float64, n)
		for i := range p {
			p[i] = math.Exp(-6*math.Ln10*float64(i)/rate/decay) + noise
		}
		cross := int(math.Round(tt.snr / 60 * decay * rate))
		tail := sound.Tail(noise, decay, rate)
		for _, c := range []struct {
			name  string
			curve []float64
			want  [4]float64
		}{
			{"no compensation", sound.EnergyDecay(p, 0, n, 0), tt.plain},
			{"cut at the crossing", sound.EnergyDecay(p, 0, cross, 0), tt.cut},
			{"cut, with tail", sound.EnergyDecay(p, 0, cross, tail), tt.tailed},
			{"noise subtracted", sound.EnergyDecay(p, noise, n, 0), [4]float64{0.5, 0.5, 0.5, 0.5}},
		} {
			for k, f := range fits {
				if math.IsNaN(c.want[k]) {
					continue
				}
				got, ok := sound.DecayTime(c.curve, rate, f[0], f[1])
				tol := max(0.0005, 0.005*c.want[k])
				if !ok || math.Abs(float64(got)-c.want[k]) > tol {
					t.Errorf("%g dB, %s, %g…%g dB: %.4f s (%v), want %.4f", tt.snr, c.name, f[0], f[1], float64(got), ok, c.want[k])
				}
			}
		}
		if at, _ := sound.Crossing(p, rate, noise); math.Abs(float64(at-cross)) > 0.01*rate {
			// S5 (read in an implementation: Lundeby et al. 1995): the crossing settles to 0.01 s
			t.Errorf("%g dB: decay meets noise at %.4f s, want %.4f", tt.snr, float64(at)/rate, float64(cross)/rate)
		}
	}
}

// S5 (computed): energy e^(−13.8t/0.3) + 10^(−2)·e^(−13.8t/1.5) over 4 s. EDT
// 0.3353, T10 0.4083, T20 0.9174, T30 1.2492: not one decay time. Same
// tolerance as above.
func TestSchroederDoubleSlope(t *testing.T) {
	const rate = 8000
	p := make([]float64, 4*rate)
	for i := range p {
		s := float64(i) / rate
		p[i] = math.Exp(-6*math.Ln10*s/0.3) + 0.01*math.Exp(-6*math.Ln10*s/1.5)
	}
	curve := sound.EnergyDecay(p, 0, len(p), 0)
	for _, c := range []struct{ top, bottom, want float64 }{{0, -10, 0.3353}, {-5, -15, 0.4083}, {-5, -25, 0.9174}, {-5, -35, 1.2492}} {
		got, ok := sound.DecayTime(curve, rate, c.top, c.bottom)
		if !ok || math.Abs(float64(got)-c.want) > max(0.0005, 0.005*c.want) {
			t.Errorf("%g…%g dB: %.4f s, want %.4f", c.top, c.bottom, float64(got), c.want)
		}
	}
}

// S5 (computed: T60 = 3 ln 10/(ζω0)) for single damped modes: the squared
// cosine ripples, so 1 % on T20.
func TestDecayOfSingleModes(t *testing.T) {
	for _, c := range []struct{ f, zeta, t60 float64 }{{60, 0.02, 0.9162}, {100, 0.01, 1.0994}, {250, 0.005, 0.8795}} {
		const rate = 8000
		w := 2 * math.Pi * c.f
		p := make([]float64, 4*rate)
		for i := range p {
			s := float64(i) / rate
			v := math.Exp(-c.zeta*w*s) * math.Sin(w*math.Sqrt(1-c.zeta*c.zeta)*s)
			p[i] = v * v
		}
		got, ok := sound.DecayTime(sound.EnergyDecay(p, 0, len(p), 0), rate, -5, -25)
		if !ok || math.Abs(float64(got)-c.t60) > 0.01*c.t60 {
			t.Errorf("%g Hz, ζ %g: %.4f s, want %.4f", c.f, c.zeta, float64(got), c.t60)
		}
	}
}

// S9 (computed, no noise compensation): broadband decay of two recordings.
// The table's ends are given to a millisecond, and a decay time fitted over
// 10 dB moves by some per mille with each of them: 1 %. They are no straight
// lines, and a shot's decay must say so.
func TestDecayOfRecordings(t *testing.T) {
	for _, c := range []struct {
		file     string
		from, to unit.Duration
		want     [4]float64
	}{
		{"flare-shoot.wav", 0.045, 0.40, [4]float64{0.7202, 0.4329, 0.3610, 0.3192}},
		{"wesnoth-bow.wav", 0.515, 0.70, [4]float64{0.4109, 0.4986, 0.4412, 0.3365}},
	} {
		clip := clipOf(t, c.file, c.from, c.to)
		p := make([]float64, len(clip.Samples))
		for i, v := range clip.Samples {
			p[i] = v * v
		}
		curve := sound.EnergyDecay(p, 0, len(p), 0)
		for k, f := range [][2]float64{{0, -10}, {-5, -15}, {-5, -25}, {-5, -35}} {
			got, ok := sound.DecayTime(curve, float64(clip.Rate), f[0], f[1])
			if !ok || math.Abs(float64(got)/c.want[k]-1) > 0.01 {
				t.Errorf("%s %g…%g dB: %.4f s, want %.4f", c.file, f[0], f[1], float64(got), c.want[k])
			}
		}
	}
	if s := hear(t, "flare-shoot.wav").Shots[0]; !s.DecayEarly.OK || !s.Curved {
		t.Errorf("flare-shoot: early decay %v, curved %v; it is no straight line", s.DecayEarly, s.Curved)
	}
}

// S9 (computed): below 600 Hz only the 63 Hz line of flare-shoot is stable,
// ζ 0.024–0.030; for the rest the right answer is "no reliable mode". The
// line's frequency falls as it decays: 3 %. Our two windows disagree about
// its damping (0.028 ± 0.016), so it is withheld; if one is given, its
// interval must hold the reference's range.
func TestModesOfRecordings(t *testing.T) {
	for _, file := range []string{"wesnoth-bow.wav", "wesnoth-crossbow.wav"} {
		if s := hear(t, file).Shots[0]; len(s.Modes) != 0 || s.NoModes == "" {
			t.Errorf("%s: modes %v (%q), want none and the reason", file, s.Modes, s.NoModes)
		}
	}
	s := hear(t, "flare-shoot.wav").Shots[0]
	if len(s.Modes) != 1 {
		t.Fatalf("flare-shoot: modes %v, want one", s.Modes)
	}
	m := s.Modes[0]
	low, high := m.Damping.Interval()
	if math.Abs(m.Frequency.Value/63.3-1) > 0.03 || m.Damping.OK && (low > 0.030 || high < 0.024) {
		t.Errorf("flare-shoot: %v, ζ %v; want 63.3 Hz and ζ in 0.024–0.030", m.Frequency, m.Damping)
	}
}
