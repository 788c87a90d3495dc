package main

import (
	"fmt"
	"math/rand/v2"

	"tautline/bow"
	"tautline/flight"
	"tautline/group"
	"tautline/shot"
	"tautline/trial"
	"tautline/unit"
)

var kinds = []kind{
	{"brace trial", braceTrial},
	{"fixed comparison", fixed},
	{"paired comparison", paired},
	{"bare shaft", bareShaft},
	{"levels", levels},
	{"visits", visits},
	{"walk-back", walkBack},
	{"surface", surface},
	{"days", days},
	{"feel", feel},
	{"group", described},
	{"round", scored},
	{"shot", physics},
}

// end draws one end around a centre of its own.
func end(rng *rand.Rand, n int, sigma float64) trial.End {
	x, y := 0.02*rng.NormFloat64(), 0.02*rng.NormFloat64()
	var out trial.End
	for range n {
		out = append(out, trial.Point{Right: unit.Length(x + sigma*rng.NormFloat64()), Up: unit.Length(y + sigma*rng.NormFloat64())})
	}
	return out
}

// ends draws a set-up's ends; about one arrow in forty is wild.
func ends(rng *rand.Rand, n int, sigma float64) (out trial.Sample) {
	for range n {
		e := end(rng, 3+3*rng.IntN(2), sigma)
		if rng.IntN(8) == 0 {
			e[0].Right += unit.Length(8 * sigma)
		}
		out = append(out, e)
	}
	return out
}

// wider draws how much wider the second group is: often not at all, so that
// many cases lie near the border of a verdict.
func wider(rng *rand.Rand) float64 { return []float64{1, 1, 1.1, 1.25, 1.5, 2}[rng.IntN(6)] }

func braceTrial(rng *rand.Rand) (any, error) {
	r := trial.BraceReadings{Seed: rng.Uint64()}
	stops, spot, depth := 5+rng.IntN(5), rng.IntN(8), []float64{0, 0, 0.7, 1.2, 2}[rng.IntN(5)]
	for i := range stops {
		v := trial.BraceVisit{Stop: i + 1, Braces: []unit.Length{unit.Length(0.205 + 0.0025*float64(i))}}
		for k := range 2 + rng.IntN(6) {
			level := -0.1*float64(i) + 0.7*rng.NormFloat64()
			if i == spot {
				level -= depth
			}
			v.Shots = append(v.Shots, trial.BraceShot{Settling: k == 0, Values: map[trial.Measure]float64{
				trial.Level: level, trial.Speed: 55 - 0.15*float64(i) + 0.25*rng.NormFloat64()}})
		}
		r.Visits = append(r.Visits, v)
	}
	return trial.DecideBrace(r)
}

func fixed(rng *rand.Rand) (any, error) {
	return trial.CompareFixed(ends(rng, 2+rng.IntN(8), 0.05), ends(rng, 2+rng.IntN(8), 0.05*wider(rng)))
}

func paired(rng *rand.Rand) (any, error) {
	w, n := wider(rng), 3+rng.IntN(3)
	var pairs []trial.Pair
	for range 3 + rng.IntN(9) {
		pairs = append(pairs, trial.Pair{A: end(rng, n, 0.05), B: end(rng, n, 0.05*w)})
	}
	measure := trial.SquareSum
	if rng.IntN(2) == 0 {
		measure = trial.MedianDistance
	}
	return trial.ComparePairs(pairs, measure, rng.Uint32())
}

func bareShaft(rng *rand.Rand) (any, error) {
	in := trial.BareShaftInput{Distance: []unit.Length{18, 30}[rng.IntN(2)], LeftHanded: rng.IntN(2) == 0, Taped: rng.IntN(2) == 0}
	off := unit.Length(0.1 * rng.NormFloat64())
	for range 2 + rng.IntN(4) {
		e := trial.BareEnd{Fletched: end(rng, 3+rng.IntN(3), 0.04)}
		for i, p := range end(rng, 1+rng.IntN(3), 0.05) {
			p.Right += off
			e.Bare = append(e.Bare, trial.BareShot{Shaft: fmt.Sprint("bare ", i), Point: p})
		}
		in.Ends = append(in.Ends, e)
	}
	return trial.DecideBareShaft(in)
}

func levels(rng *rand.Rand) (any, error) {
	var list []trial.SettingLevel
	best := rng.Float64()
	for i := range 3 + rng.IntN(2) {
		x := float64(i) / 2
		list = append(list, trial.SettingLevel{At: x, Ends: ends(rng, 3+rng.IntN(6), 0.04*(1+(x-best)*(x-best)))})
	}
	return trial.DecideLevels(list, trial.Confidence)
}

