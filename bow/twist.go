package bow

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Bundle is a string as a bundle of equal strands, evenly filling a round
// section, all of one length between the loops. Twisting it puts the outer
// strands on longer helices, so that the string shortens and, at high twist,
// the inner strands go slack and the string gets softer.
//
// It leaves out friction between strands, the flattening of the section, the
// servings (which do not twist like the rest) and creep.
type Bundle struct {
	// Strand is the unstretched length of the strands, loop to loop; usual
	// 1.45 to 1.75 m.
	Strand unit.Length
	// Radius of the round bundle, usual 0.8 to 1.4 mm.
	Radius unit.Length
	// EA of all strands together lying straight, usual 80 to 400 kN.
	EA unit.Force
	// MinTurns and MaxTurns bound what one would wind: enough that the
	// string stays round, not so many that it kinks. Zero means 8 and 45
	// (common practice, no source).
	MinTurns, MaxTurns float64
}

// Cord is a twisted bundle at one tension, as the straight-line law that the
// bow model uses: tension = EA·(length/Rest − 1) has the bundle's own length
// and stiffness there.
type Cord struct {
	Turns  float64
	Rest   unit.Length // unstretched length of the whole string
	Loaded unit.Length // length under the tension asked for
	EA     unit.Force
	// Slack is the share of strands that carry nothing.
	Slack float64
	// Lay is the outer strands' angle from the string's axis.
	Lay unit.Angle
}

func (b Bundle) withDefaults() Bundle {
	if b.MinTurns == 0 {
		b.MinTurns = 8
	}
	if b.MaxTurns == 0 {
		b.MaxTurns = 45
	}
	return b
}

// Validate reports what in the bundle cannot be used.
func (b Bundle) Validate() error {
	for _, l := range []limit{
		mm("Bundle.Strand", b.Strand, 0.3, 3, "1650 mm"),
		mm("Bundle.Radius", b.Radius, 0.1e-3, 4e-3, "1.1 mm"),
		{"Bundle.EA", float64(b.EA), 1e3, 1e10, 1, "N", "198000 N"},
	} {
		if err := l.check(); err != nil {
			return err
		}
	}
	return nil
}

// leastStrain is the least that the strands must be strained for their length
// to be more than rounding.
const leastStrain = 1e-12

// At returns the bundle twisted by so many whole turns under a tension of
// leastStrain to half its stiffness (eq. 19). Turns to either side count the
// same.
func (b Bundle) At(turns float64, tension unit.Force) (Cord, error) {
	if err := b.Validate(); err != nil {
		return Cord{}, err
	}
	l0, tr, err := helixInput(b.Strand, b.Radius, turns)
	if err != nil {
		return Cord{}, err
	}
	t := float64(tension)
	if !(t > leastStrain*float64(b.EA)) || t > 0.5*float64(b.EA) {
		return Cord{}, &InputError{"tension", fmt.Sprintf("%g N is no tension for this string", t), "500 N"}
	}
	w := bundleLaw{l0: l0, tr: tr, ea: float64(b.EA)}
	p := w.length(t)
	_, k := w.tension(p)
	rest := p - t/k
	return Cord{
		Turns: turns, Rest: unit.Length(rest), Loaded: unit.Length(p), EA: unit.Force(k * rest),
		Slack: w.slack(p), Lay: unit.Angle(math.Atan2(tr, p)),
	}, nil
}

// TurnsFor is the inverse of At: how many turns give the string a rest length.
// It refuses lengths outside MinTurns to MaxTurns, naming how much shorter or
// longer a string would be needed.
func (b Bundle) TurnsFor(rest unit.Length, tension unit.Force) (float64, error) {
	b = b.withDefaults()
	long, err := b.At(b.MinTurns, tension)
	if err != nil {
		return 0, err
	}
	short, err := b.At(b.MaxTurns, tension)
	if err != nil {
		return 0, err
	}
	switch {
	case rest > long.Rest:
		return 0, &OutOfReachError{Longer: rest - long.Rest}
	case rest < short.Rest:
		return 0, &OutOfReachError{Longer: rest - short.Rest}
	}
	lo, hi := b.MinTurns, b.MaxTurns
	for hi-lo > 1e-10 {
		mid := (lo + hi) / 2
		c, err := b.At(mid, tension)
		if err != nil {
			return 0, err
		}
		if c.Rest > rest {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2, nil
}

// PerTurn is how much the string shortens with the next turn, at constant
// tension: it grows with the turns already in it.
func (b Bundle) PerTurn(turns float64, tension unit.Force) (unit.Length, error) {
	less, err := b.At(turns-0.5, tension)
	if err != nil {
		return 0, err
	}
	more, err := b.At(turns+0.5, tension)
	return less.Rest - more.Rest, err
}

// OutOfReachError says that no allowed twist gives the length asked for.
type OutOfReachError struct {
	// Longer is how much longer the string would have to be made; negative
	// means shorter.
	Longer unit.Length
}

func (e *OutOfReachError) Error() string {
	word := "longer"
	if e.Longer < 0 {
		word = "shorter"
	}
	return fmt.Sprintf("this string cannot be twisted to that length; one made %.0f mm %s could", math.Abs(float64(e.Longer))*1e3, word)
}

// bundleLaw is the tension of a twisted bundle in bare SI: strands of length
// l0 at radii spread evenly over the section, tr = θR at the outside.
type bundleLaw struct{ l0, tr, ea float64 }

// tension returns T and dT/dp at axial length p (eq. 19). A strand at radius ρ
// has length √(p²+θ²ρ²), pulls in proportion to its stretch along its own
// direction, and never pushes.
func (w bundleLaw) tension(p float64) (t, slope float64) {
	b := math.Sqrt(p*p + w.tr*w.tr)
	switch {
	case p >= w.l0: // every strand is taut
		t = w.ea * p * (1/w.l0 - 2/(p+b))
		slope = w.ea * (1/w.l0 - 2/(p+b) + 2*p/(b*(p+b)))
	case b > w.l0: // the inner ones are slack
		d := b - w.l0
		c := w.ea / (w.l0 * w.tr * w.tr)
		t = c * p * d * d
		slope = c * (d*d + 2*p*p*d/b)
	}
	return t, slope
}

// length inverts tension for t > 0.
func (w bundleLaw) length(t float64) float64 {
	lo := math.Sqrt(w.l0*w.l0 - w.tr*w.tr)
	hi := w.l0 * (1 + 2*t/w.ea)
	p := w.l0
	for range 200 {
		f, slope := w.tension(p)
		if f < t {
			lo = p
		} else {
			hi = p
		}
		next := p - (f-t)/slope
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-p) <= 1e-16*p || hi-lo <= 1e-15 {
			return next
		}
		p = next
	}
	return p
}

func (w bundleLaw) slack(p float64) float64 {
	if p >= w.l0 {
		return 0
	}
	return (w.l0*w.l0 - p*p) / (w.tr * w.tr)
}
