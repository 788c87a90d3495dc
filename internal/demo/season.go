package demo

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// season is one bow through a summer: what is written is kept here too, so
// that forecasts are made from what had been read by then.
type season struct {
	*writer
	workbench.BowRecords
	bow   notebook.ID
	noise *rand.Rand
}

// day moves the invented clock to an evening of the season.
func (s *season) day(n int) { s.at = start.AddDate(0, 0, n).Add(9 * time.Hour) }

func (s *season) now() notebook.SetUp { return s.SetUps[len(s.SetUps)-1] }

// seasons writes what happened to the second and the third bow: a summer of
// changes, forecasts, check readings and a new string; and a trial whose
// verdict a new string has put in doubt.
func (w *writer) seasons(sandpiper, wren notebook.SetUp) error {
	first := &season{writer: w, bow: sandpiper.Bow, noise: rand.New(rand.NewPCG(20260307, 9))}
	first.SetUps = []notebook.SetUp{sandpiper}
	second := &season{writer: w, bow: wren.Bow, noise: rand.New(rand.NewPCG(20260307, 10))}
	second.SetUps = []notebook.SetUp{wren}
	for _, do := range []func() error{first.spring, first.summer, first.autumn, second.beginner} {
		if err := do(); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
	}
	return nil
}

// spring: everything is read off the bow for once, then a trial.
func (s *season) spring() error {
	s.day(3)
	if err := s.change("read off everything for once", "nocking_point", "7 mm", "tiller", "2 mm", "centre_shot", "1.5 mm", "button.spring", "medium", "button", "3",
		"string.length", "1592 mm", "string.shots_on_it", "1800"); err != nil {
		return err
	}
	for i := range 5 {
		s.day(5 + 3*i)
		if err := s.check(0); err != nil {
			return err
		}
	}
	if err := s.speeds(3, 0); err != nil {
		return err
	}
	if err := s.bare("18 m", -0.035); err != nil {
		return err
	}
	s.day(21)
	return s.trial()
}

// summer: changes one at a time, each with its forecast and its reading.
func (s *season) summer() error {
	steps := []struct {
		reason, key, text string
		miss              float64 // added to what was foretold, in standard deviations of the band
	}{
		{"the quieter end of the trial", "brace_height", "211 mm", 0.3}, {"bare shafts still to the left", "button", "2", -0.5},
		{"try the other way", "button", "2.5", 0.9}, {"plunger a touch further out", "centre_shot", "2 mm", -2.6}, {"back a little", "brace_height", "208 mm", 0.2},
	}
	for i, step := range steps {
		s.day(25 + 6*i)
		if err := s.change(step.reason, step.key, step.text); err != nil {
			return err
		}
		if err := s.asForetold(step.miss); err != nil {
			return err
		}
		s.day(27 + 6*i)
		if err := s.check(0); err != nil {
			return err
		}
	}
	return nil
}

// autumn: a new string that creeps, then heavier arrows.
func (s *season) autumn() error {
	s.day(60)
	if err := s.change("a new string, made to the old one's length", "string.shots_on_it", "0"); err != nil {
		return err
	}
	for _, d := range []int{60, 61, 63, 66, 70, 75, 82, 89, 96, 104} {
		s.day(d)
		s.at = s.at.Add(40 * time.Minute)
		if err := s.check(-0.0011 * math.Log10(1+24*float64(d-60))); err != nil {
			return err
		}
	}
	if err := s.asForetold(0.4); err != nil {
		return err
	}
	s.day(105)
	return s.change("heavier arrows for the hall", "arrow.name", "hall", "arrow_mass", "21.5 g", "spine", "760", "point_mass", "120 gr")
}

// beginner: a trial on the club's bow, then another string.
func (s *season) beginner() error {
	s.day(30)
	if err := s.change("read off for the trial", "string.length", "1560 mm", "string.shots_on_it", "2600", "string.twists", "18"); err != nil {
		return err
	}
	if err := s.trial(); err != nil {
		return err
	}
	s.day(58)
	return s.change("the string was worn; a new one of the same length", "string.shots_on_it", "0")
}

// change makes the next set-up and seals what is foretold of it.
func (s *season) change(reason string, changes ...string) error {
	settings := s.now().Settings
	for i := 0; i < len(changes); i += 2 {
		var err error
		if settings, err = settings.With(changes[i], changes[i+1]); err != nil {
			return err
		}
	}
	next := notebook.SetUp{Stamp: s.stamp(), Bow: s.bow, Parent: s.now().ID, Reason: reason, Settings: settings}
	if err := put(s.writer, s.book.SetUps(), next); err != nil {
		return err
	}
	forecasts, err := s.Foretell(s.ctx, next, arrow.RightHanded, nil)
	if err != nil {
		return err
	}
	s.SetUps = append(s.SetUps, next)
	return s.seal(forecasts)
}

