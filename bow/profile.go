package bow

import "math"

// profile evaluates a limb's laws along its length in bare SI. It is the
// continuous limb; Chain is what the solvers see.
type profile struct {
	l                      float64 // length
	w, h                   [Knots]float64
	stiff, rho             float64 // EI0·E, density
	phi0, pre, xiR, rec, p float64
}

func newProfile(d Design) profile {
	p := profile{
		l: float64(d.Limb.Length), stiff: d.Limb.StiffnessScale * float64(d.Limb.Modulus), rho: d.Limb.Density,
		phi0: float64(d.Riser.PocketAngle), pre: float64(d.Limb.Preset), xiR: d.Limb.InnerFraction,
		rec: float64(d.Limb.Recurve), p: d.Limb.RecurvePower,
	}
	for k := range Knots {
		p.w[k], p.h[k] = float64(d.Limb.Width[k]), float64(d.Limb.Thickness[k])
	}
	return p
}

// section returns width and thickness at ξ = s/L and their slopes per ξ inside
// cell k of the knots.
func (p *profile) section(xi float64, k int) (w, h, dw, dh float64) {
	const cells = Knots - 1
	t := xi*cells - float64(k)
	dw, dh = (p.w[k+1]-p.w[k])*cells, (p.h[k+1]-p.h[k])*cells
	return p.w[k] + dw*t/cells, p.h[k] + dh*t/cells, dw, dh
}

func cell(xi float64) int {
	return min(Knots-2, max(0, int(xi*(Knots-1))))
}

// bending is EI(s) = EI0·E·w·h³/12 (eq. 3).
func (p *profile) bending(s float64) float64 {
	w, h, _, _ := p.section(s/p.l, cell(s/p.l))
	return p.stiff * w * h * h * h / 12
}

// bendingSlope is dEI/ds seen from cell k, for the jump of slope at a knot.
func (p *profile) bendingSlope(s float64, k int) float64 {
	w, h, dw, dh := p.section(s/p.l, k)
	return p.stiff * (dw*h*h*h + 3*w*h*h*dh) / 12 / p.l
}

// density is the mass per length μ(s) = ρ·w·h (eq. 3).
func (p *profile) density(s float64) float64 {
	w, h, _, _ := p.section(s/p.l, cell(s/p.l))
	return p.rho * w * h
}

// angle is the unstressed tangent angle θ0(s) from +y (eq. 2).
func (p *profile) angle(s float64) float64 {
	xi := s / p.l
	if xi < p.xiR {
		return p.phi0 + p.pre*xi/p.xiR
	}
	z := (xi - p.xiR) / (1 - p.xiR)
	return p.phi0 + p.pre - p.rec*math.Pow(z, 1+p.p)
}

// gauss8 holds the Gauss–Legendre rule with eight points on (-1, 1)
// (Abramowitz & Stegun, table 25.4).
var gauss8 = [4][2]float64{
	{0.1834346424956498, 0.3626837833783620},
	{0.5255324099163290, 0.3137066458778873},
	{0.7966664774136267, 0.2223810344533745},
	{0.9602898564975363, 0.1012285362903763},
}

// integrate feeds f the abscissas and weights of the eight-point rule on
// [a, b], split wherever a profile is not smooth, so that the sum is exact to
// rounding for polynomials and nearly so for the recurve.
func (p *profile) integrate(a, b float64, f func(s, weight float64)) {
	lo := a
	for lo < b {
		hi := p.nextBreak(lo, b)
		mid, half := (lo+hi)/2, (hi-lo)/2
		for _, g := range gauss8 {
			f(mid-half*g[0], half*g[1])
			f(mid+half*g[0], half*g[1])
		}
		lo = hi
	}
}

// nextBreak is the first knot or start of the recurve beyond lo, or b.
func (p *profile) nextBreak(lo, b float64) float64 {
	next := b
	tiny := 1e-12 * p.l
	for k := 1; k < Knots-1; k++ {
		if s := p.l * float64(k) / (Knots - 1); s > lo+tiny && s < next {
			next = s
		}
	}
	if s := p.xiR * p.l; s > lo+tiny && s < next {
		next = s
	}
	return next
}
