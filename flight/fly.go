package flight

import (
	"fmt"
	"math"

	"tautline/num"
	"tautline/unit"
)

// errShort is an arrow that does not reach the target.
var errShort = &InputError{"Launch", "the arrow does not reach the target", "more elevation, more speed or a shorter distance"}

// upright is the pitch at which pitch and yaw stop describing a shaft, nearly
// straight up or down; an arrow in flight does not come near it.
const upright = 1.5

// errTumble is an arrow that turns over.
var errTumble = &InputError{"Launch", "the arrow turns over in flight", "smaller yaw and pitch rates, or a balance further forward"}

// stepAt is the step for a speed: 10 ms, or a twelfth of the time in which
// vanes and nose swing the shaft if that is shorter.
func (f *Flyer) stepAt(speed float64) float64 {
	swing := math.Sqrt((f.vane*math.Abs(f.vaneAt) + f.nose*f.noseAt) * f.perInertia)
	return math.Min(f.step, 0.5/(swing*speed+1e-9))
}

// Fly follows the arrow until its point reaches the target's plane at the
// given distance.
func (f *Flyer) Fly(l Launch, w Wind, distance unit.Length) (Impact, error) {
	return f.fly(&l, w, distance, nil)
}

// fly is Fly with an observer of every step.
func (f *Flyer) fly(l *Launch, w Wind, distance unit.Length, see func(t float64, y state)) (Impact, error) {
	if err := l.validate(); err != nil {
		return Impact{}, err
	}
	if err := w.validate(); err != nil {
		return Impact{}, err
	}
	if err := f.inFront(l, distance); err != nil {
		return Impact{}, err
	}
	wind := [3]float64{float64(w.Along), float64(w.Right), float64(w.Up)}
	var ring ringing
	y, goal, h := l.begin(), float64(distance), f.stepAt(float64(l.Speed))
	f.start(l.Ringing, h, &ring)
	ring.halves()
	var k1 state
	const longest = 3000 // steps: 30 s
	for n := range longest {
		t := float64(n) * h
		if see != nil {
			see(t, y)
		}
		f.rates(&y, &wind, &ring.sum[0], &k1)
		z := f.advance(&y, &k1, &wind, &ring, h)
		// The point is never further than reach ahead of the centre of mass.
		there := z[0]+f.reach >= goal
		if there {
			x, _, _ := f.point(&z)
			there = x >= goal
		}
		switch {
		case there:
			return f.land(&y, &k1, &z, &wind, &ring, t, h, goal, see)
		case !(z[3] > 0.5):
			return Impact{}, errShort
		case !(math.Abs(z[6]) < upright):
			return Impact{}, errTumble
		}
		y = z
		ring.next()
	}
	return Impact{}, errShort
}

// land finds the moment inside the last step at which the point arrives.
func (f *Flyer) land(y, k1, z *state, wind *[3]float64, ring *ringing, t, h, goal float64, see func(t float64, y state)) (Impact, error) {
	x0, _, _ := f.point(y)
	x1, _, _ := f.point(z)
	h *= (goal - x0) / (x1 - x0)
	last := *z
	for range 4 {
		last = f.advance(y, k1, wind, ring, h)
		x, _, _ := f.point(&last)
		miss := (goal - x) / last[3]
		h += miss
		if math.Abs(miss) < 1e-12 {
			break
		}
	}
	if see != nil {
		see(t+h, last)
	}
	_, right, up := f.point(&last)
	speed := math.Sqrt(last[3]*last[3] + last[4]*last[4] + last[5]*last[5])
	climb := math.Asin(last[5] / speed)
	if !(speed > 0 && math.Abs(right)+math.Abs(up) < 1e4) {
		return Impact{}, num.NotFinite.Err("flight")
	}
	return Impact{
		Time: unit.Duration(t + h), Right: unit.Length(right), Up: unit.Length(up), Speed: unit.Speed(speed),
		Descent: unit.Angle(-climb), Pitch: unit.Angle(last[6] - climb), Yaw: unit.Angle(last[7] - math.Atan2(last[4], last[3])),
	}, nil
}

// inFront reports a target that is not in front of the arrow.
func (f *Flyer) inFront(l *Launch, distance unit.Length) error {
	start := l.Ahead + unit.Length(f.reach)
	if !(distance > start+0.1 && distance <= 400) {
		return &InputError{"distance", fmt.Sprintf("%.4g m is not between the arrow's point (%.2f m) and 400 m", float64(distance), float64(start)), "70 m"}
	}
	return nil
}
