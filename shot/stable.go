package shot

import "math"

// stepMargin is the share of the stability limit at full draw that a step may
// use; the fast motions change little during the shot.
const stepMargin = 0.90

// stableStep is the longest step that is safe, at most step (eq. 21). Three families of
// small motions at full draw are asked for their fastest: the whole bow, the
// limb alone (damped by its joints) and the string alone (damped along itself).
func stableStep(e engine, s *setting, step float64) float64 {
	p := newProbe(e)
	links := s.chain.N
	for _, f := range []struct {
		from, to int
		tau      float64 // damping time, negative if it must be measured
	}{{0, p.n, -1}, {0, links, s.tauL}, {links, p.n, s.tauS}} {
		w, zeta := p.fastest(f.from, f.to, f.tau)
		step = math.Min(step, stepMargin*stableAt(e.linearStep, zeta)/w)
	}
	return step
}

// probe measures small motions about full draw as differences of
// accelerations.
type probe struct {
	e                            engine
	n                            int
	rest, base, zero, x, move, a []float64
}

func newProbe(e engine) *probe {
	n := e.dof()
	block := make([]float64, 6*n)
	p := &probe{e: e, n: n}
	for i, v := range []*[]float64{&p.rest, &p.base, &p.zero, &p.x, &p.move, &p.a} {
		*v = block[i*n : (i+1)*n]
	}
	e.coordinates(p.rest)
	e.accelerations(p.rest, p.zero, p.base)
	return p
}

// fastest is the largest angular frequency of motions in the coordinates
// from..to, by the power method on −M⁻¹K, and their damping ratio: τω/2 for
// damping proportional to stiffness, else measured on the vector found.
func (p *probe) fastest(from, to int, tau float64) (w, zeta float64) {
	const rounds, small = 40, 1e-8
	clear(p.x)
	for i := from; i < to; i++ {
		// a share of every shape, the fast ones above all
		p.x[i] = small * (1 - 2*float64(i%2) + 0.3*math.Sin(float64(7*i*i)))
	}
	square := 0.0
	for range rounds {
		for i := range p.move {
			p.move[i] = p.rest[i] + p.x[i]
		}
		p.e.accelerations(p.move, p.zero, p.a)
		before, after := 0.0, 0.0
		for i := from; i < to; i++ {
			d := p.a[i] - p.base[i]
			before, after = before+p.x[i]*p.x[i], after+d*d
			p.x[i] = d
		}
		square = math.Sqrt(after / before)
		for i := from; i < to; i++ {
			p.x[i] *= small / math.Sqrt(after)
		}
	}
	w = math.Sqrt(square)
	if tau >= 0 {
		return w, tau * w / 2
	}
	// −x·a(v = ωx)/(ω x·x) = 2ζω
	for i := range p.move {
		p.move[i] = w * p.x[i]
	}
	p.e.accelerations(p.rest, p.move, p.a)
	top, bottom := 0.0, 0.0
	for i, x := range p.x {
		top, bottom = top-x*(p.a[i]-p.base[i]), bottom+x*x
	}
	return w, math.Max(0, top/(2*w*w*bottom))
}

// stableAt is the largest ωh at which one step of the given method keeps
// y” = −ω²y − 2ζω y' from growing, found by walking out from zero.
func stableAt(step func(y, v, w, zeta float64) (float64, float64), zeta float64) float64 {
	const stride = 0.01
	w := stride
	for ; w < 4; w += stride {
		// the method's matrix for h = 1, column by column
		a, c := step(1, 0, w, zeta)
		b, d := step(0, 1, w, zeta)
		if spectralRadius(a, b, c, d) > 1+1e-9 {
			break
		}
	}
	return w - stride
}

func spectralRadius(a, b, c, d float64) float64 {
	half, det := (a+d)/2, a*d-b*c
	if s := half*half - det; s > 0 {
		return math.Abs(half) + math.Sqrt(s)
	}
	return math.Sqrt(det)
}

// oscillator is the test equation of stableAt.
func oscillator(y, v, w, zeta float64) float64 { return -w*w*y - 2*zeta*w*v }