func (s *season) seal(forecasts []notebook.Forecast) error {
	for _, f := range forecasts {
		f.Stamp = s.stamp()
		if err := put(s.writer, s.book.Forecasts(), f); err != nil {
			return err
		}
		s.Forecasts = append(s.Forecasts, f)
	}
	return nil
}

// note writes one reading on the present set-up.
func (s *season) note(r notebook.Reading) error {
	r.Stamp, r.Bow, r.SetUp = s.stamp(), s.bow, s.now().ID
	s.Readings = append(s.Readings, r)
	return put(s.writer, s.book.Readings(), r)
}

func millimetres(kind notebook.Kind, mm, step float64) notebook.Reading {
	v := unit.Said(unit.Length(math.Round(mm/step)*step)*unit.Millimetre, unit.MM)
	return notebook.Reading{Kind: kind, Value: float64(v.Value), Text: v.Text, Unit: string(v.Unit)}
}

// check reads what is read at the start of an evening; moved is how far the
// brace height lies from where it was set, m.
func (s *season) check(moved float64) error {
	now := s.now().Settings
	height, _ := now.BraceHeight.ToPivot()
	brace := millimetres(notebook.ReadBrace, height.Millimetres()+1e3*moved+0.35*s.noise.NormFloat64(), 0.5)
	brace.Edge, brace.Instrument = notebook.EdgePivot, "bow square"
	for _, r := range []notebook.Reading{
		brace,
		millimetres(notebook.ReadNockingPoint, now.NockingPoint.Value.Value.Millimetres()+0.25*s.noise.NormFloat64(), 0.5),
		millimetres(notebook.ReadTiller, now.Tiller.Value.Millimetres()+0.35*s.noise.NormFloat64(), 0.5),
	} {
		if err := s.note(r); err != nil {
			return err
		}
	}
	return nil
}

// speeds notes chronograph readings around what the model foretells, as the
// bow of the demo happens to shoot.
func (s *season) speeds(n int, shift float64) error {
	for range n {
		v := unit.Said(unit.Speed(math.Round(10*(s.usualSpeed()+shift+0.2*s.noise.NormFloat64()))/10), unit.MPS)
		if err := s.note(notebook.Reading{Kind: notebook.ReadSpeed, Value: float64(v.Value), Text: v.Text, Unit: string(v.Unit), Instrument: "chronograph"}); err != nil {
			return err
		}
	}
	return nil
}

// usualSpeed is the first speed foretold, less what this bow is slower.
func (s *season) usualSpeed() float64 {
	for _, f := range s.Forecasts {
		if f.Kind == workbench.OfSpeed && f.From == "" {
			return f.Value - 0.6
		}
	}
	return 50
}

func (s *season) bare(distance string, right float64) error {
	d, err := unit.Read(distance, unit.Reading[unit.Length]{})
	if err != nil {
		return err
	}
	v := unit.Said(unit.Length(math.Round(200*right)/200), unit.CM)
	return s.note(notebook.Reading{Kind: notebook.ReadBareShaft, Value: float64(v.Value), Text: v.Text, Unit: string(v.Unit), Distance: notebook.Length{Typed: d}, Arrows: 3})
}

// asForetold reads every quantity that was sealed for the present set-up, off
// by so many standard deviations of its band and a little chance.
func (s *season) asForetold(miss float64) error {
	for _, f := range s.Forecasts {
		if f.SetUp != s.now().ID || f.From == "" {
			continue
		}
		got := f.Value + (f.High-f.Low)/(2*1.645)*(miss+0.25*s.noise.NormFloat64()) + s.before(f)
		switch f.Kind {
		case workbench.OfBare:
			if err := s.bare(f.Distance.Text, got); err != nil {
				return err
			}
		case workbench.OfSpeed:
			if err := s.speeds(1, got-s.usualSpeed()); err != nil {
				return err
			}
		}
	}
	return nil
}

// before is the mean reading on the set-up a forecast starts from.
func (s *season) before(f notebook.Forecast) float64 {
	sum, n := 0.0, 0.0
	for _, r := range s.Readings {
		if r.SetUp == f.From && r.Trial == "" && string(r.Kind) == f.Kind && r.Distance.Value == f.Distance.Value {
			sum, n = sum+r.Value, n+1
		}
	}
	return sum / max(1, n)
}

// trial plans a brace-height trial, records square and chronograph at each
// stop, and keeps its verdict.
func (s *season) trial() error {
	setup := s.now()
	plan, err := workbench.PlanBrace(s.ctx, setup.Settings, workbench.BraceAsk{TurnsPerStep: 5}, nil)
	if err != nil {
		return err
	}
	raw, err := json.Marshal(plan)
	if err != nil {
		return err
	}
	trial := notebook.Trial{Stamp: s.stamp(), Bow: s.bow, SetUp: setup.ID, What: "brace height", Plan: raw}
	if err := put(s.writer, s.book.Trials(), trial); err != nil {
		return err
	}
	if err := s.seal(workbench.ForetellTrial(trial, plan, s.Ledger().Widen)); err != nil {
		return err
	}
	var readings []notebook.Reading
	for i := range plan.Plan.Stops {
		s.at = s.at.Add(7 * time.Minute)
		at, err := s.visit(trial, plan, i)
		if err != nil {
			return err
		}
		readings = append(readings, at...)
	}
	if err := put(s.writer, s.book.Events(), notebook.TrialEvent{Stamp: s.stamp(), Trial: trial.ID, What: notebook.Finished}); err != nil {
		return err
	}
	return s.verdict(trial, plan, readings)
}

