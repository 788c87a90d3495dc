package edge

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"reflect"
	"sync"
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
	reflect.TypeFor[notebook.ID](): func() any { return notebook.ID("0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e") },
	reflect.TypeFor[time.Time]():   func() any { return time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC) },
	reflect.TypeFor[bow.Bundle]():  func() any { return bow.Bundle{Strand: 1.66, Radius: 0.001, EA: 200_000} },
	reflect.TypeFor[bow.Known](): func() any {
		return bow.Known{BowLength: 1.727, DrawWeight: 169, Draw: bow.PivotDraw(0.724), Brace: 0.22, Doubt: bow.ReadingDoubt{DrawWeight: 2, Points: 2, Brace: 0.0015, StringLength: 0.004}}
	},
	reflect.TypeFor[bow.PairSetup]():  func() any { return bow.PairSetup{Tiller: 0.004, Nock: 0.005, Hook: 0.006, RestY: 0.04} },
	reflect.TypeFor[bow.StringSpec](): func() any { return bow.StringSpec{Material: bow.HMPE, Strands: 18, Length: 1.66} },
	reflect.TypeFor[bow.BraceRange](): func() any { return bow.BraceRange{Low: 0.21, High: 0.235} },
	reflect.TypeFor[flight.Mark]():    func() any { return flight.Mark{Distance: 30, Reading: 0.02} },
	reflect.TypeFor[flight.PointMass](): func() any {
		return flight.PointMass{Mass: 0.021, Diameter: 0.0055, Drag: flight.FletchedDrag(), Air: flight.StandardAir()}
	},
	reflect.TypeFor[trial.BracePlanInput](): func() any {
		return trial.BracePlanInput{LimbLow: 0.21, LimbHigh: 0.235, Brace: 0.22, Turns: 22, Curve: trial.ConstantStep(0.22, 0.0013, 0.1)}
	},
	reflect.TypeFor[unit.Unit[unit.Length]]():  func() any { return unit.MM },
	reflect.TypeFor[unit.Unit[unit.Force]]():   func() any { return unit.Lbf },
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
var ours = map[reflect.Type]bool{reflect.TypeFor[unit.Style[unit.Length]](): true, reflect.TypeFor[group.Face](): true, reflect.TypeFor[unit.Unit[unit.Length]](): true, reflect.TypeFor[unit.Unit[unit.Force]](): true, reflect.TypeFor[num.Matrix](): true}

