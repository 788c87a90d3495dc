package shot

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"tautline/bow"
)

// checkModes: a string between limbs too heavy to move, held at rest length,
// has f_n = (2n−1)/(2·2L) √(T/μ) in the shapes that are alike above and below
// the nock. And a bow let go near brace in a mode's shape swings at the mode's
// frequency.
func checkModes(t *testing.T) (rows []row) {
	d := bow.Generic()
	d.Limb.Recurve, d.String.NockMass, d.Riser.Clamped = 0, 0, true
	cfg := Config{ArrowMass: 0.022}
	m, err := NewModel(d, cfg)
	if err != nil {
		t.Fatal(err)
	}
	heavy := *m.Chain()
	heavy.P, heavy.Q, heavy.R = times(heavy.P, 1e7), times(heavy.Q, 1e7), times(heavy.R, 1e7)
	m = bow.FromChain(&heavy, d)
	brace, err := m.Brace(0.22)
	if err != nil {
		t.Fatal(err)
	}
	modes, err := Modes(m, brace, cfg, 18)
	if err != nil {
		t.Fatal(err)
	}
	length := 2 * float64(brace.HalfLength)
	base := math.Sqrt(float64(brace.Tension)/(float64(d.String.Mass)/length)) / (2 * length)
	n := 0
	for _, mode := range modes {
		// the heavy limbs' own modes lie below 1 Hz
		if n < 3 && mode.Frequency > 0.5*base {
			want := float64(2*n+1) * base
			rows = append(rows, at(fmt.Sprintf("string between heavy limbs, mode %d", n+1), want, mode.Frequency, 2e-3*want, "Hz", "ten segments of fourth order, and one longer one: (kh)⁴/480 at most"))
			n++
		}
	}
	return append(rows, swing(t))
}

func times(x []float64, f float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = f * v
	}
	return out
}

// swing follows the clamped, undamped bow from a small multiple of its lowest
// mode and counts time between passages through zero.
func swing(t *testing.T) row {
	d := undamped()
	d.Limb.Recurve = 0
	cfg := Config{ArrowMass: 0.022}
	m, err := NewModel(d, cfg)
	if err != nil {
		t.Fatal(err)
	}
	brace, err := m.Brace(0.22)
	if err != nil {
		t.Fatal(err)
	}
	modes, err := Modes(m, brace, cfg, 1)
	if err != nil {
		t.Fatal(err)
	}
	r := atBrace(m, brace, cfg.withDefaults())
	rest := append(motion(nil), r.q...)
	const size = 1e-5
	shape := modes[0]
	for i, th := range shape.Theta {
		r.q[i] += size * th
	}
	r.q[r.n] += size * shape.Nock
	for k := range r.k {
		r.q[r.n+2+k] += size * shape.StringX[k]
	}
	r.evaluate()
	const h = 10e-6
	var first, last float64
	crossings := 0
	for i := 1; crossings < 5; i++ {
		before := r.q[r.n] - rest[r.n]
		r.advance(h)
		now := r.q[r.n] - rest[r.n]
		if before*now < 0 {
			last = h * (float64(i-1) + before/(before-now))
			if crossings == 0 {
				first = last
			}
			crossings++
		}
	}
	ours := 2 / (last - first)
	return at("lowest mode of the clamped bow, counted in its own motion", shape.Frequency, ours, 2e-3*shape.Frequency, "Hz", "second-order terms and other modes at 10 µm: 2e-3")
}

func TestModesRefuse(t *testing.T) {
	m, err := NewModel(bow.Generic(), Config{ArrowMass: 0.022})
	if err != nil {
		t.Fatal(err)
	}
	brace, err := m.Brace(0.22)
	if err != nil {
		t.Fatal(err)
	}
	var input *InputError
	if _, err := Modes(m, brace, Config{Model: PlainNodes}, 3); !errors.As(err, &input) || input.Field != "Model" {
		t.Errorf("plain model: %v", err)
	}
	modes, err := Modes(m, brace, Config{}, 1000)
	if err != nil || len(modes) < 20 {
		t.Errorf("%d modes, %v", len(modes), err)
	}
	for i := 1; i < len(modes); i++ {
		if modes[i].Frequency < modes[i-1].Frequency {
			t.Errorf("mode %d at %.1f Hz follows %.1f Hz", i, modes[i].Frequency, modes[i-1].Frequency)
		}
	}
}
