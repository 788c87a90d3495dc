package edge

import (
	"encoding/json"
	"errors"
	"os"
	"reflect"
	"sync"

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

// packages are those that compute in plain numbers.
var packages = []string{"num", "unit", "group", "trial", "bow", "arrow", "flight", "shot", "sound", "workbench"}

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
	reflect.TypeFor[unit.Unit[unit.Length]]():  func() any { return unit.MM },
	reflect.TypeFor[notebook.Settings]():       func() any { return heron() },
	reflect.TypeFor[unit.Style[unit.Length]](): func() any { return unit.Metric().SettingStyle() },
}

// heron is the set-up of an invented bow.
var heron = sync.OnceValue(func() notebook.Settings {
	raw, err := os.ReadFile("../../examples/heron-70.json")
	if err != nil {
		panic(err) // the file is beside this one
	}
	var s notebook.Settings
	if err := json.Unmarshal(raw, &s); err != nil {
		panic(err)
	}
	return s
})

// ours are types whose values only their package makes; none is spoilt.
var ours = map[reflect.Type]bool{reflect.TypeFor[unit.Style[unit.Length]](): true, reflect.TypeFor[group.Face](): true, reflect.TypeFor[unit.Unit[unit.Length]](): true, reflect.TypeFor[num.Matrix](): true}

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

	"trial.DecideLevels":             trial.DecideLevels,
	"trial.FalsePreference":          trial.FalsePreference,
	"trial.FeelText":                 trial.FeelText,
	"trial.FitSurface":               trial.FitSurface,
	"trial.FollowPairs":              trial.FollowPairs,
	"trial.LearnStep":                trial.LearnStep,
	"trial.ObserveSetups":            trial.ObserveSetups,
	"trial.PlanBrace":                trial.PlanBrace,
	"trial.PlanSham":                 trial.PlanSham,
	"trial.ReplanBrace":              trial.ReplanBrace,
	"trial.SettingByKey":             trial.SettingByKey,
	"trial.TwistTable":               trial.TwistTable,
	"unit.For":                       unit.For,
	"unit.ParseAngle":                unit.ParseAngle,
	"unit.ParseDuration":             unit.ParseDuration,
	"unit.ParseEnergy":               unit.ParseEnergy,
	"unit.ParseForce":                unit.ParseForce,
	"unit.ParseForceIn":              unit.ParseForceIn,
	"unit.ParseLength":               unit.ParseLength,
	"unit.ParseLengthIn":             unit.ParseLengthIn,
	"unit.ParseMass":                 unit.ParseMass,
	"unit.ParseMassIn":               unit.ParseMassIn,
	"unit.ParsePressure":             unit.ParsePressure,
	"unit.ParseSpeed":                unit.ParseSpeed,
	"unit.ParseSpeedIn":              unit.ParseSpeedIn,
	"unit.ParseSpine":                unit.ParseSpine,
	"unit.ParseStiffness":            unit.ParseStiffness,
	"unit.ParseTemperature":          unit.ParseTemperature,
	"sound.ComplexPoles":             sound.ComplexPoles,
	"sound.NewSignature":             sound.NewSignature,
	"sound.RealPoles":                sound.RealPoles,
	"workbench.CheckFace":            workbench.CheckFace,
	"workbench.FromSettings":         workbench.FromSettings,
	"workbench.Expect":               workbench.Expect,
	"workbench.DecideTiller":         workbench.DecideTiller,
	"workbench.ReadAir":              workbench.ReadAir,
	"workbench.ReadOffset":           workbench.ReadOffset,
	"workbench.SidewaysFromSettings": workbench.SidewaysFromSettings,
	// What takes records takes those that the notebook has checked.
	"workbench.Volleys": func(ends []notebook.End) ([]workbench.Volley, error) {
		for _, e := range ends {
			if err := e.Check(); err != nil {
				return nil, err
			}
		}
		return workbench.Volleys(ends, nil)
	},
	"workbench.PlanTiller": func(s notebook.Settings, blocks int, seed uint64) (workbench.TillerPlan, error) {
		if err := s.Check(); err != nil {
			return workbench.TillerPlan{}, err
		}
		return workbench.PlanTiller(s, blocks, seed)
	},
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
	"group: moments": func(shots []group.Shot) (all []any, err error) {
		m, err := group.MomentsOf(shots)
		if err == nil && m.DF == 0 {
			err = errors.New("no spread without two arrows of one end")
		}
		if err != nil {
			return nil, err
		}
		xx, xy, yy := m.Covariance()
		sigma, nu := m.Sigma()
		return []any{m.S(), m.SS(), m.Ellipse(), m.CentreInterval(), m.MeanRadius(), m.SpreadOf(), xx, xy, yy, sigma, nu, m.EllipseDF(), m.SigmaRight(), m.SigmaUp(), m.SigmaCircular(), m.SigmaElliptical()}, nil
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
	"arrow.Arrow.*":                    "made by a constructor, and tried with it or held by its own tests",
	"arrow.Design.Balance":             "tried as arrow.Design: weights",
	"arrow.Design.FOC":                 "tried as arrow.Design: weights",
	"arrow.Design.Inertia":             "tried as arrow.Design: weights",
	"arrow.Design.Mass":                "tried as arrow.Design: weights",
	"arrow.Drive.*":                    "made by a constructor, and tried with it or held by its own tests",
	"arrow.Fading.Push":                "of fingers that Setup.Validate let through: held by its own tests",
	"arrow.HalfSine.Push":              "of fingers that Setup.Validate let through: held by its own tests",
	"arrow.Guided.Push":                "made by a constructor, and tried with it or held by its own tests",
	"arrow.NewUpright":                 "takes a size that the program chooses, or what a constructor made",
	"arrow.Result.*":                   "made by a constructor, and tried with it or held by its own tests",
	"arrow.Upright.*":                  "made by a constructor, and tried with it or held by its own tests",
	"bow.Curve.*":                      "made by a constructor, and tried with it or held by its own tests",
	"bow.FromChain":                    "takes a size that the program chooses, or what a constructor made",
	"bow.NewWrap":                      "takes a size that the program chooses, or what a constructor made",
	"bow.Pair.*":                       "made by a constructor, and tried with it or held by its own tests",
	"bow.PairCurve.*":                  "made by a constructor, and tried with it or held by its own tests",
	"bow.PairState.*":                  "made by a constructor, and tried with it or held by its own tests",
	"flight.Air.Density":               "tried as flight.Air: density",
	"flight.Air.Viscosity":             "tried as flight.Air: density",
	"flight.Body.EstimatedSlopes":      "tried as flight.Body: slopes",
	"flight.Marks.Covariance":          "made by a constructor, and tried with it or held by its own tests",
	"flight.PointMass.Flat":            "tried as flight.PointMass: flat",
	"group.Moments.CentreInterval":     "tried as group: moments",
	"group.Moments.Covariance":         "tried as group: moments",
	"group.Moments.Ellipse":            "tried as group: moments",
	"group.Moments.EllipseDF":          "tried as group: moments",
	"group.Moments.MeanRadius":         "tried as group: moments",
	"group.Moments.S":                  "tried as group: moments",
	"group.Moments.SS":                 "tried as group: moments",
	"group.Moments.Sigma":              "tried as group: moments",
	"group.Moments.SigmaCircular":      "tried as group: moments",
	"group.Moments.SigmaElliptical":    "tried as group: moments",
	"group.Moments.SigmaRight":         "tried as group: moments",
	"group.Moments.SigmaUp":            "tried as group: moments",
	"group.Moments.SpreadOf":           "tried as group: moments",
	"num.BandCholesky.*":               "made by a constructor, and tried with it or held by its own tests",
	"num.Cholesky.*":                   "made by a constructor, and tried with it or held by its own tests",
	"num.Curve.*":                      "made by a constructor, and tried with it or held by its own tests",
	"num.DormandPrince.*":              "made by a constructor, and tried with it or held by its own tests",
	"num.Fit.*":                        "made by a constructor, and tried with it or held by its own tests",
	"num.LDL.*":                        "made by a constructor, and tried with it or held by its own tests",
	"num.LU.*":                         "made by a constructor, and tried with it or held by its own tests",
	"num.LinearFit.*":                  "made by a constructor, and tried with it or held by its own tests",
	"num.Matrix.*":                     "made by a constructor, and tried with it or held by its own tests",
	"num.NewBandCholesky":              "takes a size that the program chooses, or what a constructor made",
	"num.NewCholesky":                  "takes a size that the program chooses, or what a constructor made",
	"num.NewDormandPrince":             "takes a size that the program chooses, or what a constructor made",
	"num.NewLDL":                       "takes a size that the program chooses, or what a constructor made",
	"num.NewLU":                        "takes a size that the program chooses, or what a constructor made",
	"num.NewMatrix":                    "takes a size that the program chooses, or what a constructor made",
	"num.NewMonotone":                  "open: takes tables with numbers that are none",
	"num.NewQR":                        "takes a size that the program chooses, or what a constructor made",
	"num.NewRK4":                       "takes a size that the program chooses, or what a constructor made",
	"num.NewSpline":                    "open: takes tables with numbers that are none",
	"num.NewTridiagonal":               "takes a size that the program chooses, or what a constructor made",
	"num.QR.*":                         "made by a constructor, and tried with it or held by its own tests",
	"num.RK4.*":                        "made by a constructor, and tried with it or held by its own tests",
	"num.Refuse":                       "gives an error and no number",
	"num.Tridiagonal.*":                "made by a constructor, and tried with it or held by its own tests",
	"sound.BandDecay.MarshalJSON":      "reads or writes a file or a table: fuzzed",
	"sound.BandDecay.UnmarshalJSON":    "reads or writes a file or a table: fuzzed",
	"sound.Clip.Decay":                 "its range is +Inf where no background is known: held by its own tests",
	"sound.Clip.End":                   "tried as sound: a clip",
	"sound.Clip.Envelope":              "tried as sound: a clip",
	"sound.Clip.Measure":               "tried as sound: a clip",
	"sound.Clip.Spectrogram":           "tried as sound: a clip",
	"sound.Clip.Spectrum":              "tried as sound: a clip",
	"sound.EncodeClip":                 "reads or writes a file or a table: fuzzed",
	"sound.EncodeWAV":                  "reads or writes a file or a table: fuzzed",
	"sound.EncodeWaveLayout":           "reads or writes a file or a table: fuzzed",
	"sound.EqualGain":                  "tried as sound: a clip",
	"sound.ErrorCode":                  "gives an error and no number",
	"sound.Extract":                    "reads or writes a file or a table: fuzzed",
	"sound.ExtractAll":                 "reads or writes a file or a table: fuzzed",
	"sound.FileError.Unwrap":           "gives an error and no number",
	"sound.Listen":                     "reads or writes a file or a table: fuzzed",
	"sound.Mode.MarshalJSON":           "reads or writes a file or a table: fuzzed",
	"sound.Mode.UnmarshalJSON":         "reads or writes a file or a table: fuzzed",
	"sound.Open":                       "reads or writes a file or a table: fuzzed",
	"sound.Overview.Envelope":          "made by a constructor, and tried with it or held by its own tests",
	"sound.Shot.MarshalJSON":           "reads or writes a file or a table: fuzzed",
	"sound.Shot.UnmarshalJSON":         "reads or writes a file or a table: fuzzed",
	"sound.Signature.Judge":            "made by a constructor, and tried with it or held by its own tests",
	"sound.Similarity":                 "tried as sound: a clip",
	"sound.Sniff":                      "reads or writes a file or a table: fuzzed",
	"sound.Spectrogram.Bounded":        "made by a constructor, and tried with it or held by its own tests",
	"sound.Spectrum.Lines":             "made by a constructor, and tried with it or held by its own tests",
	"sound.Stream.*":                   "reads or writes a file or a table: fuzzed",
	"sound.StuckDecoders":              "counts",
	"sound.ThirdOctaves":               "of shots cut from one recording: held by its own tests",
	"trial.Surface.At":                 "made by a constructor, and tried with it or held by its own tests",
	"unit.ParseError.For":              "gives an error and no number",
	"workbench.AdviseHeight":           "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.BowModel.*":             "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.BowRecords.Foretell":    "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.BowRecords.ForetellFit": "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Choose":                 "of a plan that PlanTrial or PlanBrace made: held by its own tests, and by the bank of cases",
	"workbench.Compare":                "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.ComparePair":            "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.CompareVolleys":         "of volleys that Volleys made: held by its own tests",
	"workbench.DecideNocking":          "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.DescribeVolley":         "of volleys that Volleys made: held by its own tests",
	"workbench.EndWriter.*":            "reads or writes a file or a table: fuzzed",
	"workbench.Explain":                "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.ExplainForgiveness":     "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.FitBow":                 "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.FittedBow.*":            "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Forgive":                "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.HeightMoves":            "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.JudgeBrace":             "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.JudgeNocking":           "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.JudgeTrial":             "of a plan that PlanTrial or PlanBrace made: held by its own tests, and by the bank of cases",
	"workbench.BowRecords.LatestFit":   "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.LatestFit":              "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Learn":                  "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Listen":                 "reads or writes a file or a table: fuzzed",
	"workbench.LookUpright":            "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Match":                  "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.NewBowModel":            "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.NewEndWriter":           "reads or writes a file or a table: fuzzed",
	"workbench.NewSlopes":              "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.NewTargetModel":         "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Observe":                "of volleys that Volleys made: held by its own tests",
	"workbench.Piece":                  "reads or writes a file or a table: fuzzed",
	"workbench.PlanBrace":              "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.TrialAsk.FromSetUp":     "open: gives back every number of the question, also one that is none",
	"bow.Model.Chain":                  "made by a constructor, and tried with it or held by its own tests",
	"bow.Model.Design":                 "made by a constructor, and tried with it or held by its own tests",
	"workbench.PlanTrial":              "open: a number of the question that this kind of trial does not use is given back as it came",
	"workbench.Predict":                "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.PredictTarget":          "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.PredictUpright":         "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Probe":                  "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.ReadEnds":               "reads or writes a file or a table: fuzzed",
	"workbench.ReadMarks":              "reads or writes a file or a table: fuzzed",
	"workbench.ReadReadings":           "reads or writes a file or a table: fuzzed",
	"workbench.ReadVolleys":            "reads or writes a file or a table: fuzzed",
	"workbench.RestoreFit":             "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Shafts":                 "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.ShotDecay":              "reads or writes a file or a table: fuzzed",
	"workbench.Sight":                  "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Slopes.Base":            "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Spectrogram":            "reads or writes a file or a table: fuzzed",
	"workbench.Stand":                  "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Standings":              "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.TargetModel.*":          "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Volley.*":               "made by a constructor, and tried with it or held by its own tests",
	"workbench.Waveform":               "reads or writes a file or a table: fuzzed",
	"workbench.WriteClip":              "reads or writes a file or a table: fuzzed",
	"workbench.WritePair":              "reads or writes a file or a table: fuzzed",
	"trial.CompareVisits":              "open: P is NaN while it cannot tell",
	"trial.PlanTwo":                    "open: times that are none are taken, and give no number",
	"trial.PlanLevels":                 "open: times that are none are taken, and give no number",
	"trial.PlanFactorial":              "open: times that are none are taken, and give no number",
	"trial.PlanConfirm":                "open: times that are none are taken, and give no number",
	"trial.DecideWalkBack":             "open: distances beyond any field are taken, and give no number",
	"trial.DecideBareShaft":            "open: places beyond any field are taken, and give no number",
	"trial.CompareFixed":               "open: places beyond any field are taken, and give no number",
	"arrow.Arrow.WithSpine":            "solves with what was checked when it was made: held by its own tests",
	"arrow.NewDrive":                   "a mesh or a simulation of any size: held by its own tests",
	"arrow.RiseSimulator.Shoot":        "solves with what was checked when it was made: held by its own tests",
	"arrow.Simulator.Judge":            "solves with what was checked when it was made: held by its own tests",
	"arrow.Simulator.Shoot":            "solves with what was checked when it was made: held by its own tests",
	"bow.Chain.Validate":               "solves with what was checked when it was made: held by its own tests",
	"bow.Compare":                      "takes two models, and a missing one is a mistake of the program",
	"bow.Discretize":                   "a mesh or a simulation of any size: held by its own tests",
	"bow.Fit.Ensemble":                 "wants a fit: held by its own tests",
	"bow.Fit.Freedom":                  "wants a fit: held by its own tests",
	"bow.Fit.Moved":                    "wants a fit: held by its own tests",
	"bow.Model.At":                     "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Beyond":                 "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Brace":                  "solves with what was checked when it was made: held by its own tests",
	"bow.Model.BraceTwisted":           "solves with what was checked when it was made: held by its own tests",
	"bow.Model.BraceWithString":        "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Curve":                  "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Draw":                   "solves with what was checked when it was made: held by its own tests",
	"bow.Model.DrawString":             "solves with what was checked when it was made: held by its own tests",
	"bow.Model.LearnTwist":             "solves with what was checked when it was made: held by its own tests",
	"bow.Model.NewPair":                "solves with what was checked when it was made: held by its own tests",
	"bow.Model.Reach":                  "solves with what was checked when it was made: held by its own tests",
	"bow.Model.TwistFor":               "solves with what was checked when it was made: held by its own tests",
	"bow.New":                          "a mesh or a simulation of any size: held by its own tests",
	"bow.Pair.Draw":                    "solves with what was checked when it was made: held by its own tests",
	"bow.Scale":                        "fits a bow: held by its own tests",
	"flight.Flyer.Aim":                 "tried as flight: aim",
	"flight.Flyer.Drift":               "solves with what was checked when it was made: held by its own tests",
	"flight.Flyer.Fly":                 "tried as flight: fly",
	"flight.Flyer.Path":                "solves with what was checked when it was made: held by its own tests",
	"flight.Marks.Predict":             "solves with what was checked when it was made: held by its own tests",
	"group.CSVWriter.Flush":            "writes",
	"group.CSVWriter.Write":            "writes",
	"group.NewCSVWriter":               "reads or writes a table: held by its own tests",
	"group.ReadCSV":                    "reads or writes a table: held by its own tests",
	"group.WriteCSV":                   "reads or writes a table: held by its own tests",
	"num.Estimate.MarshalJSON":         "writes null for what is none: held by its own tests",
	"num.Status.Err":                   "gives an error and no number",
	"shot.Modes":                       "a mesh or a simulation of any size: held by its own tests",
	"shot.NewModel":                    "a mesh or a simulation of any size: held by its own tests",
	"shot.NewPairSimulator":            "a mesh or a simulation of any size: held by its own tests",
	"shot.NewSimulator":                "a mesh or a simulation of any size: held by its own tests",
	"shot.NewSimulatorAt":              "a mesh or a simulation of any size: held by its own tests",
	"shot.PairSimulator.Run":           "solves with what was checked when it was made: held by its own tests",
	"shot.Shoot":                       "a mesh or a simulation of any size: held by its own tests",
	"shot.Simulator.Run":               "solves with what was checked when it was made: held by its own tests",
	"trial.ComparePairs":               "simulates: held by its own tests",
	"trial.DecideBrace":                "simulates: held by its own tests",
	"trial.Learn":                      "gives a function: held by its own tests",
	"trial.Surface.Region":             "solves with what was checked when it was made: held by its own tests",
	"unit.Parse":                       "reads text: held by its own tests",
	"unit.ParseIn":                     "reads text: held by its own tests",
	"unit.Read":                        "reads text: held by its own tests",
	"unit.Style.Read":                  "reads text: held by its own tests",
	"unit.Text.MarshalText":            "reads text: held by its own tests",
	"unit.Text.UnmarshalJSON":          "reads text: held by its own tests",
	"unit.Text.UnmarshalText":          "reads text: held by its own tests",
}
