package bow

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tautline/unit"
)

// checkRoundTrip: brace height to string length holds the nock and moves the
// length; string length to brace height frees the nock. Both must find the
// same bow.
func checkRoundTrip(t *testing.T) (rows []row) {
	for _, o := range []Options{{Scheme: Plain}, {}} {
		r := rand.New(rand.NewPCG(21, 34))
		worst, failures := 0.0, 0
		const bows = 300
		for range bows {
			d, height := randomBow(r)
			m := mustModel(t, d, o)
			there, err := m.Brace(height)
			if err != nil {
				failures++
				t.Logf("brace %v: %v", float64(height), err)
				continue
			}
			back, err := m.BraceWithString(there.HalfRest)
			if err != nil {
				failures++
				t.Logf("string %v: %v", float64(there.HalfRest), err)
				continue
			}
			worst = math.Max(worst, math.Abs(float64(back.Nock-height)))
			if _, err := m.Curve(t.Context(), there, d.FullDraw, 25); err != nil {
				failures++
				t.Logf("curve: %v", err)
			}
		}
		why := fmt.Sprintf("model.md section 9; %d random bows, 190 to 250 mm", bows)
		rows = append(rows,
			below(fmt.Sprintf("brace height there and back, %v", o.Scheme), worst, 1e-6, "m", why),
			row{what: fmt.Sprintf("failures, %v", o.Scheme), ours: float64(failures), why: why})
	}
	return rows
}

// A straight limb and a strong recurve with the string far round the belly
// are the ends of the family.
func TestBraceExtremes(t *testing.T) {
	for _, recurve := range []unit.Angle{0, 0.3, 0.99, 1.4} {
		d := Generic()
		d.Limb.Recurve = recurve
		m := mustModel(t, d, Options{})
		for h := unit.Length(0.17); h < 0.30; h += 0.01 {
			there := mustBrace(t, m, h)
			back, err := m.BraceWithString(there.HalfRest)
			if err != nil || math.Abs(float64(back.Nock-h)) > 1e-6 { // model.md section 9
				t.Errorf("recurve %v, brace %.3f: back at %.9f, %v", recurve, float64(h), float64(back.Nock), err)
			}
			if there.Tension <= 0 || math.Abs(float64(there.Force)) > 1e-8 {
				t.Errorf("recurve %v, brace %.3f: tension %v, force %v", recurve, float64(h), there.Tension, there.Force)
			}
		}
	}
}

// At brace the string pulls neither way, and with the nock let go it stays.
func TestBraceIsStable(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	b := mustBrace(t, m, 0.22)
	for _, dx := range []unit.Length{-0.002, 0.002} {
		s := mustAt(t, m, b, b.Nock+dx)
		if float64(s.Force)*float64(dx) <= 0 || s.Energy <= b.Energy {
			t.Errorf("moved by %v the string does not pull back: force %v, energy %v from %v", dx, s.Force, s.Energy, b.Energy)
		}
	}
}

func TestBraceRefusals(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	if _, err := m.Brace(0.01); !errors.Is(err, ErrNoBrace) {
		t.Errorf("brace height 1 cm: %v", err)
	}
	if _, err := m.BraceWithString(1.2); !errors.Is(err, ErrNoBrace) {
		t.Errorf("a string half of 1.2 m: %v", err)
	}
	var input *InputError
	if _, err := m.BraceWithString(0); !errors.As(err, &input) {
		t.Errorf("no string: %v", err)
	}
	// a limb that leans so far back that no bending is needed
	d := Generic()
	d.Limb.Recurve, d.Riser.PocketAngle = 0, 0.5
	if _, err := mustModel(t, d, Options{}).Brace(0.2); !errors.Is(err, ErrNoBrace) {
		t.Errorf("limb behind the string: %v", err)
	}
	if _, err := m.Curve(t.Context(), mustBrace(t, m, 0.22), 0.2, 25); !errors.As(err, &input) {
		t.Errorf("draw in front of brace: %v", err)
	}
}
