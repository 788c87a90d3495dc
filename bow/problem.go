package bow

import (
	"context"
	"errors"
	"fmt"
	"math"
)

// problem is the least-squares form of a scaling fit: readings and priors as
// residuals in units of their standard deviations. centre and shift move the
// priors and the readings for the draws of an ensemble.
type problem struct {
	k      Known
	f      *family
	given  []float64
	doubt  []float64
	names  []string
	units  []string
	centre params
}

func newProblem(k Known, f *family) *problem {
	p := &problem{k: k, f: f}
	add := func(name, unit string, given, doubt float64) {
		p.names, p.units = append(p.names, name), append(p.units, unit)
		p.given, p.doubt = append(p.given, given), append(p.doubt, doubt)
	}
	add("draw weight", "N", float64(k.DrawWeight), float64(k.Doubt.DrawWeight))
	for i, q := range k.Points {
		add(fmt.Sprintf("draw–force point %d", p.k.order[i]+1), "N", float64(q.Force), float64(k.Doubt.Points))
	}
	if k.StringLength != 0 {
		add("string length", "m", float64(k.StringLength), float64(k.Doubt.StringLength))
	}
	return p
}

// model computes what the readings would be on the bow at x.
func (p *problem) model(x params) ([]float64, error) {
	d := p.f.design(x)
	c, err := Discretize(d, Options{})
	if err != nil {
		return nil, err
	}
	s := newSolver(c, float64(d.String.EA))
	if err := s.braceAt(float64(p.k.Brace) + x[parBrace]); err != nil {
		return nil, err
	}
	out := make([]float64, 1, len(p.given))
	rest := 2 * s.l0
	for _, q := range p.k.Points {
		if err := s.walk(float64(q.Nock)); err != nil {
			return nil, err
		}
		out = append(out, s.force())
	}
	if err := s.walk(float64(p.k.Draw)); err != nil {
		return nil, err
	}
	out[0] = s.force()
	if p.k.StringLength != 0 {
		out = append(out, rest)
	}
	return out, nil
}

func (p *problem) residuals(x params) (out []Residual) {
	got, err := p.model(x)
	if err != nil {
		return nil
	}
	for i, g := range got {
		out = append(out, Residual{Name: p.names[i], Given: p.given[i], Model: g, Doubt: p.doubt[i], Unit: p.units[i]})
	}
	return out
}

// cost is half the sum of squared residuals, priors included.
func (p *problem) cost(x params, got []float64) (sum float64) {
	for i, g := range got {
		r := (g - p.given[i]) / p.doubt[i]
		sum += r * r / 2
	}
	for j, sd := range p.f.spread {
		if sd > 0 {
			r := (x[j] - p.centre[j]) / sd
			sum += r * r / 2
		}
	}
	return sum
}

// Ends of the fit, as shares of one plus the cost: done when nothing more is
// gained, settled when what the last step gained is nothing to the readings.
const (
	fitDone    = 1e-13
	fitSettled = 1e-5
	fitSteps   = 40
)

// solve runs Levenberg–Marquardt from a start, whose stiffness it first
// brings near the draw weight.
func (p *problem) solve(ctx context.Context, x params) (params, error) {
	x[parStiffness] = p.roughStiffness(x)
	got, err := p.model(x)
	if err != nil {
		return x, fmt.Errorf("no bow of the generic family comes near these readings: %w", err)
	}
	cost, damping, gain := p.cost(x, got), 1e-6, math.Inf(1)
	for range fitSteps {
		if err := ctx.Err(); err != nil {
			return x, err
		}
		jac, err := p.jacobian(x, got)
		if err != nil {
			return x, err
		}
		gain = 0
		for range 12 {
			next := x
			for j, d := range p.step(x, got, jac, damping) {
				next[j] += d
			}
			now, err := p.model(next)
			if c := p.costOr(next, now, err); c < cost {
				gain = (cost - c) / (1 + cost)
				x, got, cost = next, now, c
				damping = math.Max(1e-9, damping/10)
				break
			}
			damping *= 10
		}
		if gain <= fitDone {
			return x, nil
		}
	}
	if gain > fitSettled {
		return x, errors.New("the fit to the readings does not settle")
	}
	return x, nil
}

func (p *problem) costOr(x params, got []float64, err error) float64 {
	if err != nil {
		return math.Inf(1)
	}
	return p.cost(x, got)
}

// roughStiffness scales EI0 in proportion to the draw weight: draw force is
// proportional to stiffness when string and limb stretch alike, which is
// nearly so.
func (p *problem) roughStiffness(x params) float64 {
	for range 3 {
		got, err := p.model(x)
		if err != nil || !(got[0] > 0) {
			break
		}
		x[parStiffness] += math.Log(p.given[0] / got[0])
	}
	return x[parStiffness]
}

// jacobian is d(model)/d(parameter) by one-sided differences of a thousandth
// of each parameter's spread.
func (p *problem) jacobian(x params, got []float64) ([][]float64, error) {
	jac := make([][]float64, parCount)
	for j := range parCount {
		h := 1e-3 * p.f.spread[j]
		if h == 0 {
			h = 1e-4
		}
		y := x
		y[j] += h
		up, err := p.model(y)
		if err != nil {
			y[j], h = x[j]-h, -h
			if up, err = p.model(y); err != nil {
				return nil, err
			}
		}
		for i := range up {
			up[i] = (up[i] - got[i]) / h
		}
		jac[j] = up
	}
	return jac, nil
}

// step solves the damped normal equations in units of the spreads.
func (p *problem) step(x params, got []float64, jac [][]float64, damping float64) params {
	const n = int(parCount)
	var a [n * n]float64
	var g params
	var unit params
	for j := range n {
		unit[j] = p.f.spread[j]
		if unit[j] == 0 {
			unit[j] = 1
		}
	}
	for j := range n {
		for k := 0; k <= j; k++ {
			for i, d := range p.doubt {
				a[j*n+k] += jac[j][i] * unit[j] * jac[k][i] * unit[k] / (d * d)
			}
		}
		for i, d := range p.doubt {
			g[j] -= jac[j][i] * unit[j] * (got[i] - p.given[i]) / (d * d)
		}
		if p.f.spread[j] > 0 {
			a[j*n+j]++
			g[j] -= (x[j] - p.centre[j]) / unit[j]
		}
		a[j*n+j] *= 1 + damping
	}
	if !cholesky(a[:], n) {
		return params{}
	}
	substitute(a[:], g[:], n)
	for j := range n {
		g[j] *= unit[j]
	}
	return g
}