// visit is what was read at one stop.
func (s *season) visit(trial notebook.Trial, plan workbench.BracePlan, i int) (out []notebook.Reading, err error) {
	p := plan.Plan.Stops[i]
	if err := put(s.writer, s.book.Events(), notebook.TrialEvent{Stamp: s.stamp(), Trial: trial.ID, What: notebook.Reached, Stop: &i}); err != nil {
		return nil, err
	}
	height := unit.Length(plan.Now) + 0.96*(p.Brace.Value-unit.Length(plan.Now))
	brace := millimetres(notebook.ReadBrace, height.Millimetres()+0.3*s.noise.NormFloat64(), 0.5)
	brace.Edge = notebook.EdgePivot
	out = append(out, brace)
	for n := 1; n <= 3; n++ {
		v := unit.Said(unit.Speed(math.Round(10*(plan.Predictions[i].Speed-0.6+0.15*s.noise.NormFloat64()))/10), unit.MPS)
		out = append(out, notebook.Reading{Kind: notebook.ReadSpeed, Value: float64(v.Value), Text: v.Text, Unit: string(v.Unit), Instrument: "chronograph", Repeat: n})
	}
	out = append(out, notebook.Reading{Kind: notebook.ReadTurns, Value: p.FromNow, Text: fmt.Sprint(p.FromNow)}, notebook.Reading{Kind: notebook.ReadArrows, Value: float64(p.Arrows), Text: fmt.Sprint(p.Arrows)})
	for k := range out {
		out[k].Stamp, out[k].Bow, out[k].SetUp, out[k].Trial, out[k].Stop = s.stamp(), trial.Bow, trial.SetUp, trial.ID, &i
		if err := put(s.writer, s.book.Readings(), out[k]); err != nil {
			return nil, err
		}
	}
	s.Readings = append(s.Readings, out...)
	return out, nil
}

// keptVerdict is a verdict's view as the pages keep it, as far as the demo's
// trials without recordings have one.
type keptVerdict struct {
	Outcome     string       `json:"outcome"`
	Text        string       `json:"text"`
	Candidates  []struct{}   `json:"candidates"`
	Trends      []struct{}   `json:"trends"`
	Repeats     []struct{}   `json:"repeats"`
	Choices     []keptChoice `json:"choices"`
	Stops       int          `json:"stops"`
	Arrows      int          `json:"arrows"`
	Figures     []struct{}   `json:"figures"`
	Assumptions []string     `json:"assumptions"`
	Warnings    []string     `json:"warnings"`
	WouldChange []string     `json:"would_change"`
	Inputs      string       `json:"inputs"`
}

type keptChoice struct {
	Stop    int        `json:"stop"`
	Brace   keptLength `json:"brace_height"`
	Turns   float64    `json:"turns_from_now"`
	Changes []struct{} `json:"changes"`
	Stale   []string   `json:"stale"`
}

type keptLength struct {
	SI   float64 `json:"si"`
	Unit string  `json:"unit"`
	Text string  `json:"text"`
}

// verdict judges the trial and keeps the answer.
func (s *season) verdict(trial notebook.Trial, plan workbench.BracePlan, readings []notebook.Reading) error {
	v, err := workbench.JudgeBrace(s.ctx, s.now().Settings, plan, readings, nil)
	if err != nil {
		return err
	}
	kept := keptVerdict{
		Outcome: string(v.Outcome), Text: v.Text, Candidates: []struct{}{}, Trends: []struct{}{}, Repeats: []struct{}{}, Figures: []struct{}{}, Stops: v.Stops, Arrows: v.Arrows,
		Assumptions: append([]string{}, v.Assumptions...), Warnings: append([]string{}, v.Warnings...), WouldChange: append([]string{}, v.WouldChange...), Inputs: v.Inputs,
	}
	for _, c := range v.Costs {
		text := unit.Said(c.BraceHeight, unit.MM).Text
		kept.Choices = append(kept.Choices, keptChoice{c.Stop, keptLength{float64(c.BraceHeight), "m", text}, c.Turns, []struct{}{}, append([]string{}, c.Stale...)})
	}
	content, err := json.Marshal(kept)
	if err != nil {
		return err
	}
	return put(s.writer, s.book.Verdicts(), notebook.Verdict{Stamp: s.stamp(), Trial: trial.ID, Content: content, Program: "demo", Inputs: v.Inputs})
}
