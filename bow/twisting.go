package bow

import (
	"errors"
	"fmt"
	"math"

	"tautline/unit"
)

// Twisted is a braced bow with a string of known twist.
type Twisted struct {
	Turns float64
	Cord  Cord
	Brace State
}

// withEA is the model with another string stiffness, sharing the chain.
func (m *Model) withEA(ea unit.Force) *Model {
	d := m.design
	d.String.EA = ea
	return newModel(d, m.chain)
}

// BraceTwisted braces the bow with the bundle wound by so many turns: string
// length and stiffness follow from the tension, the tension from the bow
// (eqs 14, 19).
func (m *Model) BraceTwisted(b Bundle, turns float64) (Twisted, error) {
	return m.settle(b, func(t unit.Force) (Twisted, error) {
		cord, err := b.At(turns, t)
		if err != nil {
			return Twisted{}, err
		}
		st, err := m.withEA(cord.EA).BraceWithString(cord.Rest / 2)
		return Twisted{Turns: turns, Cord: cord, Brace: st}, err
	})
}

// TwistFor finds the turns that brace the bow at a height. Beyond what
// MinTurns and MaxTurns allow the error is an OutOfReachError that says how
// much longer or shorter a string would have to be.
func (m *Model) TwistFor(b Bundle, height unit.Length) (Twisted, error) {
	b = b.withDefaults()
	turns := (b.MinTurns + b.MaxTurns) / 2
	var out *OutOfReachError
	w, err := m.settle(b, func(t unit.Force) (Twisted, error) {
		cord, err := b.At(turns, t)
		if err != nil {
			return Twisted{}, err
		}
		st, err := m.withEA(cord.EA).Brace(height)
		if err != nil {
			return Twisted{}, err
		}
		// out of reach, go on with the nearest twist, so that the length
		// missing is that at the tension the bow will have
		out = nil
		turns, err = b.TurnsFor(2*st.HalfRest, st.Tension)
		if errors.As(err, &out) {
			turns = b.nearest(out)
		} else if err != nil {
			return Twisted{}, err
		}
		cord, err = b.At(turns, st.Tension)
		return Twisted{Turns: turns, Cord: cord, Brace: st}, err
	})
	if err == nil && out != nil {
		err = out
	}
	return w, err
}

// nearest is the allowed twist closest to a length out of reach.
func (b Bundle) nearest(out *OutOfReachError) float64 {
	if out.Longer > 0 {
		return b.MinTurns
	}
	return b.MaxTurns
}

// settle repeats a step that takes a tension and yields a braced state until
// the tension no longer changes. The string's law is nearly straight around
// the brace tension, so a few rounds do.
func (m *Model) settle(b Bundle, step func(unit.Force) (Twisted, error)) (Twisted, error) {
	if err := b.Validate(); err != nil {
		return Twisted{}, err
	}
	t := unit.Force(300) // a guess that only costs a round
	var last Twisted
	for range 60 {
		now, err := step(t)
		if err != nil {
			return Twisted{}, err
		}
		done := math.Abs(float64(now.Brace.Tension-t)) <= 1e-9*float64(t) && math.Abs(now.Turns-last.Turns) <= 1e-9
		t, last = now.Brace.Tension, now
		if done {
			return now, nil
		}
	}
	return Twisted{}, fmt.Errorf("string length and tension do not settle near %.0f N", float64(t))
}

// Reach is the span of brace heights one string allows.
type Reach struct {
	Low, High Twisted // fewest turns, most turns
}

// Reach finds what the bundle's MinTurns and MaxTurns allow.
func (m *Model) Reach(b Bundle) (Reach, error) {
	b = b.withDefaults()
	low, err := m.BraceTwisted(b, b.MinTurns)
	if err != nil {
		return Reach{}, err
	}
	high, err := m.BraceTwisted(b, b.MaxTurns)
	return Reach{Low: low, High: high}, err
}

// Beyond says how much longer (positive) or shorter (negative) a string would
// have to be made to brace the bow at a height outside the reach; zero inside.
func (m *Model) Beyond(b Bundle, height unit.Length) (unit.Length, error) {
	_, err := m.TwistFor(b, height)
	var out *OutOfReachError
	if errors.As(err, &out) {
		return out.Longer, nil
	}
	return 0, err
}

// TwistReading is a brace height read after some turns were added to an
// unknown number.
type TwistReading struct {
	Added float64     // turns since the first reading, negative for removed
	Brace unit.Length // reading, to the pivot
}

// TwistRate is what readings say about the string's response.
type TwistRate struct {
	PerTurn unit.Length // change of brace height per added turn, mean over the readings
	Doubt   unit.Length // one standard deviation of PerTurn
	// Total is the number of turns at the first reading that would explain
	// the rate in this model, with its standard deviation.
	Total, TotalDoubt float64
}

// LearnTwist fits a straight line of brace height on turns to two or more
// readings, each good to sd, and estimates the total number of turns from the
// slope: the more turns a string has, the more the next one does. People count
// turns added or removed, rarely totals; the estimate is only as good as the
// bundle's radius.
func (m *Model) LearnTwist(b Bundle, readings []TwistReading, sd unit.Length) (TwistRate, error) {
	slope, doubt, err := twistSlope(readings, float64(sd))
	if err != nil {
		return TwistRate{}, err
	}
	r := TwistRate{PerTurn: unit.Length(slope), Doubt: unit.Length(doubt)}
	perTurn, err := m.bracePerSquareTurn(b, readings[0].Brace)
	if err != nil {
		return TwistRate{}, err
	}
	// dB/dN = 2·c·N at the middle of the readings
	mid := (readings[0].Added + readings[len(readings)-1].Added) / 2
	r.Total = slope/(2*perTurn) - mid
	r.TotalDoubt = math.Hypot(doubt/(2*perTurn), 2*radiusDoubt*(r.Total+mid))
	return r, nil
}

// bracePerSquareTurn is c in brace = const + c·turns², from the small-twist
// law and the model's dBrace/dString.
func (m *Model) bracePerSquareTurn(b Bundle, brace unit.Length) (float64, error) {
	if err := b.Validate(); err != nil {
		return 0, err
	}
	const h = 0.001
	lo, err := m.Brace(brace - h)
	if err != nil {
		return 0, err
	}
	hi, err := m.Brace(brace + h)
	if err != nil {
		return 0, err
	}
	perString := 2 * h / float64(2*(hi.HalfRest-lo.HalfRest))
	// the mean square radius of an evenly filled round bundle is R²/2
	return -perString * float64(ShorteningSmall(b.Strand, b.Radius/math.Sqrt2, 1)), nil
}

// twistSlope is the least-squares slope of brace height on turns and its
// standard deviation.
func twistSlope(readings []TwistReading, sd float64) (slope, doubt float64, err error) {
	if len(readings) < 2 {
		return 0, 0, &InputError{"readings", "one reading gives no rate", "a second brace height after three more turns"}
	}
	if !(sd > 0) {
		return 0, 0, &InputError{"sd", "a reading has some doubt", "1 mm"}
	}
	var n, mb float64
	for _, r := range readings {
		n, mb = n+r.Added, mb+float64(r.Brace)
	}
	n, mb = n/float64(len(readings)), mb/float64(len(readings))
	var sxx, sxy float64
	for _, r := range readings {
		d := r.Added - n
		sxx, sxy = sxx+d*d, sxy+d*(float64(r.Brace)-mb)
	}
	if !(sxx > 0) {
		return 0, 0, &InputError{"readings", "the turns are the same in every reading", "a reading after three more turns"}
	}
	return sxy / sxx, sd / math.Sqrt(sxx), nil
}
