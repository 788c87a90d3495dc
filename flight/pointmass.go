package flight

import (
	"fmt"
	"math"

	"tautline/unit"
)

// PointMass is an arrow reduced to its mass, with drag along its path (eq. 7):
// what sight marks need. It leaves out lift, wind and all turning.
type PointMass struct {
	Mass     unit.Mass
	Diameter unit.Length
	Drag     Drag
	Air      Air
	// Density overrides the air's density if not zero, kg/m³.
	Density float64
}

// ballistic is a PointMass ready for stepping.
type ballistic struct {
	drag     Drag
	constant bool
	k        float64 // ρA/2m, times C_D
	perSpeed float64 // Reynolds number per m/s
}

func (p *PointMass) ready() ballistic {
	rho := p.Density
	if rho == 0 {
		rho = p.Air.Density()
	}
	d := float64(p.Diameter)
	return ballistic{
		drag: p.Drag, constant: p.Drag.Laminar == p.Drag.Turbulent,
		k:        rho * math.Pi * d * d / 8 / float64(p.Mass),
		perSpeed: d * rho / p.Air.Viscosity(),
	}
}

// Validate reports every field outside what the model is meant for.
func (p PointMass) Validate() error {
	limits := append([]limit{
		{"Mass", float64(p.Mass), 0.002, 0.2, 1e3, "g", "20 g"},
		mm("Diameter", p.Diameter, 0.002, 0.02, "5.6 mm"),
		{"Density", p.Density, 0, 3, 1, "kg/m³", "0 to take the air's"},
	}, p.Drag.limits()...)
	if err := p.Air.Validate(); err != nil {
		return err
	}
	return checkAll(limits)
}

// Shot is a point mass arriving at the target's plane.
type Shot struct {
	Elevation unit.Angle
	Time      unit.Duration
	Up        unit.Length
	Speed     unit.Speed
}

// slopes returns the accelerations.
func (b *ballistic) slopes(vx, vz float64) (ax, az float64) {
	v := math.Sqrt(vx*vx + vz*vz)
	c := b.drag.Laminar
	if !b.constant {
		c = b.drag.Coefficient(v * b.perSpeed)
	}
	k := b.k * c * v
	return -k * vx, -k*vz - unit.StandardGravity
}

// step advances x, z, vx, vz by h, classical Runge–Kutta.
func (b *ballistic) step(y [4]float64, h float64) [4]float64 {
	a1, g1 := b.slopes(y[2], y[3])
	u2, w2 := y[2]+h/2*a1, y[3]+h/2*g1
	a2, g2 := b.slopes(u2, w2)
	u3, w3 := y[2]+h/2*a2, y[3]+h/2*g2
	a3, g3 := b.slopes(u3, w3)
	u4, w4 := y[2]+h*a3, y[3]+h*g3
	a4, g4 := b.slopes(u4, w4)
	return [4]float64{
		y[0] + h/6*(y[2]+2*(u2+u3)+u4), y[1] + h/6*(y[3]+2*(w2+w3)+w4),
		y[2] + h/6*(a1+2*(a2+a3)+a4), y[3] + h/6*(g1+2*(g2+g3)+g4),
	}
}

// fly follows the point to the plane at x; false if it never gets there.
func (b *ballistic) fly(speed, elevation, x float64) (Shot, bool) {
	const h = 0.02
	s, c := math.Sincos(elevation)
	y := [4]float64{2: speed * c, 3: speed * s}
	for n := range 1500 {
		z := b.step(y, h)
		if z[0] >= x {
			part := h * (x - y[0]) / (z[0] - y[0])
			for range 3 {
				z = b.step(y, part)
				part += (x - z[0]) / z[2]
			}
			return Shot{unit.Angle(elevation), unit.Duration(float64(n)*h + part), unit.Length(z[1]), unit.Speed(math.Hypot(z[2], z[3]))}, true
		}
		if !(z[2] > 0.5) {
			return Shot{}, false
		}
		y = z
	}
	return Shot{}, false
}

// aim finds the flat elevation that arrives at rise; NaN elevation and false
// if there is none.
func (b *ballistic) aim(speed, x, rise float64) (Shot, bool) {
	reach := unit.StandardGravity * x / (speed * speed)
	elevation := math.Atan2(rise, x) + 0.5*math.Asin(math.Min(0.9, reach))
	slope, before, miss := x, 0.0, 0.0
	for try := range 15 {
		s, ok := b.fly(speed, elevation, x)
		if !ok {
			return Shot{}, false
		}
		last := miss
		miss = rise - float64(s.Up)
		if math.Abs(miss) < 1e-11*x {
			return s, true
		}
		if try > 0 && miss != last {
			slope = math.Max(0.05*x, (last-miss)/(elevation-before))
		}
		before = elevation
		elevation += math.Min(0.1, math.Max(-0.1, miss/slope))
	}
	return Shot{}, false
}

// Aim finds the elevation at which a point mass leaving at speed arrives at
// the height rise above its start. Of the two solutions the flat one.
func (p PointMass) Aim(speed unit.Speed, distance, rise unit.Length) (Shot, error) {
	if err := p.Validate(); err != nil {
		return Shot{}, err
	}
	if err := checkAll([]limit{
		{"speed", float64(speed), 5, 150, 1, "m/s", "57 m/s"},
		metres("distance", distance, 1, 400, "70 m"),
		metres("rise", rise, -200, 200, "0 m"),
	}); err != nil {
		return Shot{}, err
	}
	b := p.ready()
	s, ok := b.aim(float64(speed), float64(distance), float64(rise))
	if !ok {
		return Shot{}, &InputError{"distance", fmt.Sprintf("the arrow does not reach %.0f m with %.0f m/s", float64(distance), float64(speed)), "a shorter distance or a faster arrow"}
	}
	return s, nil
}

// FlatFire holds the closed forms for an arrow that flies level with constant
// drag (eq. 8): k = ρ C_D π d²/(8 m), loss 1 − e^(−kx), time (e^(kx) − 1)/(k v),
// and the lag rule for the drift in a crosswind W, W·(t − x/v).
type FlatFire struct {
	Loss         float64 // share of the speed
	Time         unit.Duration
	DriftPerWind unit.Duration // metres per m/s of crosswind
}

// Flat evaluates the closed forms with the laminar coefficient, which is the
// coefficient when it is constant.
func (p PointMass) Flat(speed unit.Speed, distance unit.Length) FlatFire {
	b := p.ready()
	k, x, v := b.k*b.drag.Laminar, float64(distance), float64(speed)
	t := x / v
	if k*x > 1e-9 {
		t = math.Expm1(k*x) / (k * v)
	}
	return FlatFire{Loss: -math.Expm1(-k * x), Time: unit.Duration(t), DriftPerWind: unit.Duration(t - x/v)}
}

// Level is a point mass that leaves horizontally.
func (p PointMass) Level(speed unit.Speed, distance unit.Length) (Shot, error) {
	if err := p.Validate(); err != nil {
		return Shot{}, err
	}
	if err := checkAll([]limit{{"speed", float64(speed), 5, 150, 1, "m/s", "57 m/s"}, metres("distance", distance, 1, 400, "70 m")}); err != nil {
		return Shot{}, err
	}
	b := p.ready()
	s, ok := b.fly(float64(speed), 0, float64(distance))
	if !ok {
		return Shot{}, errShort
	}
	return s, nil
}
