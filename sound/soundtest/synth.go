package soundtest

import (
	"math"
	"math/rand/v2"

	"tautline/unit"
)

// Synthesise returns the recording: shots, room and noise, full scale 1, not
// clipped.
func Synthesise(c Config) []float64 {
	clean, noise := Parts(c)
	for i, n := range noise {
		clean[i] += n
	}
	return clean
}

// Parts returns the shots with their room, and the noise, apart: a test that
// knows both knows the truth at any mixture.
func Parts(c Config) (clean, noise []float64) {
	c = c.withDefaults()
	n := int(math.Round(float64(c.Duration) * float64(c.Rate)))
	clean = make([]float64, n)
	rng := rand.New(rand.NewPCG(c.Seed, 1))
	for _, s := range c.Shots {
		addShot(clean, c.Rate, s, rng)
	}
	for _, o := range c.Others {
		addOther(clean, float64(c.Rate), o, rng)
	}
	if c.Room.T60 > 0 {
		reverberate(clean, float64(c.Rate), float64(c.Room.T60), gain(c.Room.Level))
	}
	return clean, outdoor(n, float64(c.Rate), c.Noise, rand.New(rand.NewPCG(c.Seed, 2)))
}

func addShot(out []float64, rate int, s Shot, rng *rand.Rand) {
	fs, t0 := float64(rate), float64(s.Release)
	g := 0.5 * gain(s.Level)
	// the burst: string and limbs come to rest
	burst(out, fs, t0, band{300, 7000}, float64(s.Attack), float64(s.Decay), g, rng)
	// the string rings on, a little detuned in its partials
	ring(out, fs, t0, stringPartials(g*gain(s.String)))
	ring(out, fs, t0, scaled(s.Modes, gain(s.Level)))
	// before: fingers, clicker, creaks
	burst(out, fs, t0-0.014, band{800, 4000}, 0.004, 0.006, g*gain(s.Slip), rng)
	if s.Clicker > 0 {
		burst(out, fs, t0-float64(s.Clicker), band{2500, 7500}, 0.0003, 0.0025, g*gain(-14), rng)
	}
	for _, before := range s.Creaks {
		burst(out, fs, t0-float64(before), band{1200, 6000}, 0.0005, 0.004, g*gain(-12-6*rng.Float64()), rng)
	}
	// after: the arrow lands
	if s.Impact > 0 {
		hit := t0 + float64(s.Impact)
		burst(out, fs, hit, band{500, 5000}, 0.0006, 0.003, g*gain(s.Thud), rng)
		ring(out, fs, hit, []Mode{
			{Frequency: 95, Damping: 0.2, Amplitude: g * gain(s.Thud)},
			{Frequency: 160, Damping: 0.15, Amplitude: 0.6 * g * gain(s.Thud)},
		})
	}
}

// stringPartials are the first modes of a braced string that has just stopped.
func stringPartials(level float64) []Mode {
	var m []Mode
	for k := 1; k <= 6; k++ {
		f := 118 * float64(k) * (1 + 0.0006*float64(k*k))
		m = append(m, Mode{Frequency: f, Damping: 0.018 / math.Sqrt(float64(k)), Amplitude: level / float64(k), Phase: unit.Angle(k)})
	}
	return m
}

func scaled(modes []Mode, by float64) []Mode {
	out := append([]Mode(nil), modes...)
	for i := range out {
		out[i].Amplitude *= by
	}
	return out
}

// ring adds damped vibrations from t0 on, as long as they matter.
func ring(out []float64, fs, t0 float64, modes []Mode) {
	for _, m := range modes {
		w := 2 * math.Pi * m.Frequency
		decay, wd := m.Damping*w, w*math.Sqrt(1-m.Damping*m.Damping)
		from := int(math.Ceil(t0 * fs))
		for i := max(from, 0); i < len(out); i++ {
			t := float64(i)/fs - t0
			if decay*t > 14 {
				break
			}
			out[i] += m.Amplitude * math.Exp(-decay*t) * math.Sin(wd*t+float64(m.Phase))
		}
	}
}