func visits(rng *rand.Rand) (any, error) {
	var list []trial.Visit
	effect := rng.NormFloat64()
	for i := range 4 * (1 + rng.IntN(3)) {
		v := trial.Visit{Setting: string("ABBA"[i%4]), Y: 10 + 0.3*float64(i) + rng.NormFloat64()}
		if v.Setting == "B" {
			v.Y += effect
		}
		list = append(list, v)
	}
	return trial.CompareVisits(list, trial.Confidence)
}

func walkBack(rng *rand.Rand) (any, error) {
	var list []trial.WalkBackShot
	slope := 0.002 * rng.NormFloat64()
	for _, d := range []float64{10, 15, 20, 25, 30} {
		for range 2 + rng.IntN(3) {
			list = append(list, trial.WalkBackShot{Distance: unit.Length(d), Right: unit.Length(0.01 + slope*d + 0.001*d*rng.NormFloat64())})
		}
	}
	return trial.DecideWalkBack(list, unit.Angle(0.001))
}

func surface(rng *rand.Rand) (any, error) {
	var runs []trial.Run
	a, b := 0.1*rng.NormFloat64(), 0.1*rng.NormFloat64()
	for range 2 {
		for _, x := range [][]float64{{-1, -1}, {1, -1}, {-1, 1}, {1, 1}, {0, 0}, {-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
			y := a*x[0] + b*x[1] + 0.1*x[0]*x[0] + 0.15*rng.NormFloat64()
			runs = append(runs, trial.Run{X: x, Y: y, Var: 0.02})
		}
	}
	s, err := trial.FitSurface(runs, trial.SecondOrder, trial.Confidence)
	if err != nil {
		return nil, err
	}
	region, err := s.Region(21)
	return []any{s, region}, err
}

func days(rng *rand.Rand) (any, error) {
	var list []trial.DayEnd
	for d := range 2 + rng.IntN(4) {
		day := 0.2 * rng.NormFloat64()
		for i, setup := range []string{"old", "new", "old", "new"} {
			list = append(list, trial.DayEnd{Setup: setup, Day: fmt.Sprint(d), Y: day + 0.2*float64(i%2)*rng.Float64() + 0.2*rng.NormFloat64(), Var: 0.03})
		}
	}
	return trial.ObserveSetups(list, "old")
}

func feel(rng *rand.Rand) (any, error) {
	n := 1 + rng.IntN(30)
	s := trial.Sham{Trials: n, Differed: rng.IntN(n + 1)}
	text, err := trial.FeelText(s)
	if err != nil {
		return nil, err
	}
	rate, err := trial.FalsePreference(s)
	return []any{text, rate}, err
}

func shots(rng *rand.Rand) (list []group.Shot) {
	for e, points := range ends(rng, 2+rng.IntN(5), 0.06) {
		for _, p := range points {
			list = append(list, group.At(e+1, p.Right, p.Up))
		}
	}
	return list
}

func described(rng *rand.Rand) (any, error) {
	list := shots(rng)
	d, err := group.Describe(list)
	if err != nil {
		return nil, err
	}
	odd, err := group.Outliers(list, 0.05)
	return []any{d, odd}, err
}

func scored(rng *rand.Rand) (any, error) {
	faces := group.Faces()
	f := faces[rng.IntN(len(faces))]
	m, err := group.MomentsOf(shots(rng))
	if err != nil {
		return nil, err
	}
	sigma, _ := m.Sigma()
	round, err := group.ForecastRound(f, 0.0055, sigma, 30, 70, 72)
	return []any{f.Score(group.Point{Right: 0.1, Up: 0.05}, 0.0055), round}, err
}

// physics draws a bow near the generic one, shoots it, and lets the arrow fly.
func physics(rng *rand.Rand) (any, error) {
	d := bow.Generic().WithPocketAngle(unit.Angle(0.01 * rng.NormFloat64()))
	result, err := shot.Shoot(d, unit.Length(0.215+0.01*rng.Float64()), shot.Config{ArrowMass: 0.021})
	if err != nil {
		return nil, err
	}
	body := flight.Body{Mass: 0.021, Length: 0.73, Balance: 0.45, Inertia: 0.0011, Diameter: 0.0055, Drag: flight.BareDrag()}
	f, err := flight.New(body, flight.StandardAir())
	if err != nil {
		return nil, err
	}
	impact, err := f.Fly(flight.Launch{Speed: result.Speed, Elevation: 0.05}, flight.Wind{Right: unit.Speed(rng.NormFloat64())}, 70)
	return []any{result.Speed, result.Efficiency, result.TimeOnString, result.PeakForce, impact}, err
}
