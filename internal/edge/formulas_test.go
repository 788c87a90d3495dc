package edge

import (
	"math"
	"strconv"
	"time"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/group"
	"tautline/notebook"
	"tautline/num"
	"tautline/sound"
	"tautline/trial"
	"tautline/unit"
	"tautline/workbench"
)

// formulas are the functions that cannot refuse: of numbers that are numbers
// they give numbers. Under another name than a function's stands what is made
// of several.
var formulas = map[string]any{
	"num.Jacobian": num.Jacobian,
	"num.Gradient": num.Gradient,
	"num.Modes": func(k, m []float64) ([]float64, num.Matrix, num.Status) {
		n := min(len(k), len(m))
		stiff, mass := matrix(n, n, nil), matrix(n, n, nil)
		for i := range n {
			stiff.Set(i, i, k[i])
			mass.Set(i, i, m[i])
		}
		return num.Modes(stiff, mass)
	},
	"num.Exactly":       num.Exactly[unit.Length],
	"num.Unknown":       num.Unknown[unit.Length],
	"num.Estimate.Half": num.Estimate[unit.Length].Half,
	"num.Around":        num.Around[unit.Length],
	"num.LevenbergMarquardt": func(y, p0 []float64, control num.FitControl, usual bool) num.Fit {
		if p0 = append(p0, 1, 1)[:2]; usual {
			control = num.FitControl{}
		}
		control.Continue = nil
		return num.LevenbergMarquardt(num.FitProblem{Count: len(y), Residuals: func(p, r []float64) {
			for i := range r {
				r[i] = p[0]*math.Exp(-p[1]*float64(i)) - y[i]
			}
		}}, p0, control)
	},
	"num.LeastSquares": func(x, y []float64, weighted bool) num.LinearFit {
		var w []float64
		if weighted {
			w = y
		}
		return num.LeastSquares(matrix(len(y), 2, x), y, w)
	},
	"num.Minimize":                        num.Minimize,
	"num.Integrate":                       num.Integrate,
	"num.GaussLegendre":                   num.GaussLegendre,
	"num.Simpson":                         num.Simpson,
	"num.FindRoot":                        num.FindRoot,
	"num.Bracket":                         num.Bracket,
	"unit.Length.Metres":                  unit.Length.Metres,
	"unit.Length.Centimetres":             unit.Length.Centimetres,
	"unit.Length.Millimetres":             unit.Length.Millimetres,
	"unit.Length.Inches":                  unit.Length.Inches,
	"unit.Length.Feet":                    unit.Length.Feet,
	"unit.Length.Yards":                   unit.Length.Yards,
	"unit.Length.In":                      unit.Length.In,
	"unit.Mass.Kilograms":                 unit.Mass.Kilograms,
	"unit.Mass.Grams":                     unit.Mass.Grams,
	"unit.Mass.Grains":                    unit.Mass.Grains,
	"unit.Mass.Pounds":                    unit.Mass.Pounds,
	"unit.Mass.Ounces":                    unit.Mass.Ounces,
	"unit.Mass.In":                        unit.Mass.In,
	"unit.Force.Newtons":                  unit.Force.Newtons,
	"unit.Force.PoundsForce":              unit.Force.PoundsForce,
	"unit.Force.KilogramsForce":           unit.Force.KilogramsForce,
	"unit.Force.In":                       unit.Force.In,
	"unit.Speed.MetresPerSecond":          unit.Speed.MetresPerSecond,
	"unit.Speed.FeetPerSecond":            unit.Speed.FeetPerSecond,
	"unit.Speed.KilometresPerHour":        unit.Speed.KilometresPerHour,
	"unit.Speed.In":                       unit.Speed.In,
	"unit.Angle.Radians":                  unit.Angle.Radians,
	"unit.Angle.Degrees":                  unit.Angle.Degrees,
	"unit.Angle.Milliradians":             unit.Angle.Milliradians,
	"unit.Angle.ArcMinutes":               unit.Angle.ArcMinutes,
	"unit.Angle.In":                       unit.Angle.In,
	"unit.Duration.Seconds":               unit.Duration.Seconds,
	"unit.Duration.Milliseconds":          unit.Duration.Milliseconds,
	"unit.Duration.Minutes":               unit.Duration.Minutes,
	"unit.Duration.In":                    unit.Duration.In,
	"unit.Energy.Joules":                  unit.Energy.Joules,
	"unit.Energy.FootPoundsForce":         unit.Energy.FootPoundsForce,
	"unit.Energy.In":                      unit.Energy.In,
	"unit.Stiffness.NewtonsPerMetre":      unit.Stiffness.NewtonsPerMetre,
	"unit.Stiffness.NewtonsPerMillimetre": unit.Stiffness.NewtonsPerMillimetre,
	"unit.Stiffness.PoundsForcePerInch":   unit.Stiffness.PoundsForcePerInch,
	"unit.Stiffness.In":                   unit.Stiffness.In,
	"unit.Temperature.DegreesCelsius":     unit.Temperature.DegreesCelsius,
	"unit.Temperature.DegreesFahrenheit":  unit.Temperature.DegreesFahrenheit,
	"unit.Temperature.Kelvins":            unit.Temperature.Kelvins,
	"unit.Temperature.In":                 unit.Temperature.In,
	"unit.Pressure.Pascals":               unit.Pressure.Pascals,
	"unit.Pressure.Hectopascals":          unit.Pressure.Hectopascals,
	"unit.Pressure.InchesOfMercury":       unit.Pressure.InchesOfMercury,
	"unit.Pressure.In":                    unit.Pressure.In,
	"unit.Spine.Thousandths":              unit.Spine.Thousandths,
	"unit.Spine.Deflection":               unit.Spine.Deflection,
	"unit.Spine.In":                       unit.Spine.In,
	"unit.Metric":                         unit.Metric,
	"unit.Imperial":                       unit.Imperial,
	"unit.Mixed":                          unit.Mixed,
	"unit.System.SettingStyle":            unit.System.SettingStyle,
	"unit.System.DrawStyle":               unit.System.DrawStyle,
	"unit.System.ImpactStyle":             unit.System.ImpactStyle,
	"unit.System.DistanceStyle":           unit.System.DistanceStyle,
	"unit.System.MassStyle":               unit.System.MassStyle,
	"unit.System.ForceStyle":              unit.System.ForceStyle,
	"unit.System.SpeedStyle":              unit.System.SpeedStyle,
	"unit.System.WindStyle":               unit.System.WindStyle,
	"unit.System.AngleStyle":              unit.System.AngleStyle,
	"unit.System.DurationStyle":           unit.System.DurationStyle,
	"unit.System.EnergyStyle":             unit.System.EnergyStyle,
	"unit.System.StiffnessStyle":          unit.System.StiffnessStyle,
	"unit.System.TemperatureStyle":        unit.System.TemperatureStyle,
	"unit.System.PressureStyle":           unit.System.PressureStyle,
	"unit.System.SpineStyle":              unit.System.SpineStyle,
	"unit.Units":                          unit.Units[unit.Length],
	"unit.Unit.Of":                        unit.Unit[unit.Length].Of,
	"unit.Unit.From":                      unit.Unit[unit.Length].From,
	"unit.Unit.Digits":                    unit.Unit[unit.Length].Digits,
	"unit.Said":                           unit.Said[unit.Length],
	"group.Exactly":                       group.Exactly[unit.Length],
	"group.Unknown":                       group.Unknown[unit.Length],
	"group.Point.Radius":                  group.Point.Radius,
	"group.Face.Radius":                   group.Face.Radius,
	"group.Face.RingWidth":                group.Face.RingWidth,
	"group.Face.Best":                     group.Face.Best,
	"group.Face.ZoneByLabel":              group.Face.ZoneByLabel,
	"group.Faces":                         group.Faces,
	"group.ExtremeSpread":                 group.ExtremeSpread,
	"group.Extent":                        group.Extent,
	"group.FigureOfMerit":                 group.FigureOfMerit,
	"group.Diagonal":                      group.Diagonal,
	"group.RingCounts.Arrows":             group.RingCounts.Arrows,
	"group.InformationKept":               group.InformationKept,
	"group.Circle":                        group.Circle,
	"group.Spread.Within":                 group.Spread.Within,
	"group.Spread.ZoneProbabilities":      group.Spread.ZoneProbabilities,
	"group.At":                            group.At,
	"group.Centre":                        group.Centre,
	"trial.CheckStop":                     trial.CheckStop,
	"trial.Exactly":                       trial.Exactly[unit.Length],
	"trial.Unknown":                       trial.Unknown[unit.Length],
	"trial.Sample.Arrows":                 trial.Sample.Arrows,
	"trial.Sample.DF":                     trial.Sample.DF,
	"trial.Sample.SumSquares":             trial.Sample.SumSquares,
	"trial.SettingKinds":                  trial.SettingKinds,
	"trial.Power":                         trial.Power,
	"trial.SmallestReduction":             trial.SmallestReduction,
	"trial.RatioFactor":                   func(n int) float64 { return trial.RatioFactor(max(n, 2)) },
	"trial.ConstantStep":                  trial.ConstantStep,
	"bow.Generic":                         bow.Generic,
	"bow.PivotDraw":                       bow.PivotDraw,
	"bow.StandardDraw":                    bow.StandardDraw,
	"bow.UsualBrace":                      bow.UsualBrace,
	"bow.NockCentre":                      bow.NockCentre,
	"bow.Design.WithPivotOffset":          bow.Design.WithPivotOffset,
	"bow.Design.WithPocketAngle":          bow.Design.WithPocketAngle,
	"bow.Fit.Brace":                       bow.Fit.Brace,
	"arrow.GrainsPerInch":                 arrow.GrainsPerInch,
	"arrow.OlderSpine":                    arrow.OlderSpine,
	"arrow.Design.Bare":                   arrow.Design.Bare,
	"arrow.Design.BareTaped":              arrow.Design.BareTaped,
	"arrow.Generic":                       arrow.Generic,
	"arrow.HalfSine.Reach":                arrow.HalfSine.Reach,
	"arrow.Fading.Reach":                  arrow.Fading.Reach,
	"arrow.Guided.Reach":                  arrow.Guided.Reach,
	"arrow.YawInertia":                    arrow.YawInertia,
	"arrow.GenericSetup":                  arrow.GenericSetup,
	"flight.StandardAir":                  flight.StandardAir,
	"flight.StationPressure":              flight.StationPressure,
	"flight.ConstantDrag":                 flight.ConstantDrag,
	"flight.FletchedDrag":                 flight.FletchedDrag,
	"flight.BareDrag":                     flight.BareDrag,
	"flight.Drag.Coefficient": func(d flight.Drag, re float64) (float64, bool) {
		return d.Coefficient(re), d.Low > 0 && d.High > d.Low
	},
	"sound.Compare": sound.Compare,
	"sound.DecayTime": func(curve []float64, rate, top, bottom float64) (unit.Duration, bool) {
		return sound.DecayTime(curve, positive(rate), top, bottom)
	},
	"sound.Tail": sound.Tail,
	"sound.Crossing": func(power []float64, rate, noise float64) (int, unit.Duration) {
		return sound.Crossing(power, positive(rate), noise)
	},
	"sound.Around":           sound.Around,
	"sound.Hearing.Measured": sound.Hearing.Measured,
	"sound.Measure.Interval": sound.Measure.Interval,
	"sound.FeaturesOf":       sound.FeaturesOf,
	"sound.LeaveOneOut":      sound.LeaveOneOut,
	"workbench.Gather":       workbench.Gather,
	"workbench.Visits":       workbench.Visits,
	"workbench.Heard.StopOf": workbench.Heard.StopOf,
	"workbench.Heard.Tie": func(h workbench.Heard, shot sound.Shot, ties []notebook.Tie) notebook.Tie {
		for i := range ties {
			ties[i].Release = float64(shot.Release) + float64(i)/1000
		}
		h.Onsets = &notebook.Onsets{Ties: ties}
		t, _ := h.Tie(shot)
		return t
	},
	"workbench.BowRecords.Counts":      workbench.BowRecords.Counts,
	"workbench.BowRecords.StringCreep": workbench.BowRecords.StringCreep,
	"workbench.DecayTimes":             workbench.DecayTimes,
	"workbench.ShotMeasures":           workbench.ShotMeasures,
	"workbench.ShotModes":              workbench.ShotModes,
	"workbench.Voices":                 workbench.Voices,
	"workbench.StandingEnds":           workbench.StandingEnds,
	"workbench.EndsFromShots":          workbench.EndsFromShots,
	"workbench.FactsOf":                workbench.FactsOf,
	"workbench.FaceViews":              workbench.FaceViews,
	"workbench.Observations":           workbench.Observations,
	"workbench.UsualDoubt":             workbench.UsualDoubt,
	"workbench.Expected.Sure":          workbench.Expected.Sure,
	"workbench.Expected.Direction":     workbench.Expected.Direction,
	"workbench.UsualRepeatability":     workbench.UsualRepeatability,
	"workbench.BowRecords.Chart":       workbench.BowRecords.Chart,
	"workbench.BowRecords.Ledger":      workbench.BowRecords.Ledger,
	"workbench.ForetellTrial":          workbench.ForetellTrial,
	"workbench.ForecastStop": func(f notebook.Forecast, stop int) (int, bool) {
		f.Kind += "|trial|" + strconv.Itoa(stop)
		return workbench.ForecastStop(f)
	},
	"workbench.Corrections":          workbench.Corrections,
	"workbench.LatestOnsets":         workbench.LatestOnsets,
	"workbench.EverythingOwned":      workbench.EverythingOwned,
	"workbench.OrderOfWork":          workbench.OrderOfWork,
	"workbench.BowRecords.PutBackTo": workbench.BowRecords.PutBackTo,
	"workbench.BowRecords.Results":   workbench.BowRecords.Results,
	"workbench.Range":                workbench.Range,
	"workbench.CheckRange":           workbench.CheckRange,
	"workbench.MarksOf": func(readings []notebook.Reading) []flight.Mark {
		for i := range readings {
			readings[i].Kind = notebook.ReadSightMark
		}
		marks, _ := workbench.MarksOf(readings, "")
		return marks
	},
	"workbench.StandardAir":          workbench.StandardAir,
	"workbench.SoundSide.Shots":      workbench.SoundSide.Shots,
	"workbench.Middle":               workbench.Middle,
	"workbench.Impact.Tuning":        workbench.Impact.Tuning,
	"workbench.Impact.View":          workbench.Impact.View,
	"workbench.VerticalFromSettings": workbench.VerticalFromSettings,
	"workbench.PlanNocking":          workbench.PlanNocking,
	"workbench.Upright.View":         workbench.Upright.View,
	"workbench.BowRecords.Week":      workbench.BowRecords.Week,
	"workbench.BowRecords.RulingsOn": workbench.BowRecords.RulingsOn,
	"workbench.HandOf":               workbench.HandOf,
	"workbench.FaceAt":               workbench.FaceAt,

	// Formulas with a range of their own, brought into it: what they give
	// outside is in their comments.
	"group.CG":           func(nu float64) float64 { return group.CG(positive(nu)) },
	"group.CircleLimit":  func(n int, alpha float64) float64 { return group.CircleLimit(max(n, 3), share(alpha)) },
	"group.WilksLimit":   func(n int, alpha float64) float64 { return group.WilksLimit(max(n, 4), share(alpha)) },
	"group.RadiusFactor": func(q, p float64) float64 { return group.RadiusFactor(share(q), share(p)) },
	"group.SigmaFactors": func(nu, level float64) (low, high float64) { return group.SigmaFactors(0.5+positive(nu), share(level)) },
	"group.Face.Score": func(f group.Face, at group.Point, shaft unit.Length) (int, error) {
		z := f.Score(at, shaft) // a miss is a zone without end
		if z.Points < 0 || z.Points > 10 {
			return 0, nil
		}
		return z.Points, nil
	},
	"trial.DetectableSpot": func(stops, arrows int) float64 { return trial.DetectableSpot(5+max(stops, 0)%20, 2+max(arrows, 0)%10) },
	"trial.Evidence": func(d, nu []float64) []float64 {
		n := min(len(d), len(nu))
		for i := range n {
			nu[i] = positive(nu[i])
		}
		return trial.Evidence(d[:n], nu[:n])
	},
	"trial.FEvidence": func(f, a, b float64) float64 {
		return trial.FEvidence(positive(f), min(positive(a), 200), min(positive(b), 200))
	},
	"trial.FTest": func(f, a, b float64) (p, cdf float64) { return trial.FTest(positive(f), positive(a), positive(b)) },
	"trial.LogSpread": func(s trial.Sample) (y, variance float64, ok bool) {
		if s.DF() < 1 || s.SumSquares() <= 0 {
			return 0, 0, false
		}
		y, variance = trial.LogSpread(s)
		return y, variance, true
	},
	"bow.Interval": func(draws []float64, part float64) (low, mid, high float64) {
		return bow.Interval(append(draws, 1), share(part))
	},
	"bow.Residual.InDoubts": func(r bow.Residual) float64 { r.Doubt = positive(r.Doubt); return r.InDoubts() },
	"bow.ShorteningSmall": func(l0, r unit.Length, turns float64) unit.Length {
		return bow.ShorteningSmall(unit.Length(positive(float64(l0))), r, turns)
	},
	"arrow.Stiffness": func(s unit.Spine) float64 { return arrow.Stiffness(unit.Spine(positive(float64(s)))) },
	"arrow.Design: weights": func(d arrow.Design) (unit.Mass, unit.Length, float64, float64, error) {
		return d.Mass(), d.Balance(), d.FOC(), d.Inertia(), d.Validate()
	},
	"flight.Air: density": func(a flight.Air) (float64, float64, error) { return a.Density(), a.Viscosity(), a.Validate() },
	"flight.Body: slopes": func(b flight.Body) (flight.Slopes, error) { return b.EstimatedSlopes(), b.Validate() },
	"flight.PointMass: flat": func(p flight.PointMass, v unit.Speed, far unit.Length) (flight.FlatFire, error) {
		return p.Flat(unit.Speed(positive(float64(v))), unit.Length(min(positive(float64(far)), 200))), p.Validate()
	},
	"sound.AWeight": func(f float64) float64 { return sound.AWeight(positive(f)) },
	"sound.CWeight": func(f float64) float64 { return sound.CWeight(positive(f)) },
	"sound.EnergyDecay": func(power []float64, noise float64, end int, tail float64) []float64 {
		for i := range power {
			power[i] = positive(power[i])
		}
		return sound.EnergyDecay(power, 0, end, positive(tail)) // more noise than sound is −Inf
	},
	"sound.LevelsOf": func(x []float64, rate int) sound.Levels {
		return sound.LevelsOf(append(heard(x), 0.5, -0.5), 8000+100*max(rate, 0))
	},
	"sound: a clip": func(c sound.Clip, other sound.Clip, release, impact, from, to unit.Duration, bins int) []any {
		c, other = playable(c), playable(other)
		at := []unit.Duration{inside(c, release), inside(c, impact), inside(c, from), inside(c, to)}
		spectrum := c.Spectrum(at[2], at[3])
		out := []any{c.End(), c.Envelope(1 + max(bins, 0)), c.Measure(at[0], &at[1]), c.Spectrogram(-100).Bounded(1+max(bins, 0), 1+max(bins, 0), 4000),
			spectrum, spectrum.Lines(50, 4000, 20, 3), sound.Similarity(c, other), sound.EqualGain(c, other)}
		return append(out, c.Envelope(40).Envelope(at[2], at[3], 1+max(bins, 0)))
	},
	"sound: a signature": func(shots []sound.Features, one sound.Features) (any, error) {
		s, err := sound.NewSignature(often(shots))
		if err != nil {
			return nil, err
		}
		one.Early, one.Late, one.Pitch = positive(one.Early), -positive(one.Late), positive(one.Pitch)
		return s.Judge(one), nil
	},
	"workbench.Jeffreys": func(k, n int) any { n = max(n, 0); return workbench.Jeffreys(min(max(k, 0), n), n) },
	"workbench.Score": func(e notebook.End, shaft unit.Length) (points int, err error) {
		const one = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"
		e = notebook.End{Stamp: notebook.Stamp{ID: one, By: one, At: time.Unix(1_800_000_000, 0)}, Bow: one, SetUp: one, Face: "122", Number: 1, Impacts: e.Impacts}
		for i := range e.Impacts {
			e.Impacts[i] = notebook.Impact{Arrow: strconv.Itoa(i), X: e.Impacts[i].X, Y: e.Impacts[i].Y, Ring: "8"}
			if i := &e.Impacts[i]; i.X == nil || i.Y == nil {
				i.X, i.Y = nil, nil
			}
		}
		if err := e.Check(); err != nil {
			return 0, err
		}
		_, points, _ = workbench.Score(e, shaft)
		return points, nil
	},
}

