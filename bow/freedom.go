package bow

import (
	"fmt"
	"math"

	"tautline/num"
	"tautline/unit"
)

// Freedom is what the readings given to Scale leave open: the family's
// parameters as moves away from the fitted bow, with their joint doubt as a
// normal distribution (the Laplace approximation of eq. 21).
type Freedom struct {
	// Names of the moves in words, with the unit they are in.
	Names, Units []string
	// Spread is the family's own standard deviation of each parameter, before
	// any reading; zero for the limbs' stiffness, which the draw weight sets.
	Spread []float64
	// Precision is the inverse of the moves' covariance, readings and family
	// together.
	Precision num.Matrix
}

// parNames are the parameters in an archer's words; parUnits what one is in.
var (
	parNames = [parCount]string{
		parStiffness: "limb stiffness", parRecurve: "recurve", parPocketAngle: "limb pocket angle", parSplit: "pocket up the riser",
		parLimb: "limb length", parPocketX: "pocket behind the pivot", parEA: "string stiffness", parPreset: "inner limb's set",
		parInner: "where the recurve begins", parTaper: "limb taper", parPower: "shape of the recurve", parBrace: "square's reading of the brace height",
	}
	parUnits = [parCount]string{
		parStiffness: "ln", parRecurve: "rad", parPocketAngle: "rad", parSplit: "m", parLimb: "m", parPocketX: "m",
		parEA: "ln", parPreset: "rad", parInner: "", parTaper: "ln", parPower: "", parBrace: "m",
	}
)

// Freedom gives the moves that Moved takes.
func (f Fit) Freedom() (Freedom, error) {
	p := newProblem(f.known, &f.family)
	got, err := p.model(f.at)
	if err != nil {
		return Freedom{}, err
	}
	jac, err := p.jacobian(f.at, got)
	if err != nil {
		return Freedom{}, err
	}
	out := Freedom{Names: parNames[:], Units: parUnits[:], Precision: num.NewMatrix(int(parCount), int(parCount))}
	out.Spread = append(out.Spread, f.family.spread[:]...)
	for j := range int(parCount) {
		for k := range int(parCount) {
			sum := 0.0
			for i, d := range p.doubt {
				sum += jac[j][i] * jac[k][i] / (d * d)
			}
			out.Precision.Set(j, k, sum)
		}
		if sd := f.family.spread[j]; sd > 0 {
			out.Precision.Set(j, j, out.Precision.At(j, j)+1/(sd*sd))
		}
	}
	return out, nil
}

// Moved is the bow away from the fitted one by a move of each parameter, and
// its true brace height less what the square reads.
func (f Fit) Moved(moves []float64) (d Design, square unit.Length, err error) {
	if len(moves) != int(parCount) {
		return Design{}, 0, &InputError{"moves", fmt.Sprintf("%d moves for %d parameters", len(moves), parCount), "one for each of Freedom.Names"}
	}
	x := f.at
	for j, m := range moves {
		if math.IsNaN(m) || math.IsInf(m, 0) {
			return Design{}, 0, &InputError{"moves", fmt.Sprintf("%s moved by %g", parNames[j], m), "a finite move"}
		}
		x[j] += m
	}
	d = f.family.design(x)
	return d, unit.Length(x[parBrace]), d.Validate()
}
