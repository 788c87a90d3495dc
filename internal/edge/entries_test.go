package edge

import (
	"errors"
	"reflect"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/group"
	"tautline/num"
	"tautline/trial"
	"tautline/unit"
)

// packages are those that compute in plain numbers.
var packages = []string{"num", "unit", "group", "trial", "bow", "arrow", "flight", "shot"}

// samples are good inputs, to be spoilt in a field or two.
var samples = map[reflect.Type]func() any{
	reflect.TypeFor[bow.Design]():    func() any { return bow.Generic() },
	reflect.TypeFor[arrow.Design]():  func() any { return arrow.Generic() },
	reflect.TypeFor[arrow.Setup]():   func() any { return arrow.GenericSetup() },
	reflect.TypeFor[flight.Air]():    func() any { return flight.StandardAir() },
	reflect.TypeFor[flight.Drag]():   func() any { return flight.FletchedDrag() },
	reflect.TypeFor[flight.Launch](): func() any { return flight.Launch{Speed: 58, Elevation: 0.05} },
	reflect.TypeFor[group.Face]():    func() any { return group.Faces()[0] },
	reflect.TypeFor[trial.Measure](): func() any { return trial.Level },
	reflect.TypeFor[num.Matrix]():    func() any { return num.NewMatrix(3, 3) },
	reflect.TypeFor[flight.Body](): func() any {
		return flight.Body{Mass: 0.021, Length: 0.73, Balance: 0.45, Inertia: 0.0011, Diameter: 0.0055, Drag: flight.BareDrag()}
	},
	reflect.TypeFor[unit.Unit[unit.Length]](): func() any { return unit.MM },
}

// ours are types whose values only their package makes; none is spoilt.
var ours = map[reflect.Type]bool{reflect.TypeFor[group.Face](): true, reflect.TypeFor[unit.Unit[unit.Length]](): true, reflect.TypeFor[num.Matrix](): true}