// entries are the functions by their names, and some that need an object first,
// with what makes it.
var entries = map[string]any{
	"arrow.Design.Validate":  arrow.Design.Validate,
	"arrow.New":              arrow.New,
	"arrow.NewRiseSimulator": arrow.NewRiseSimulator,
	"arrow.NewSimulator":     arrow.NewSimulator,
	"arrow.Riser.Validate":   arrow.Riser.Validate,
	"arrow.Setup.Validate":   arrow.Setup.Validate,
	"bow.BraceRange.Check": func(r bow.BraceRange, reading, offset unit.Length) (bow.RangeCheck, error) {
		return r.Check(0.2+reading/100, offset/1000)
	},
	"bow.BraceRange.Validate": bow.BraceRange.Validate,
	"bow.Bundle.At":           bow.Bundle.At,
	"bow.Bundle.PerTurn":      bow.Bundle.PerTurn,
	"bow.Bundle.TurnsFor":     bow.Bundle.TurnsFor,
	"bow.Bundle.Validate":     bow.Bundle.Validate,
	"bow.Design.Validate":     bow.Design.Validate,
	"bow.HelixAngle":          bow.HelixAngle,
	"bow.Known.Validate":      bow.Known.Validate,
	"bow.PairSetup.Validate":  bow.PairSetup.Validate,
	"bow.ShorteningRigid":     bow.ShorteningRigid,
	"bow.ShorteningVolume":    bow.ShorteningVolume,
	"bow.StringSpec.Guess":    bow.StringSpec.Guess,
	"bow.TorquePerForce":      bow.TorquePerForce,
	"flight.Air.Validate":     flight.Air.Validate,
	"flight.Body.Validate":    flight.Body.Validate,
	"flight.FitMarks": func(marks []flight.Mark, sight flight.Sight, known flight.Expected, usual bool) (*flight.Marks, error) {
		if usual {
			sight, known = flight.Sight{}, flight.Expected{}
		}
		known = flight.Expected{Mass: 0.021, Diameter: 0.0055, Drag: 1.8, Air: flight.StandardAir(), Speed: 57, SpeedDoubt: 3, DragDoubt: known.DragDoubt}
		sight.Reach, sight.ReachDoubt, sight.EyeAboveNock, sight.Doubt = 0.9, 0.01, 0.12, 0.0005
		for i := range marks {
			marks[i].Distance += unit.Length(18 + 5*i)
			marks[i].Reading += unit.Length(i) / 200
		}
		return flight.FitMarks(marks, sight, known)
	},
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
	"group.ForecastRound": func(f group.Face, shaft unit.Length, sigma num.Estimate[unit.Length], from, to unit.Length, n int) (group.RoundForecast, error) {
		return group.ForecastRound(f, shaft/1000, group.Estimate[unit.Length]{Value: sigma.Value / 100, Low: sigma.Low / 100, High: sigma.High / 100, Level: 0.95}, from, to, n)
	},
	"group.MomentsOf":     group.MomentsOf,
	"group.Outliers":      group.Outliers,
	"group.SigmaForScore": group.SigmaForScore,
	"trial.ArrowsNeeded":  trial.ArrowsNeeded,

	"trial.CompareFixed": trial.CompareFixed,
	"trial.CompareVisits": func(visits []trial.Visit) (trial.VisitsVerdict, error) {
		for i := range visits {
			visits[i].Setting = "ABBA"[i%4 : i%4+1]
		}
		return trial.CompareVisits(visits, trial.Confidence)
	},
	"trial.DecideBareShaft": trial.DecideBareShaft,
	"trial.DecideWalkBack":  trial.DecideWalkBack,
	"trial.PlanConfirm":     trial.PlanConfirm,
	"trial.PlanFactorial":   trial.PlanFactorial,
	"trial.PlanLevels":      trial.PlanLevels,
	"trial.PlanTwo":         trial.PlanTwo,
	"num.NewMonotone":       num.NewMonotone,
	"num.NewSpline":         num.NewSpline,
	"workbench.PlanTrial": func(a workbench.TrialAsk, kind int) (workbench.TrialPlan, error) {
		a.What = workbench.ShootingTrials[max(kind, 0)%len(workbench.ShootingTrials)]
		if kind%2 == 0 { // as most are asked
			a = workbench.TrialAsk{What: a.What, ArrowMinutes: a.ArrowMinutes, Reduction: a.Reduction, Seed: a.Seed, A: a.A, B: a.B}
		}
		return workbench.PlanTrial(a)
	},
	"workbench.TrialAsk.FromSetUp": func(a workbench.TrialAsk, s notebook.Settings) (workbench.TrialAsk, error) {
		if err := s.Check(); err != nil {
			return a, err
		}
		return a.FromSetUp(s)
	},
	"trial.DecideLevels": func(levels []trial.SettingLevel) (trial.LevelsVerdict, error) {
		v, err := trial.DecideLevels(levels, trial.Confidence)
		if math.IsNaN(v.BestValue) && v.Outcome != trial.BestInside {
			v.BestValue = 0 // documented: there is none
		}
		return v, err
	},
	"trial.FalsePreference": trial.FalsePreference,
	"trial.FeelText":        trial.FeelText,
	"trial.FitSurface": func(runs []trial.Run, more []trial.Run, order trial.SurfaceOrder) (trial.Surface, error) {
		runs = append(runs, more...)
		for i := range runs {
			runs[i].X = append(runs[i].X, 1, -1)[:2]
			runs[i].Var = 0
		}
		return trial.FitSurface(runs, order, trial.Confidence)
	},
	"trial.FollowPairs": trial.FollowPairs,
	"trial.LearnStep": func(readings []trial.TurnReading) (num.Estimate[float64], error) {
		for i := range readings {
			readings[i].Brace = 0.2 + readings[i].Brace/10_000
		}
		return trial.LearnStep(readings)
	},
	"trial.LookConfidence": trial.LookConfidence,
	"trial.ObserveSetups":  trial.ObserveSetups,
	"trial.PlanBrace": func(in trial.BracePlanInput) (trial.BracePlan, error) { // NaN for turns that are not known
		p, err := trial.PlanBrace(in)
		for i := range p.Stops {
			if !(in.Turns > 0) {
				p.Stops[i].Total = 0
			}
		}
		return p, err
	},
	"trial.PlanSham":        trial.PlanSham,
	"trial.ReplanBrace":     trial.ReplanBrace,
	"trial.SettingByKey":    trial.SettingByKey,
	"trial.TwistTable":      trial.TwistTable,
	"unit.For":              unit.For,
	"unit.ParseNumber":      unit.ParseNumber,
	"unit.ParseAngle":       unit.ParseAngle,
	"unit.ParseDuration":    unit.ParseDuration,
	"unit.ParseEnergy":      unit.ParseEnergy,
	"unit.ParseForce":       unit.ParseForce,
	"unit.ParseForceIn":     unit.ParseForceIn,
	"unit.ParseLength":      unit.ParseLength,
	"unit.ParseLengthIn":    unit.ParseLengthIn,
	"unit.ParseMass":        unit.ParseMass,
	"unit.ParseMassIn":      func(text string) (unit.Mass, error) { return unit.ParseMassIn(text, unit.Gr) },
	"unit.ParsePressure":    unit.ParsePressure,
	"unit.ParseSpeed":       unit.ParseSpeed,
	"unit.ParseSpeedIn":     func(text string) (unit.Speed, error) { return unit.ParseSpeedIn(text, unit.MPS) },
	"unit.ParseSpine":       unit.ParseSpine,
	"unit.ParseStiffness":   unit.ParseStiffness,
	"unit.ParseTemperature": unit.ParseTemperature,
	"sound.ComplexPoles":    sound.ComplexPoles,
	"sound.NewSignature": func(shots []sound.Features) (sound.Signature, error) {
		return sound.NewSignature(often(shots))
	},
	"sound.RealPoles": sound.RealPoles,
	"workbench.CheckFace": func(e notebook.End) error {
		e.Face = "122"
		return workbench.CheckFace(e)
	},
	"workbench.FromSettings": workbench.FromSettings,
	"workbench.Expect": func(ask workbench.ExpectAsk, reverse bool) (workbench.ExpectView, error) {
		metres := unit.Metric().SettingStyle()
		if ask.Face = "122"; reverse {
			ask = workbench.ExpectAsk{Face: "122", Score: ask.Score, ShotAt: ask.ShotAt}
		}
		return workbench.Expect(ask, metres, metres)
	},
	"workbench.DecideTiller": func(levels []workbench.TillerLevel) (workbench.TillerVerdict, error) {
		for i := range levels {
			levels[i].Tiller = unit.Length(i)/500 + levels[i].Tiller/100_000
			for j := range levels[i].Hold {
				levels[i].Hold[j] = 1 + max(levels[i].Hold[j], 0)%5
			}
		}
		v, err := workbench.DecideTiller(levels, trial.Confidence)
		for i := range v.Hold {
			if v.Hold[i].Notes < 6 {
				v.Hold[i].Half = 0 // documented: not bounded
			}
		}
		if math.IsNaN(v.Group.BestValue) && v.Group.Outcome != trial.BestInside {
			v.Group.BestValue = 0 // documented: there is none
		}
		return v, err
	},
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
	"num: a curve": func(widths, heights []float64, monotone bool, v, to float64) (num.Status, []float64) {
		n := min(len(widths), len(heights))
		x := make([]float64, n)
		for i := 1; i < n; i++ {
			x[i] = x[i-1] + math.Abs(widths[i])
		}
		made := num.NewSpline
		if monotone {
			made = num.NewMonotone
		}
		c, status := made(x, heights[:n])
		if !status.OK() {
			return status, nil
		}
		low, high := c.Domain()
		span := high - low // far outside a straight line may leave the numbers
		v, to = low-span+3*span*share(positive(v)), low-span+3*span*share(positive(to))
		return status, []float64{low, high, c.At(v), c.Slope(v), c.Area(v, to)}
	},
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
	"num.InFifty":                      "words, held by its own test",
	"trial.ByChance":                   "words of num.InFifty",
	"trial.LevelsVerdict.*":            "words of what trial.DecideLevels found, held by its own tests",
	"trial.Surface.Needed":             "of what trial.FitSurface found, held by its own test",
	"workbench.WithSpare":              "carries a function, and returns no number",
	"workbench.NotLooked":              "says the words it is given",
	"*.Error":                          "the words of a refusal",
	"*.Message":                        "the words of a refusal",
	"*.Hint":                           "the words of a refusal",
	"*.String":                         "names a thing, of a list of words",
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
	"num.Curve.*":                      "tried as num: a curve",
	"num.Cholesky.*":                   "made by a constructor, and tried with it or held by its own tests",
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
	"num.NewQR":                        "takes a size that the program chooses, or what a constructor made",
	"num.NewRK4":                       "takes a size that the program chooses, or what a constructor made",
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
	"sound.TooManyStuck":               "counts",
	"sound.StuckDecoders":              "counts",
	"sound.ThirdOctaves":               "of shots cut from one recording: held by its own tests",
	"trial.Surface.At":                 "made by a constructor, and tried with it or held by its own tests",
	"unit.ParseError.For":              "gives an error and no number",
	"workbench.Shows.*":                "of a probe, which simulates bows for seconds: held by its own tests",
	"workbench.Slopes.Sees":            "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Source.Words":           "names a thing, of a list of words",
	"unit.Typed.IsZero":                "compares with nothing",
	"trial.Surface.InRegion":           "made by a constructor, and tried with it or held by its own tests",
	"sound.Conditions.Compare":         "compares words",
	"workbench.Fittable":               "compares words",
	"workbench.UpwardScale":            "compares words",
	"workbench.Warnings":               "of what a fit gave: held by its own tests",
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
	"workbench.NewReadingWriter":       "reads or writes a file or a table: held by its own tests",
	"workbench.ReadingWriter.*":        "reads or writes a file or a table: held by its own tests",
	"workbench.NewEndWriter":           "reads or writes a file or a table: fuzzed",
	"workbench.NewSlopes":              "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.NewTargetModel":         "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"workbench.Observe":                "of volleys that Volleys made: held by its own tests",
	"workbench.Piece":                  "reads or writes a file or a table: fuzzed",
	"workbench.PlanBrace":              "simulates bows for seconds: held by its own tests, and by the bank of cases",
	"bow.Model.Chain":                  "made by a constructor, and tried with it or held by its own tests",
	"bow.Model.Design":                 "made by a constructor, and tried with it or held by its own tests",
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
	"group.Harmless":                   "reads or writes a table: held by its own tests",
	"group.NewCSVWriter":               "reads or writes a table: held by its own tests",
	"group.OpenTable":                  "reads or writes a table: held by its own tests",
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

// alwaysRefused are those that no input of the generator suits.
var alwaysRefused = map[string]bool{}
