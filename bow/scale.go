package bow

import (
	"context"
	"fmt"
	"math"

	"tautline/unit"
)

// Residual compares one reading with the fitted bow, in the reading's own
// unit: newtons for forces, metres for lengths.
type Residual struct {
	Name         string
	Given, Model float64
	Doubt        float64 // one standard deviation of the reading
	Unit         string  // "N" or "m"
}

// InDoubts is the residual in units of the reading's standard deviation.
func (r Residual) InDoubts() float64 { return (r.Model - r.Given) / r.Doubt }

// Fit is a bow of the generic family scaled to what is known.
type Fit struct {
	Design    Design
	Curve     Curve // from the brace height known or assumed, to full draw
	Residuals []Residual
	// Notes say in words what was assumed and how far to trust the fit.
	Notes []string

	known  Known
	family family
	at     params
}

// Scale finds the bow of the generic family that meets the readings best: the
// most probable parameters under the family's spread (eq. 21). Draw weight
// alone fixes the limbs' stiffness and leaves everything else generic; each
// further reading moves what it can tell about.
func Scale(ctx context.Context, k Known) (Fit, error) {
	k = k.withDefaults()
	if err := k.Validate(); err != nil {
		return Fit{}, err
	}
	k.sortPoints()
	f, err := newFamily(k)
	if err != nil {
		return Fit{}, err
	}
	p := newProblem(k, &f)
	x, err := p.solve(ctx, params{})
	if err != nil {
		return Fit{}, err
	}
	out := Fit{Design: f.design(x), known: k, family: f, at: x, Residuals: p.residuals(x)}
	out.Notes = notes(k, out.Residuals)
	m, err := New(out.Design, Options{})
	if err != nil {
		return Fit{}, fmt.Errorf("the fitted bow: %w", err)
	}
	if out.Curve, err = m.Draw(k.Brace); err != nil {
		return Fit{}, fmt.Errorf("the fitted bow: %w", err)
	}
	return out, nil
}

// Brace is the brace height the fit used, known or assumed.
func (f Fit) Brace() unit.Length { return f.known.Brace }

func notes(k Known, rs []Residual) []string {
	out := []string{
		"One of many bows that meet these readings: limb shape, riser geometry, masses and string stiffness are generic, not measured.",
	}
	if k.BowLength == 0 {
		out = append(out, "Bow length not given: 68 in assumed.")
	}
	if k.String.Strands == 0 {
		out = append(out, "String not described: the generic bow's string assumed.")
	}
	if n := len(k.Points); n > 0 && n < 3 {
		out = append(out, "Fewer than three draw–force points say little about the curve's shape.")
	}
	for _, r := range rs {
		if d := r.InDoubts(); math.Abs(d) > 3 {
			out = append(out, fmt.Sprintf("%s is met only to %.1f times its doubt: check the reading, or the bow is unlike the generic family.", r.Name, math.Abs(d)))
		}
	}
	return out
}
