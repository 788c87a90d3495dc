package shot

// energies sums up where the whole bow's energy is. Rates and forces are those
// of the last evaluation.
func (p *plain) energies() energies {
	var e energies
	e.limbs, e.string = p.limbEnergy()
	square := p.ux[0] * p.ux[0]
	e.arrow = square * p.attached() / 2
	e.string += 2*p.elastic + square*(p.nock-p.attached()/2)
	for k := 1; k < len(p.sx); k++ {
		e.string += p.ms[k] * (p.ux[k]*p.ux[k] + p.uy[k]*p.uy[k])
	}
	x, v := p.rx[0]-p.set.chain.X0, p.vx[0]
	e.riser = p.m[0] * v * v
	if !p.set.clamped {
		e.hand = p.set.hold*x + p.set.handStiffness*x*x/2
	}
	e.lost = 2 * p.y[len(p.y)-1]
	return e
}

// limbEnergy is bending and motion of both limbs; the string's share of the
// tip mass is counted with the string.
func (p *plain) limbEnergy() (limbs, string float64) {
	n := len(p.l)
	share := p.ms[len(p.ms)-1]
	before := p.set.chain.Phi0
	for i, k := range p.k {
		square := p.vx[i+1]*p.vx[i+1] + p.vy[i+1]*p.vy[i+1]
		limbs += p.m[i+1] * square
		if i+1 == n {
			limbs -= share * square
			string = share * square
		}
		turn := p.y[i] - before - p.beta[i]
		before = p.y[i]
		limbs += k * turn * turn
	}
	return limbs, string
}

// attached is the arrow's mass while it is on the string.
func (p *plain) attached() float64 {
	if p.flown {
		return 0
	}
	return p.set.arrow
}

func (p *plain) sample() sample {
	n := len(p.l)
	return sample{
		nock: p.sx[0], speed: p.ux[0], acc: p.nockAcc, tension: p.pulling,
		tipX: p.rx[n], tipY: p.ry[n], half: p.length, riser: p.rx[0] - p.set.chain.X0,
	}
}
