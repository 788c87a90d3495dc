package arrow

import (
	"errors"
	"fmt"
	"math"

	"tautline/unit"
)

// DriveTable is what the bow does to the arrow from release to separation, one
// entry for each time: the result of a shot along the string. Rows need not be
// evenly spaced; 20 to 50 µs apart is usual.
type DriveTable struct {
	Time []unit.Duration // increasing, from 0
	Nock []unit.Length   // the nock's distance from the pivot, positive toward the archer
	// Speed is the nock's rate along x, negative toward the target.
	Speed []unit.Speed
	// Acceleration of the arrow toward the target, m/s²: thrust over the
	// arrow's mass.
	Acceleration []float64
	// Tension of the string at the nock.
	Tension []unit.Force
	// Half is the half string's length from nock to tip. One entry stands
	// for all times; none takes 0.8 m.
	Half []unit.Length
	// TipX is the limb tips' distance from the pivot, positive toward the
	// archer. Only a riser that turns needs it.
	TipX []unit.Length

	// Draw is the force on the string at full draw, DrawSlope its fall per
	// length of travel: what the release law is a share of.
	Draw      unit.Force
	DrawSlope unit.Stiffness

	// Separation is when the arrow leaves the string; zero takes the last
	// time.
	Separation unit.Duration
}

// Drive is a DriveTable made ready: checked, with slopes for interpolation. It
// is never changed and may be used by many Simulators at once.
type Drive struct {
	t                        []float64
	nock, speed, acc         channel
	tension, half, tip, tipV channel
	draw, drawSlope          float64
	separation               float64
	hasTip                   bool
	stiffest                 float64 // greatest 2T/l
	thrust                   float64 // greatest mean acceleration over thrustTime
	start                    float64
	exit                     instant // at separation
}

// channel is one column with its slope in time, for cubic interpolation.
type channel struct{ y, slope []float64 }

// NewDrive checks a table and prepares it.
func NewDrive(table DriveTable) (*Drive, error) {
	if err := table.check(); err != nil {
		return nil, err
	}
	d := &Drive{
		t: floats(table.Time), draw: float64(table.Draw), drawSlope: float64(table.DrawSlope),
		separation: float64(table.Separation), hasTip: len(table.TipX) > 0,
	}
	n := len(d.t)
	if d.separation == 0 {
		d.separation = d.t[n-1]
	}
	d.acc = d.estimated(table.Acceleration)
	// The nock moves with the arrow, so that speed and acceleration are the
	// slopes of place and speed.
	d.speed = channel{floats(table.Speed), make([]float64, n)}
	for i, a := range table.Acceleration {
		d.speed.slope[i] = -a
	}
	d.nock = channel{floats(table.Nock), d.speed.y}
	d.tension = d.estimated(floats(table.Tension))
	d.half = d.estimated(spread(table.Half, n, 0.8))
	d.tip = d.estimated(spread(table.TipX, n, 0))
	d.tipV = d.estimated(d.tip.slope)
	d.start = d.nock.y[0]
	d.thrust = d.greatestThrust()
	var ends [2]instant
	d.sample(ends[:], 0)
	d.exit = ends[1]
	for i, tension := range d.tension.y {
		d.stiffest = math.Max(d.stiffest, 2*tension/d.half.y[i])
	}
	return d, nil
}

// Separation is when the arrow leaves the string.
func (d *Drive) Separation() unit.Duration { return unit.Duration(d.separation) }

// Thrust is the arrow's greatest acceleration as a mean over 2 ms, m/s².
func (d *Drive) Thrust() float64 { return d.thrust }

// thrustTime is over how long the thrust is averaged: a sixth of the shaft's
// slowest swing. It bridges the spike of the first half millisecond, when the
// string alone is accelerated, and the string's own waves, which a shaft does
// not answer to and in which the models of the string differ by a tenth.
const thrustTime = 0.002

// greatestThrust slides a window over the speeds.
func (d *Drive) greatestThrust() float64 {
	window := math.Min(thrustTime, d.separation)
	best, row := 0.0, 0
	for i, t := range d.t {
		end := t + window
		if end > d.separation {
			break
		}
		for row < len(d.t)-2 && d.t[row+1] < end {
			row++
		}
		f := (end - d.t[row]) / (d.t[row+1] - d.t[row])
		late := d.speed.y[row]*(1-f) + d.speed.y[row+1]*f
		best = math.Max(best, (d.speed.y[i]-late)/window)
	}
	return best
}