// positive brings a number to one above nothing, of any size that is measured.
func positive(x float64) float64 {
	if math.IsNaN(x) {
		return 1
	}
	return min(max(math.Abs(x), 1e-6), 1e9)
}

// share brings a number between 0 and 1.
func share(x float64) float64 { return min(max(math.Mod(math.Abs(x), 1), 1e-6), 1-1e-6) }

// heard are samples as a decoder lets them through.
func heard(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = min(max(v, -256), 256)
	}
	return out
}

// playable is a clip as one is cut from a recording: a rate that is taken, and
// a third of a second of sound.
func playable(c sound.Clip) sound.Clip {
	c.Rate, c.Start = 8000, unit.Duration(math.Mod(math.Abs(float64(c.Start)), 1800))
	loud := heard(c.Samples)
	c.Samples = make([]float64, 2667)
	for i := range c.Samples {
		if len(loud) > 0 {
			c.Samples[i] = loud[i%len(loud)] * math.Exp(-float64(i)/400)
		}
	}
	return c
}

// inside brings a time into a clip.
func inside(c sound.Clip, t unit.Duration) unit.Duration {
	return c.Start + unit.Duration(math.Mod(math.Abs(float64(t)), 0.33))
}

// matrix fills one row by row, again and again with the same numbers.
func matrix(rows, columns int, from []float64) num.Matrix {
	m := num.NewMatrix(rows, columns)
	for i := range rows * columns {
		if len(from) > 0 {
			m.Set(i/columns, i%columns, from[i%len(from)])
		}
	}
	return m
}

// often repeats shots until they make a signature, each a little louder.
func often(shots []sound.Features) []sound.Features {
	for i := 0; len(shots) > 0 && len(shots) < 24; i++ {
		again := shots[i]
		again.Early, again.Late, again.Pitch = again.Early*1.01, again.Late*1.02, again.Pitch*1.03
		shots = append(shots, again)
	}
	return shots
}
