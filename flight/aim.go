package flight

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Aim finds the elevation of the line of the shot at which the arrow's point
// arrives at the height rise, measured from where distances are measured, and
// the impact there. l.Elevation is only the first guess; zero is good. Of the
// two solutions the flat one is returned.
func (f *Flyer) Aim(l Launch, w Wind, distance, rise unit.Length) (unit.Angle, Impact, error) {
	if err := checkAll([]limit{metres("rise", rise, -200, 200, "0 m")}); err != nil {
		return 0, Impact{}, err
	}
	// The parabola without air starts a secant that never leaves the flat
	// branch: each step is limited.
	if l.Elevation == 0 {
		v := float64(l.Speed)
		reach := unit.StandardGravity * float64(distance) / (v * v)
		l.Elevation = unit.Angle(math.Atan2(float64(rise), float64(distance)) + 0.5*math.Asin(math.Min(0.9, reach)))
	}
	slope := float64(distance)
	var before, miss float64
	for try := range 12 {
		hit, err := f.Fly(l, w, distance)
		if err != nil {
			return 0, Impact{}, err
		}
		last := miss
		miss = float64(rise - hit.Up)
		if math.Abs(miss) < 1e-9 {
			return l.Elevation, hit, nil
		}
		if try > 0 && miss != last {
			slope = math.Max(0.05*float64(distance), (last-miss)/(float64(l.Elevation)-before))
		}
		before = float64(l.Elevation)
		l.Elevation += unit.Angle(math.Min(0.1, math.Max(-0.1, miss/slope)))
	}
	return 0, Impact{}, &InputError{"distance", fmt.Sprintf("no elevation reaches %.0f m at this height with %.0f m/s", float64(distance), float64(l.Speed)), "a shorter distance or a faster arrow"}
}

// Drift is how far one metre per second of wind to the right carries the
// impact, per m/s: half the difference of ±1 m/s. The elevation is kept.
func (f *Flyer) Drift(l Launch, distance unit.Length) (unit.Length, error) {
	left, err := f.Fly(l, Wind{Right: -1}, distance)
	if err != nil {
		return 0, err
	}
	right, err := f.Fly(l, Wind{Right: 1}, distance)
	return (right.Right - left.Right) / 2, err
}

// Point is one moment of a Path.
type Point struct {
	Time               unit.Duration
	Ahead, Right, Up   unit.Length // of the centre of mass
	Speed              unit.Speed
	PitchAway, YawAway unit.Angle // shaft against path, point up and right
}

// Path follows the arrow as Fly does and returns every step.
func (f *Flyer) Path(l Launch, w Wind, distance unit.Length) ([]Point, Impact, error) {
	var path []Point
	hit, err := f.fly(&l, w, distance, func(t float64, y state) {
		level := math.Hypot(y[3], y[4])
		path = append(path, Point{
			Time: unit.Duration(t), Ahead: unit.Length(y[0]), Right: unit.Length(y[1]), Up: unit.Length(y[2]),
			Speed:     unit.Speed(math.Hypot(level, y[5])),
			PitchAway: unit.Angle(y[6] - math.Atan2(y[5], level)), YawAway: unit.Angle(y[7] - math.Atan2(y[4], y[3])),
		})
	})
	return path, hit, err
}