// entries are the functions by their names, and some that need an object first,
// with what makes it.
var entries = map[string]any{
	"arrow.Design.Validate":     arrow.Design.Validate,
	"arrow.New":                 arrow.New,
	"arrow.NewRiseSimulator":    arrow.NewRiseSimulator,
	"arrow.NewSimulator":        arrow.NewSimulator,
	"arrow.Riser.Validate":      arrow.Riser.Validate,
	"arrow.Setup.Validate":      arrow.Setup.Validate,
	"bow.BraceRange.Check":      bow.BraceRange.Check,
	"bow.BraceRange.Validate":   bow.BraceRange.Validate,
	"bow.Bundle.At":             bow.Bundle.At,
	"bow.Bundle.PerTurn":        bow.Bundle.PerTurn,
	"bow.Bundle.TurnsFor":       bow.Bundle.TurnsFor,
	"bow.Bundle.Validate":       bow.Bundle.Validate,
	"bow.Design.Validate":       bow.Design.Validate,
	"bow.HelixAngle":            bow.HelixAngle,
	"bow.Known.Validate":        bow.Known.Validate,
	"bow.PairSetup.Validate":    bow.PairSetup.Validate,
	"bow.ShorteningRigid":       bow.ShorteningRigid,
	"bow.ShorteningVolume":      bow.ShorteningVolume,
	"bow.StringSpec.Guess":      bow.StringSpec.Guess,
	"bow.TorquePerForce":        bow.TorquePerForce,
	"flight.Air.Validate":       flight.Air.Validate,
	"flight.Body.Validate":      flight.Body.Validate,
	"flight.FitMarks":           flight.FitMarks,
	"flight.New":                flight.New,
	"flight.PointMass.Aim":      flight.PointMass.Aim,
	"flight.PointMass.Level":    flight.PointMass.Level,
	"flight.PointMass.Validate": flight.PointMass.Validate,
	"group.ArrowOffsets":        group.ArrowOffsets,
	"group.CountRings":          group.CountRings,
	"group.Describe":            group.Describe,
	"group.ExpectedOf":          group.ExpectedOf,
	"group.ExpectedScore":       group.ExpectedScore,
	"group.FaceByKey":           group.FaceByKey,
	"group.FitRings":            group.FitRings,
	"group.ForecastRound":       group.ForecastRound,
	"group.MomentsOf":           group.MomentsOf,
	"group.Outliers":            group.Outliers,
	"group.SigmaForScore":       group.SigmaForScore,
	"trial.ArrowsNeeded":        trial.ArrowsNeeded,

	"trial.DecideLevels":    trial.DecideLevels,
	"trial.FalsePreference": trial.FalsePreference,
	"trial.FeelText":        trial.FeelText,
	"trial.FitSurface":      trial.FitSurface,
	"trial.FollowPairs":     trial.FollowPairs,
	"trial.LearnStep":       trial.LearnStep,
	"trial.ObserveSetups":   trial.ObserveSetups,
	"trial.PlanBrace":       trial.PlanBrace,
	"trial.PlanSham":        trial.PlanSham,
	"trial.ReplanBrace":     trial.ReplanBrace,
	"trial.SettingByKey":    trial.SettingByKey,
	"trial.TwistTable":      trial.TwistTable,
	"unit.For":              unit.For,
	"unit.ParseAngle":       unit.ParseAngle,
	"unit.ParseDuration":    unit.ParseDuration,
	"unit.ParseEnergy":      unit.ParseEnergy,
	"unit.ParseForce":       unit.ParseForce,
	"unit.ParseForceIn":     unit.ParseForceIn,
	"unit.ParseLength":      unit.ParseLength,
	"unit.ParseLengthIn":    unit.ParseLengthIn,
	"unit.ParseMass":        unit.ParseMass,
	"unit.ParseMassIn":      unit.ParseMassIn,
	"unit.ParsePressure":    unit.ParsePressure,
	"unit.ParseSpeed":       unit.ParseSpeed,
	"unit.ParseSpeedIn":     unit.ParseSpeedIn,
	"unit.ParseSpine":       unit.ParseSpine,
	"unit.ParseStiffness":   unit.ParseStiffness,
	"unit.ParseTemperature": unit.ParseTemperature,
	// Objects, with what makes them.
	"flight: fly": func(b flight.Body, a flight.Air, l flight.Launch, w flight.Wind, far unit.Length) (flight.Impact, error) {
		f, err := flight.New(b, a)
		if err != nil {
			return flight.Impact{}, err
		}
		return f.Fly(l, w, far)
	},
	"flight: aim": func(b flight.Body, a flight.Air, l flight.Launch, w flight.Wind, far, rise unit.Length) (unit.Angle, flight.Impact, error) {
		f, err := flight.New(b, a)
		if err != nil {
			return 0, flight.Impact{}, err
		}
		return f.Aim(l, w, far, rise)
	},
	"group: moments": func(shots []group.Shot) (unit.Length, float64, group.Ellipse, error) {
		m, err := group.MomentsOf(shots)
		if err == nil && m.DF == 0 {
			err = errors.New("no spread without two arrows of one end")
		}
		if err != nil {
			return 0, 0, group.Ellipse{}, err
		}
		return m.S(), m.SS(), m.Ellipse(), nil
	},
	"arrow: frequencies": func(d arrow.Design) ([]float64, unit.Force, error) {
		a, err := arrow.New(d, arrow.Resolution{})
		if err != nil {
			return nil, 0, err
		}
		return a.Frequencies(), a.BucklingForce(), nil
	},
}

