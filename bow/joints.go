package bow

import "math"

// gregory holds the end weights of the third-order Gregory rule: the sum over
// joints of weight·f·Δu equals ∫f du to fourth order.
var gregory = [4]float64{251.0 / 720, 299.0 / 240, 211.0 / 240, 739.0 / 720}

// weight is the quadrature weight c_i of joint i, which stands at u = i/N
// (eq. 5). There is no joint at the tip, where the moment is zero.
func (c *Chain) weight(i int) float64 {
	if c.Scheme == Plain {
		switch {
		case i == 0:
			return 5.0 / 12
		case i == 1 || i == c.N-1:
			return 13.0 / 12
		}
		return 1
	}
	w := 1.0
	if i < 4 {
		w += gregory[i] - 1
	}
	if j := c.N - i; j < 4 {
		w += gregory[j] - 1
	}
	return w
}

// springs sets the joint springs: 1/k_i = c_i (ds/du) Δu/EI (eq. 5), with the
// knot correction in the refined scheme.
func (c *Chain) springs(p *profile) {
	du := 1 / float64(c.N)
	compliance := c.K
	for i := range compliance {
		compliance[i] = c.weight(i) * c.stretch(p, float64(i)*du) * du / p.bending(c.S[i])
	}
	if c.Scheme == Refined {
		c.correctKnots(p, compliance)
	}
	for i, a := range compliance {
		c.K[i] = 1 / a
	}
}

// correctKnots removes the error that a jump J in the slope of (ds/du)/EI
// leaves in a rule for smooth functions (eq. 6), shared between the two joints
// around the knot.
func (c *Chain) correctKnots(p *profile, compliance []float64) {
	n := float64(c.N)
	for k := 1; k < Knots-1; k++ {
		xi := float64(k) / (Knots - 1)
		u := c.inverse(xi)
		i := int(u * n)
		th := u*n - float64(i)
		s, ei := xi*p.l, p.bending(xi*p.l)
		st := c.stretch(p, u)
		jump := -st * st / (ei * ei) * (p.bendingSlope(s, k) - p.bendingSlope(s, k-1))
		lost := jump / (n * n) * (th*(1-th)/2 - 1.0/12)
		compliance[i] -= (1 - th) * lost
		if i+1 < c.N {
			compliance[i+1] -= th * lost
		}
	}
}

// inverse solves u + g·u(1−u) = ξ.
func (c *Chain) inverse(xi float64) float64 {
	if c.G == 0 {
		return xi
	}
	b := 1 + c.G
	return 2 * xi / (b + math.Sqrt(b*b-4*c.G*xi))
}

// contacts lists the points the string may touch. Plain: the nodes. Refined:
// the middle of every link and every node, moved out from the chord onto the
// rounded belly (eq. 7). Only turning away from the archer rounds the belly
// toward the string.
func (c *Chain) contacts() {
	if c.Scheme == Plain {
		for i := range c.N {
			c.Contacts = append(c.Contacts, Contact{Link: i, F: 1})
		}
		return
	}
	// turn[j] is the natural turning at node j, j = 1..N-1
	turn := func(j int) float64 { return math.Max(0, -c.Beta[j]) }
	c.Contacts = make([]Contact, 0, 2*c.N)
	for i := range c.N {
		var mid float64
		switch i {
		case 0:
			mid = turn(1)
		case c.N - 1:
			mid = turn(i)
		default:
			mid = (turn(i) + turn(i+1)) / 2
		}
		node := 0.0
		if i < c.N-1 {
			node = (c.Len[i] + c.Len[i+1]) * turn(i+1) / 192
		}
		c.Contacts = append(c.Contacts,
			Contact{i, 0.5, c.Len[i] * mid * (1.0/8 + 1.0/96)},
			Contact{i, 1, node})
	}
}