type band struct{ low, high float64 }

// burst adds band-limited noise that rises over attack and dies with the time
// constant decay; its peak is about amplitude.
func burst(out []float64, fs, t0 float64, b band, attack, decay, amplitude float64, rng *rand.Rand) {
	var hp, lp onePole
	hp.set(b.low, fs)
	lp.set(min(b.high, 0.45*fs), fs)
	from := int(math.Ceil(t0 * fs))
	// the filters settle on noise that is thrown away
	for i := from - int(0.005*fs); ; i++ {
		t := float64(i)/fs - t0
		if t > attack+12*decay || i >= len(out) {
			return
		}
		x := rng.NormFloat64()
		x = lp.low(x - hp.low(x))
		if t < 0 || i < 0 {
			continue
		}
		env := math.Exp(-max(t-attack, 0) / decay)
		if t < attack {
			env = 0.5 - 0.5*math.Cos(math.Pi*t/attack)
		}
		out[i] += 0.6 * amplitude * env * x
	}
}

type onePole struct{ a, y float64 }

func (p *onePole) set(f, fs float64) { p.a = 1 - math.Exp(-2*math.Pi*f/fs) }

func (p *onePole) low(x float64) float64 {
	p.y += p.a * (x - p.y)
	return p.y
}

// reverberate adds M. R. Schroeder's reverberator (four combs in parallel,
// two all-passes; J. Audio Eng. Soc. 10, 1962): a dense exponential tail.
func reverberate(x []float64, fs, t60, level float64) {
	wet := make([]float64, len(x))
	for _, delay := range []float64{0.0297, 0.0371, 0.0411, 0.0437} {
		g, n := math.Pow(10, -3*delay/t60), int(delay*fs)
		line := make([]float64, n)
		for i := range x {
			y := line[i%n]
			line[i%n] = x[i] + g*y
			wet[i] += y * math.Sqrt(1-g*g) / 2
		}
	}
	for _, delay := range []float64{0.005, 0.0017} {
		const g = 0.7
		n := int(delay * fs)
		line := make([]float64, n)
		for i, v := range wet {
			d := line[i%n]
			line[i%n] = v + g*d
			wet[i] = d - g*line[i%n]
		}
	}
	for i := range x {
		x[i] += level * wet[i]
	}
}

// outdoor returns pink noise and gusts of wind.
func outdoor(n int, fs float64, c Noise, rng *rand.Rand) []float64 {
	out := make([]float64, n)
	if c.Pink > 0 {
		addTo(out, c.Pink, pink(n, fs, rng))
	}
	if c.Wind > 0 {
		addTo(out, c.Wind, wind(n, fs, rng))
	}
	return out
}

func addTo(out []float64, rms float64, x []float64) {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	g := rms / math.Sqrt(sum/float64(len(x)))
	for i, v := range x {
		out[i] += g * v
	}
}

// pink sums one noise low-passed two octaves apart with weights 1/√f: the
// sum falls by 3 dB an octave within 1 dB from 30 Hz to 0.4 fs.
func pink(n int, fs float64, rng *rand.Rand) []float64 {
	var poles []onePole
	var weights []float64
	for f := 15.0; f < 0.5*fs; f *= 4 {
		var p onePole
		p.set(f, fs)
		poles, weights = append(poles, p), append(weights, 1/math.Sqrt(f))
	}
	out := make([]float64, n)
	for i := range out {
		x := rng.NormFloat64()
		for k := range poles {
			out[i] += weights[k] * poles[k].low(x) * math.Sqrt(fs)
		}
	}
	return out
}

// wind is noise below some 60 Hz under a slow random envelope.
func wind(n int, fs float64, rng *rand.Rand) []float64 {
	var a, b, slow onePole
	a.set(60, fs)
	b.set(60, fs)
	slow.set(0.3, fs)
	out := make([]float64, n)
	for i := range out {
		gust := math.Abs(slow.low(rng.NormFloat64()))
		out[i] = gust * b.low(a.low(rng.NormFloat64()))
	}
	return out
}

func gain(db float64) float64 { return math.Pow(10, db/20) }
