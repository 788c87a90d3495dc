package bow

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// checkDerivatives compares gradient and Hessian with central differences on
// random states in which the string lies on the limb. States whose set of
// touched points changes inside the difference are left out: the energy has a
// kink in its second derivative there.
func checkDerivatives(t *testing.T) (rows []row) {
	for _, o := range []Options{{Scheme: Plain}, {}} {
		r := rand.New(rand.NewPCG(11, 13))
		var worstG, worstH float64
		states := 0
		for states < 150 {
			s := randomContact(t, r, o)
			if s == nil {
				continue
			}
			g, h, ok := differenceErrors(s)
			if !ok {
				continue
			}
			states++
			worstG, worstH = math.Max(worstG, g), math.Max(worstH, h)
		}
		why := "model.md section 9, relative to the largest entry; 150 random states in contact, nock free"
		rows = append(rows,
			below(fmt.Sprintf("gradient, %v", o.Scheme), worstG, 1e-6, "", why),
			below(fmt.Sprintf("Hessian, %v", o.Scheme), worstH, 1e-6, "", why))
	}
	return rows
}

// randomContact is a random bow near brace with its shape disturbed, or nil
// when the string touches fewer than two points.
func randomContact(t *testing.T, r *rand.Rand, o Options) *solver {
	t.Helper()
	d, height := randomBow(r)
	c, err := Discretize(d, o)
	if err != nil {
		t.Fatal(err)
	}
	s := newSolver(c, float64(d.String.EA))
	if err := s.braceAt(float64(height)); err != nil {
		t.Fatal(err)
	}
	for i := range s.theta {
		s.theta[i] += 0.01 * r.NormFloat64()
	}
	s.hx += 0.03 * r.Float64()
	s.hy = 0.05 * r.Float64()
	s.l0 -= 0.01
	s.update()
	if len(s.wrap.Touch) < 2 || s.tension <= 0 {
		return nil
	}
	return s
}

// differenceErrors returns the relative errors of gradient and Hessian, and
// false when the contact changes within the difference.
func differenceErrors(s *solver) (errG, errH float64, ok bool) {
	m := s.c.N + 1
	touch := slices.Clone(s.wrap.Touch)
	s.derivatives(s.g, s.h, m)
	g, h := slices.Clone(s.g[:m]), slices.Clone(s.h[:m*m])
	scaleG, scaleH := norm(g), norm(h)
	at := func(i int, d float64) (v float64, grad []float64) {
		move := func(d float64) {
			if i < s.c.N {
				s.theta[i] += d
			} else {
				s.hx += d
			}
		}
		move(d)
		s.update()
		if !slices.Equal(touch, s.wrap.Touch) {
			ok = false
		}
		s.derivatives(s.g, s.h, m)
		v, grad = s.energy, slices.Clone(s.g[:m])
		move(-d)
		return v, grad
	}
	ok = true
	const d = 2e-6
	for i := range m {
		up, gu := at(i, d)
		down, gd := at(i, -d)
		errG = math.Max(errG, math.Abs((up-down)/(2*d)-g[i])/scaleG)
		for j := 0; j <= i; j++ {
			errH = math.Max(errH, math.Abs((gu[j]-gd[j])/(2*d)-h[i*m+j])/scaleH)
		}
	}
	return errG, errH, ok
}
