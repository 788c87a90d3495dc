package flight

import (
	"math"

	"tautline/num"
	"tautline/unit"
)

// strips along the shaft at which crossflow is summed (Gauss points).
const strips = 6

// modes of ringing that are followed.
const rings = 4

// Flyer is a Body in the day's air, ready to fly. It is never changed and may
// be used by many goroutines at once.
type Flyer struct {
	body                Body
	air                 Air
	rho                 float64
	perMass, perInertia float64
	reach               float64         // from the centre of mass to the point
	perSpeed            float64         // Reynolds number per m/s
	axial               float64         // ½ρA
	nose, vane          float64         // ½ρ·2A, ½ρ·C_Nα S
	noseAt, vaneAt      float64         // from the centre of mass, forward positive
	share               [strips]float64 // place along the shaft, 0 nock to 1 end
	at                  [strips]float64 // the same from the centre of mass
	drag, friction      [strips]float64 // −½ρd·C_dc and −½ρd·4√(ν/d), times the strip's length
	step                float64
	gUp, gRight         float64 // gravity; only tests turn it
}

// New checks a body and the air and prepares them.
func New(b Body, air Air) (*Flyer, error) {
	if err := b.Validate(); err != nil {
		return nil, err
	}
	if err := air.Validate(); err != nil {
		return nil, err
	}
	if b.Slopes == (Slopes{}) {
		b.Slopes = b.EstimatedSlopes()
	}
	d, l, c := float64(b.Diameter), float64(b.Length), float64(b.Balance)
	rho := air.Density()
	nu := air.Viscosity() / rho
	area := math.Pi * d * d / 4
	f := &Flyer{
		body: b, air: air, rho: rho, perMass: 1 / float64(b.Mass), perInertia: 1 / b.Inertia,
		reach: l - c, perSpeed: d / nu, axial: rho * area / 2,
		nose: rho / 2 * b.Slopes.Nose * area, vane: rho / 2 * b.Slopes.VaneArea,
		noseAt: l - c, vaneAt: float64(b.Vanes.Place) - c,
		step: 0.01, gUp: -unit.StandardGravity,
	}
	x, w := num.GaussLegendre(strips)
	for i := range f.at {
		f.share[i] = (1 + x[i]) / 2
		f.at[i] = f.share[i]*l - c
		wide := w[i] * l / 2 * rho * d / 2
		f.drag[i] = -wide * b.Slopes.Crossflow
		f.friction[i] = -wide * b.Slopes.Friction * math.Sqrt(nu/d)
	}
	return f, nil
}

// state is place (target, right, up), velocity, pitch, yaw and their rates.
type state [10]float64

// sincos is math.Sincos at half its cost for the small angles of a flight: the
// Taylor series, whose next terms are below 1e-17 at 0.3 rad.
func sincos(x float64) (sin, cos float64) {
	if !(x > -0.3 && x < 0.3) {
		return math.Sincos(x)
	}
	s := x * x
	sin = x * (1 - s*(1.0/6)*(1-s*(1.0/20)*(1-s*(1.0/42)*(1-s*(1.0/72)*(1-s*(1.0/110))))))
	cos = 1 - s*(1.0/2)*(1-s*(1.0/12)*(1-s*(1.0/30)*(1-s*(1.0/56)*(1-s*(1.0/90)*(1-s*(1.0/132))))))
	return sin, cos
}

