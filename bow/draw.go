package bow

import (
	"context"

	"tautline/unit"
)

// Point is one place on the draw–force curve.
type Point struct {
	Nock    unit.Length // from the pivot
	Force   unit.Force  // draw force
	Tension unit.Force  // string tension
	Stored  unit.Energy // energy put in since brace
}

// Curve is a draw–force curve from brace to full draw.
type Curve struct {
	Brace, Full State
	Points      []Point     // first at brace, last at full draw
	Stored      unit.Energy // W = V(full) − V(brace), not a sum over the points
}

// DrawWeight is the force at the curve's last point.
func (c Curve) DrawWeight() unit.Force { return c.Full.Force }

// Stroke is the nock's travel from brace to full draw.
func (c Curve) Stroke() unit.Length { return c.Full.Nock - c.Brace.Nock }

// Fullness is W/(F·x), the stored energy over draw weight times stroke: 0.5
// for a straight line, 0.58 to 0.60 for measured modern recurves (B2).
func (c Curve) Fullness() float64 {
	return float64(c.Stored) / (float64(c.Full.Force) * float64(c.Stroke()))
}

// Curve draws the braced bow to the given nock position in points−1 equal
// steps, each starting from the ones before (eq. 12). The context can stop it.
func (m *Model) Curve(ctx context.Context, brace State, full unit.Length, points int) (Curve, error) {
	if points < 2 || points > 10000 {
		return Curve{}, &InputError{"points", "a curve has 2 to 10000 points", "25"}
	}
	if full <= brace.Nock {
		return Curve{}, &InputError{"full", "full draw is not behind the brace height", "692 mm from the pivot for a 29 in draw"}
	}
	if err := m.own(brace); err != nil {
		return Curve{}, err
	}
	s := m.borrow()
	defer m.solvers.Put(s)
	s.load(brace)
	c := Curve{Brace: brace, Points: make([]Point, points)}
	c.Points[0] = s.point(brace)
	x0, dx := float64(brace.Nock), float64(full-brace.Nock)/float64(points-1)
	e := newExtrapolation(s.theta)
	for i := 1; i < points; i++ {
		if err := ctx.Err(); err != nil {
			return Curve{}, err
		}
		if dx <= drawStep {
			e.predict(s.theta)
		}
		if err := s.walk(x0 + float64(i)*dx); err != nil {
			return Curve{}, err
		}
		e.push(s.theta)
		c.Points[i] = s.point(brace)
	}
	c.Full = s.state()
	c.Stored = c.Full.Energy - brace.Energy
	return c, nil
}

func (s *solver) point(brace State) Point {
	return Point{
		Nock: unit.Length(s.hx), Force: unit.Force(s.force()), Tension: unit.Force(s.tension),
		Stored: unit.Energy(2*s.energy) - brace.Energy,
	}
}

// Draw braces the bow at the given height and draws it to the design's full
// draw in 25 points: what most callers need.
func (m *Model) Draw(height unit.Length) (Curve, error) {
	brace, err := m.Brace(height)
	if err != nil {
		return Curve{}, err
	}
	return m.Curve(context.Background(), brace, m.design.FullDraw, 25)
}

// DrawString is Draw for a given half string instead of a brace height.
func (m *Model) DrawString(halfRest unit.Length) (Curve, error) {
	brace, err := m.BraceWithString(halfRest)
	if err != nil {
		return Curve{}, err
	}
	return m.Curve(context.Background(), brace, m.design.FullDraw, 25)
}

// extrapolation guesses the next shape on an evenly spaced curve by the
// parabola through the last three.
type extrapolation struct {
	last [3][]float64 // newest first
	have int
}

func newExtrapolation(theta []float64) *extrapolation {
	n := len(theta)
	block := make([]float64, 3*n)
	e := &extrapolation{have: 1}
	for i := range e.last {
		e.last[i] = block[i*n : (i+1)*n]
	}
	copy(e.last[0], theta)
	return e
}

func (e *extrapolation) push(theta []float64) {
	e.last[0], e.last[1], e.last[2] = e.last[2], e.last[0], e.last[1]
	copy(e.last[0], theta)
	e.have++
}

func (e *extrapolation) predict(theta []float64) {
	a, b, c := e.last[0], e.last[1], e.last[2]
	for i := range theta {
		switch {
		case e.have >= 3:
			theta[i] = 3*a[i] - 3*b[i] + c[i]
		case e.have == 2:
			theta[i] = 2*a[i] - b[i]
		}
	}
}