// passedOver says why a function, or all methods of a type, have no entry of
// their own.
var passedOver = map[string]string{
	"trial.CompareVisits":       "open: P is NaN while it cannot tell",
	"trial.PlanTwo":             "open: times that are none are taken, and give no number",
	"trial.PlanLevels":          "open: times that are none are taken, and give no number",
	"trial.PlanFactorial":       "open: times that are none are taken, and give no number",
	"trial.PlanConfirm":         "open: times that are none are taken, and give no number",
	"trial.DecideWalkBack":      "open: distances beyond any field are taken, and give no number",
	"trial.DecideBareShaft":     "open: places beyond any field are taken, and give no number",
	"trial.CompareFixed":        "open: places beyond any field are taken, and give no number",
	"arrow.Arrow.WithSpine":     "solves with what was checked when it was made: held by its own tests",
	"arrow.NewDrive":            "a mesh or a simulation of any size: held by its own tests",
	"arrow.RiseSimulator.Shoot": "solves with what was checked when it was made: held by its own tests",
	"arrow.Simulator.Judge":     "solves with what was checked when it was made: held by its own tests",
	"arrow.Simulator.Shoot":     "solves with what was checked when it was made: held by its own tests",
	"bow.Chain.Validate":        "solves with what was checked when it was made: held by its own tests",
	"bow.Compare":               "takes two models, and a missing one is a mistake of the program",
	"bow.Discretize":            "a mesh or a simulation of any size: held by its own tests",
	"bow.Fit.Ensemble":          "wants a fit: held by its own tests",
	"bow.Fit.Freedom":           "wants a fit: held by its own tests",
	"bow.Fit.Moved":             "wants a fit: held by its own tests",
	"bow.Model.At":              "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Beyond":          "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Brace":           "solves with what was checked when it was made: held by its own tests",
	"bow.Model.BraceTwisted":    "solves with what was checked when it was made: held by its own tests",
	"bow.Model.BraceWithString": "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Curve":           "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Draw":            "solves with what was checked when it was made: held by its own tests",
	"bow.Model.DrawString":      "solves with what was checked when it was made: held by its own tests",
	"bow.Model.LearnTwist":      "solves with what was checked when it was made: held by its own tests",
	"bow.Model.NewPair":         "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Reach":           "solves with what was checked when it was made: held by its own tests",
	"bow.Model.TwistFor":        "solves with what was checked when it was made: held by its own tests",
	"bow.New":                   "a mesh or a simulation of any size: held by its own tests",
	"bow.Pair.Draw":             "solves with what was checked when it was made: held by its own tests",
	"bow.Scale":                 "fits a bow: held by its own tests",
	"flight.Flyer.Aim":          "tried as flight: aim",
	"flight.Flyer.Drift":        "solves with what was checked when it was made: held by its own tests",
	"flight.Flyer.Fly":          "tried as flight: fly",
	"flight.Flyer.Path":         "solves with what was checked when it was made: held by its own tests",
	"flight.Marks.Predict":      "solves with what was checked when it was made: held by its own tests",
	"group.CSVWriter.Flush":     "writes",
	"group.CSVWriter.Write":     "writes",
	"group.NewCSVWriter":        "reads or writes a table: held by its own tests",
	"group.ReadCSV":             "reads or writes a table: held by its own tests",
	"group.WriteCSV":            "reads or writes a table: held by its own tests",
	"num.Estimate.MarshalJSON":  "writes null for what is none: held by its own tests",
	"num.Status.Err":            "gives an error and no number",
	"shot.Modes":                "a mesh or a simulation of any size: held by its own tests",
	"shot.NewModel":             "a mesh or a simulation of any size: held by its own tests",
	"shot.NewPairSimulator":     "a mesh or a simulation of any size: held by its own tests",
	"shot.NewSimulator":         "a mesh or a simulation of any size: held by its own tests",
	"shot.NewSimulatorAt":       "a mesh or a simulation of any size: held by its own tests",
	"shot.PairSimulator.Run":    "solves with what was checked when it was made: held by its own tests",
	"shot.Shoot":                "a mesh or a simulation of any size: held by its own tests",
	"shot.Simulator.Run":        "solves with what was checked when it was made: held by its own tests",
	"trial.ComparePairs":        "simulates: held by its own tests",
	"trial.DecideBrace":         "simulates: held by its own tests",
	"trial.Learn":               "gives a function: held by its own tests",
	"trial.Surface.Region":      "solves with what was checked when it was made: held by its own tests",
	"unit.Parse":                "reads text: held by its own tests",
	"unit.ParseIn":              "reads text: held by its own tests",
	"unit.Read":                 "reads text: held by its own tests",
	"unit.Style.Read":           "reads text: held by its own tests",
	"unit.Text.MarshalText":     "reads text: held by its own tests",
	"unit.Text.UnmarshalJSON":   "reads text: held by its own tests",
	"unit.Text.UnmarshalText":   "reads text: held by its own tests",
}