// rates is the right-hand side (eqs 2 to 5).
func (f *Flyer) rates(y *state, wind *[3]float64, ring *[strips]float64, dy *state) {
	sp, cp := sincos(y[6])
	sy, cy := sincos(y[7])
	// Velocity against the air; e along the shaft, n up and m right across it.
	u, v, w := y[3]-wind[0], y[4]-wind[1], y[5]-wind[2]
	speed := math.Sqrt(u*u + v*v + w*w)
	level := u*cy + v*sy
	up := w*cp - level*sp
	right := v*cy - u*sy
	turnUp, turnRight := y[8], y[9]*cp

	// Strips of the shaft (eq. 3).
	var fUp, fRight, mUp, mRight float64
	for i := range ring {
		xi := f.at[i]
		wUp, wRight := up+turnUp*xi, right+turnRight*xi
		m := math.Sqrt(wUp*wUp + wRight*wRight + ring[i])
		k := f.drag[i]*m + f.friction[i]*math.Sqrt(m)
		fUp += k * wUp
		fRight += k * wRight
		mUp += k * wUp * xi
		mRight += k * wRight * xi
	}
	// Nose and vanes (eq. 4).
	nose, vane := -f.nose*speed, -f.vane*speed
	nUp, nRight := nose*(up+turnUp*f.noseAt), nose*(right+turnRight*f.noseAt)
	vUp, vRight := vane*(up+turnUp*f.vaneAt), vane*(right+turnRight*f.vaneAt)
	fUp += nUp + vUp
	fRight += nRight + vRight
	mUp += nUp*f.noseAt + vUp*f.vaneAt
	mRight += nRight*f.noseAt + vRight*f.vaneAt
	// Axial drag (eq. 6).
	along := -f.axial * f.body.Drag.Coefficient(speed*f.perSpeed) * speed * speed

	dy[0], dy[1], dy[2] = y[3], y[4], y[5]
	along, fUp, fRight = along*f.perMass, fUp*f.perMass, fRight*f.perMass
	level = along*cp - fUp*sp
	dy[3] = level*cy - fRight*sy
	dy[4] = level*sy + fRight*cy + f.gRight
	dy[5] = along*sp + fUp*cp + f.gUp
	// Rotation of a thin rod (eq. 5).
	dy[6], dy[7] = y[8], y[9]
	dy[8] = mUp*f.perInertia - sp*cp*y[9]*y[9]
	dy[9] = (mRight*f.perInertia + 2*sp*y[8]*y[9]) / cp
}

// advance takes one Runge–Kutta step h; k1 is the slope at y.
func (f *Flyer) advance(y, k1 *state, wind *[3]float64, ring *ringing, h float64) state {
	var k2, k3, k4, z state
	for i := range z {
		z[i] = y[i] + h/2*k1[i]
	}
	f.rates(&z, wind, &ring.sum[1], &k2)
	for i := range z {
		z[i] = y[i] + h/2*k2[i]
	}
	f.rates(&z, wind, &ring.sum[1], &k3)
	for i := range z {
		z[i] = y[i] + h*k3[i]
	}
	f.rates(&z, wind, &ring.sum[2], &k4)
	for i := range z {
		z[i] = y[i] + h/6*(k1[i]+2*(k2[i]+k3[i])+k4[i])
	}
	return z
}

// point is the point's place: target, right, up.
func (f *Flyer) point(y *state) (x, right, up float64) {
	sp, cp := math.Sincos(y[6])
	sy, cy := math.Sincos(y[7])
	return y[0] + f.reach*cp*cy, y[1] + f.reach*cp*sy, y[2] + f.reach*sp
}

// begin turns a Launch into a state.
func (l *Launch) begin() state {
	speed := float64(l.Speed)
	se, ce := math.Sincos(float64(l.Elevation + l.Climb))
	sb, cb := math.Sincos(float64(l.Bearing + l.Drift))
	y := state{
		3: speed * ce * cb, 4: speed * ce * sb, 5: speed * se,
		6: float64(l.Elevation + l.Pitch), 7: float64(l.Bearing + l.Yaw), 8: l.PitchRate, 9: l.YawRate,
	}
	// The start lies in the frame of the line of the shot.
	se, ce = math.Sincos(float64(l.Elevation))
	sb, cb = math.Sincos(float64(l.Bearing))
	a, r, u := float64(l.Ahead), float64(l.Right), float64(l.Up)
	level := a*ce - u*se
	y[0], y[1], y[2] = level*cb-r*sb, level*sb+r*cb, a*se+u*ce
	return y
}