// check reports the first thing that makes the table useless.
func (table *DriveTable) check() error {
	n := len(table.Time)
	if n < 4 {
		return &InputError{"Drive.Time", fmt.Sprintf("%d rows are too few", n), "a shot's history with at least 4 times"}
	}
	for _, c := range []struct {
		name     string
		rows     int
		optional bool
		single   bool
	}{
		{"Nock", len(table.Nock), false, false}, {"Speed", len(table.Speed), false, false},
		{"Acceleration", len(table.Acceleration), false, false}, {"Tension", len(table.Tension), false, false},
		{"Half", len(table.Half), true, true}, {"TipX", len(table.TipX), true, false},
	} {
		if c.rows == n || c.optional && c.rows == 0 || c.single && c.rows == 1 {
			continue
		}
		return &InputError{"Drive." + c.name, fmt.Sprintf("%d rows for %d times", c.rows, n), "one row for each time"}
	}
	if err := table.finite(); err != nil {
		return err
	}
	last := float64(table.Time[n-1])
	return checkAll([]limit{
		{"Drive.Time", last, 1e-3, 0.1, 1e3, "ms", "the 10 to 20 ms of a shot"},
		{"Drive.Separation", float64(table.Separation), 0, last, 1e3, "ms", "a time inside the table, or 0 for its end"},
		{"Drive.Draw", float64(table.Draw), 0, 1000, 1, "N", "196 N, the draw force"},
	})
}

// finite checks the numbers themselves.
func (table *DriveTable) finite() error {
	for i, t := range table.Time {
		bad := i == 0 && t != 0 || i > 0 && !(t > table.Time[i-1])
		if bad {
			return &InputError{"Drive.Time", fmt.Sprintf("row %d does not follow the one before", i), "times that increase from 0"}
		}
	}
	var errs []error
	check := func(name string, v []float64, low, high float64) {
		for i, x := range v {
			if !(x >= low && x <= high) {
				errs = append(errs, &InputError{
					"Drive." + name, fmt.Sprintf("%g in row %d is outside %g to %g", x, i, low, high), "SI units: m, m/s, m/s², N",
				})
				return
			}
		}
	}
	check("Nock", floats(table.Nock), -1, 2)
	check("Speed", floats(table.Speed), -200, 10)
	check("Acceleration", table.Acceleration, -1e5, 1e5)
	check("Tension", floats(table.Tension), 0, 1e5)
	check("Half", floats(table.Half), 0.1, 2)
	check("TipX", floats(table.TipX), -1, 2)
	return errors.Join(errs...)
}

// floats copies a column to plain SI.
func floats[T ~float64](in []T) []float64 {
	out := make([]float64, len(in))
	for i, v := range in {
		out[i] = float64(v)
	}
	return out
}

// spread repeats a single value, or the default, n times.
func spread[T ~float64](in []T, n int, otherwise float64) []float64 {
	if len(in) == n {
		return floats(in)
	}
	if len(in) == 1 {
		otherwise = float64(in[0])
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = otherwise
	}
	return out
}

// estimated makes a channel with the slopes of the parabola through each point
// and its neighbours.
func (d *Drive) estimated(y []float64) channel {
	n := len(y)
	slope := make([]float64, n)
	for i := range y {
		m := min(max(i, 1), n-2)
		h0, h1 := d.t[m]-d.t[m-1], d.t[m+1]-d.t[m]
		d0, d1 := (y[m]-y[m-1])/h0, (y[m+1]-y[m])/h1
		bend := (d1 - d0) / (h0 + h1)
		slope[i] = d0 + bend*(2*d.t[i]-d.t[m-1]-d.t[m])
	}
	return channel{y, slope}
}

// instant is what the solver needs to know of the bow at one time.
type instant struct {
	t      float64 // since release
	a      float64 // acceleration toward the target
	k      float64 // 2T/l, the string's sideways stiffness at the nock
	x, v   float64 // nock's place and rate
	travel float64 // from full draw
	draw   float64 // static draw force at this travel
	tip    float64 // tips' place x_t
	tipV   float64 // and rate
	limb   float64 // F_L, the limbs' force along x (eq. 11)
}

// sample fills grid with the drive at equal times from 0 to separation. mt is
// the mass of one tip.
func (d *Drive) sample(grid []instant, mt float64) {
	last := len(grid) - 1
	row := 0
	for i := range grid {
		t := d.separation * float64(i) / float64(last)
		for row < len(d.t)-2 && d.t[row+1] < t {
			row++
		}
		h := d.t[row+1] - d.t[row]
		n, dn := hermite((t-d.t[row])/h, h)
		at := &grid[i]
		at.t = t
		at.x, at.v, at.a = d.nock.at(row, &n), d.speed.at(row, &n), d.acc.at(row, &n)
		at.k = 2 * math.Max(0, d.tension.at(row, &n)) / d.half.at(row, &n)
		at.travel = d.start - at.x
		at.draw = math.Max(0, d.draw-d.drawSlope*at.travel)
		if d.hasTip {
			at.tip, at.tipV = d.tip.at(row, &n), d.tipV.at(row, &n)
			at.limb = at.k*(at.x-at.tip) - 2*mt*d.tipV.at(row, &dn)
		}
	}
}

// at combines a row and its successor with Hermite weights.
func (c *channel) at(row int, n *[4]float64) float64 {
	return n[0]*c.y[row] + n[1]*c.slope[row] + n[2]*c.y[row+1] + n[3]*c.slope[row+1]
}
