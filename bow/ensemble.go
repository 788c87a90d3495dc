package bow

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"tautline/unit"
)

// Ensemble is a set of plausible bows that all meet the readings of a fit, for
// printing intervals instead of single numbers.
type Ensemble struct {
	Members []Design
	Braces  []unit.Length // each member's true brace height, within the reading's doubt
	// Tried counts the draws; those that could not be braced were left out.
	Tried int
}

// Spreads of what the readings of a bow at rest say nothing about, relative
// standard deviations (assumed).
const (
	limbMassDoubt    = 0.15
	tipMassDoubt     = 0.35
	nockMassDoubt    = 0.40
	dampingDoubt     = 0.70
	riserMassDoubt   = 0.12
	handDoubt        = 0.50
	stringMassSpread = 0.12
)

// Ensemble draws n bows (usual 20 to 200), the same for the same seed. Each
// draw moves the family's centre and the readings within their doubt and fits
// again, which samples the posterior exactly where the model is linear
// (eq. 22); masses and damping are drawn besides.
func (f Fit) Ensemble(ctx context.Context, seed uint64, n int) (Ensemble, error) {
	if n < 2 || n > 10000 {
		return Ensemble{}, &InputError{"n", fmt.Sprintf("%d bows make no ensemble", n), "60"}
	}
	r := rand.New(rand.NewPCG(seed, 0x7461757475))
	var e Ensemble
	for len(e.Members) < n {
		if e.Tried++; e.Tried > 3*n+20 {
			return e, fmt.Errorf("only %d of %d draws gave a bow that can be braced", len(e.Members), e.Tried)
		}
		p := newProblem(f.known, &f.family)
		for i, sd := range p.doubt {
			p.given[i] += sd * r.NormFloat64()
		}
		for j, sd := range f.family.spread {
			p.centre[j] = sd * r.NormFloat64()
		}
		d, err := f.member(ctx, p, r)
		if ctx.Err() != nil {
			return Ensemble{}, ctx.Err()
		}
		if err == nil {
			e.Members = append(e.Members, d.design)
			e.Braces = append(e.Braces, d.brace)
		}
	}
	return e, nil
}

type member struct {
	design Design
	brace  unit.Length
}

// member fits one draw and adds what statics cannot see. It always uses the
// same number of random draws.
func (f Fit) member(ctx context.Context, p *problem, r *rand.Rand) (member, error) {
	start := p.centre
	start[parStiffness] = f.at[parStiffness]
	x, err := p.solve(ctx, start)
	d := f.family.design(x)
	vary := func(sd float64) float64 { return math.Exp(sd * r.NormFloat64()) }
	d.Limb.Density *= vary(limbMassDoubt)
	d.Limb.TipMass *= unit.Mass(vary(tipMassDoubt))
	d.Limb.JointDamping *= unit.Duration(vary(dampingDoubt))
	d.Limb.MassDamping *= vary(dampingDoubt)
	d.String.Mass *= unit.Mass(vary(stringMassSpread))
	d.String.NockMass *= unit.Mass(vary(nockMassDoubt))
	d.Riser.Mass *= unit.Mass(vary(riserMassDoubt))
	d.Riser.HandStiffness *= unit.Stiffness(vary(handDoubt))
	d.Riser.HandDamping *= vary(handDoubt)
	if err == nil {
		err = d.Validate()
	}
	return member{d, f.known.Brace + unit.Length(x[parBrace])}, err
}

// Interval returns the median of some draws and the ends of the central span
// that a new draw falls into with the given probability (0.9 for a 90 %
// interval): the order statistics at q·(n+1), interpolated, cut at the least
// and greatest value when there are too few draws.
func Interval(draws []float64, share float64) (low, mid, high float64) {
	v := slices.Clone(draws)
	slices.Sort(v)
	if len(v) == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	at := func(q float64) float64 {
		p := math.Min(math.Max(0, q*float64(len(v)+1)-1), float64(len(v)-1))
		i := min(int(p), len(v)-1)
		j := min(i+1, len(v)-1)
		return v[i] + (p-float64(i))*(v[j]-v[i])
	}
	return at((1 - share) / 2), at(0.5), at((1 + share) / 2)
}
