package flight

import "tautline/unit"

// Launch is how the arrow leaves, as the bow's sideways and vertical models
// give it. Angles are small and add to the line of the shot.
type Launch struct {
	Speed unit.Speed // usual 40 to 70 m/s

	// Elevation and Bearing turn the line of the shot, and with it all that
	// follows, above the horizontal and right of the line to the target.
	Elevation, Bearing unit.Angle

	// Climb and Drift are the direction of the centre of mass against the
	// line of the shot, up and to the right.
	Climb, Drift unit.Angle
	// Pitch and Yaw are the shaft's direction against the line of the shot:
	// point up, point to the right. PitchRate and YawRate in rad/s.
	Pitch, Yaw         unit.Angle
	PitchRate, YawRate float64

	// Ahead, Right and Up place the centre of mass at the start: along the
	// line of the shot, and square to it, from the point that distances are
	// measured from.
	Ahead, Right, Up unit.Length

	// Ringing is what still swings in the shaft, in any plane.
	Ringing []Ringing
}

// Ringing is one bending vibration. Many cycles pass within a step, so only
// its mean square counts.
type Ringing struct {
	// SquaredSpeed is the mean square of the shaft's sideways speed, m²/s²,
	// at places spread evenly from the nock's groove to the shaft's end.
	SquaredSpeed []float64
	// Decay in 1/s of the amplitude.
	Decay float64
}

// Wind blows toward the target, to the right and up; usual 0 to 8 m/s.
type Wind struct {
	Along, Right, Up unit.Speed
}

// Impact is the arrow as its point reaches the target's plane.
type Impact struct {
	Time unit.Duration
	// Right and Up are where the point is, from the point distances are
	// measured from.
	Right, Up unit.Length
	Speed     unit.Speed // over the ground
	// Descent is the path's angle below the horizontal.
	Descent unit.Angle
	// Pitch and Yaw are the shaft's direction against its path, point up and
	// to the right.
	Pitch, Yaw unit.Angle
}

func (l Launch) validate() error {
	const turn = 1.4
	return checkAll([]limit{
		{"Launch.Speed", float64(l.Speed), 5, 150, 1, "m/s", "57 m/s"},
		deg("Launch.Elevation", l.Elevation, -turn, turn, "5 degrees"),
		deg("Launch.Bearing", l.Bearing, -turn, turn, "0 degrees"),
		deg("Launch.Climb", l.Climb, -0.5, 0.5, "0 degrees"),
		deg("Launch.Drift", l.Drift, -0.5, 0.5, "0 degrees"),
		deg("Launch.Pitch", l.Pitch, -0.5, 0.5, "0 degrees"),
		deg("Launch.Yaw", l.Yaw, -0.5, 0.5, "0 degrees"),
		{"Launch.PitchRate", l.PitchRate, -100, 100, 1, "rad/s", "0 rad/s"},
		{"Launch.YawRate", l.YawRate, -100, 100, 1, "rad/s", "0 rad/s"},
		metres("Launch.Ahead", l.Ahead, -2, 5, "0.5 m"),
		metres("Launch.Right", l.Right, -5, 5, "0 m"),
		metres("Launch.Up", l.Up, -5, 5, "0 m"),
	})
}

func (w Wind) validate() error {
	return checkAll([]limit{
		{"Wind.Along", float64(w.Along), -30, 30, 1, "m/s", "0 m/s"},
		{"Wind.Right", float64(w.Right), -30, 30, 1, "m/s", "2 m/s"},
		{"Wind.Up", float64(w.Up), -30, 30, 1, "m/s", "0 m/s"},
	})
}
