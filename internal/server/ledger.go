package server

import (
	"context"
	"fmt"
	"slices"
	"time"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// ledgerView is what was forecast of a bow against what was then read.
type ledgerView struct {
	Text    string       `json:"text" example:"17 of your last 20 fell inside the 90 % band; in the long run that is between 68 and 94 %."`
	Counted int          `json:"counted" doc:"At most the last 20."`
	Inside  int          `json:"inside"`
	Level   float64      `json:"level" doc:"Share that the bands claim." example:"0.9"`
	Low     float64      `json:"share_low" doc:"Jeffreys's 90 % interval of the share in the long run."`
	High    float64      `json:"share_high"`
	Entries []ledgerRow  `json:"entries" nullable:"false" doc:"Forecasts that met their reading, newest first."`
	Waiting []ledgerRow  `json:"waiting" nullable:"false" doc:"Sealed, and not yet read, newest first."`
	Widened []widenedRow `json:"widened" nullable:"false" doc:"Kinds whose misses widen the model's error."`
}

// ledgerRow is one forecast.
type ledgerRow struct {
	ID       notebook.ID `json:"id"`
	Label    string      `json:"label" example:"change of arrow speed"`
	SetUp    notebook.ID `json:"setup"`
	From     notebook.ID `json:"from,omitempty" doc:"The set-up the change starts from."`
	Sealed   time.Time   `json:"sealed_at" doc:"When it was made; a reading counts against it only if the notebook got it later."`
	Forecast string      `json:"forecast" example:"-0.6 m/s"`
	Band     string      `json:"band" example:"-1.2 to +0.1 m/s"`
	Got      string      `json:"got,omitempty" example:"-0.4 m/s"`
	At       time.Time   `json:"read_at,omitzero"`
	Reading  notebook.ID `json:"reading,omitempty" doc:"The reading or end it met."`
	Inside   bool        `json:"inside"`
	Z        float64     `json:"off_sd" doc:"The miss in standard deviations of the band."`
	Fitted   bool        `json:"fitted" doc:"Made with a fit of this bow."`
}

type widenedRow struct {
	Label  string  `json:"label"`
	Factor float64 `json:"factor" example:"1.4"`
}

func (s *server) getLedger(ctx context.Context, in *IDInput) (*found[ledgerView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	records, _, err := s.bowRecords(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	return &found[ledgerView]{Body: viewLedger(records.Ledger(), system)}, nil
}

func viewLedger(l workbench.Ledger, system unit.System) ledgerView {
	v := ledgerView{Text: l.Text, Counted: l.Counted, Inside: l.Inside, Level: l.Level, Low: l.Share.Low, High: l.Share.High,
		Entries: []ledgerRow{}, Waiting: []ledgerRow{}, Widened: []widenedRow{}}
	for _, e := range slices.Backward(l.Entries) {
		row := viewForecast(e.Forecast, system)
		say := forecastSayer(e.Forecast, system)
		row.Got, row.At, row.Reading, row.Inside, row.Z = say(e.Got), e.At, e.Result, e.Inside, rounded(e.Z, 2)
		v.Entries = append(v.Entries, row)
	}
	for _, f := range slices.Backward(l.Waiting) {
		v.Waiting = append(v.Waiting, viewForecast(f, system))
	}
	for _, kind := range sortedKinds(l.Widen) {
		if f := l.Widen[kind]; kind != "" && f > 1.005 {
			v.Widened = append(v.Widened, widenedRow{report.QuantityLabel(kind), rounded(f, 2)})
		}
	}
	return v
}

func sortedKinds(m map[string]float64) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// forecastSayer prints a forecast's numbers; a change has its sign.
func forecastSayer(f notebook.Forecast, system unit.System) func(float64) string {
	kind := workbench.ForecastKind(f)
	q := workbench.Quantity{Kind: kind, Distance: f.Distance.Value}
	value, change := report.InWords(q, report.Sayer(q, report.QuantitySI(kind), system))
	if f.From == "" {
		return value
	}
	return change
}

func viewForecast(f notebook.Forecast, system unit.System) ledgerRow {
	say := forecastSayer(f, system)
	label := report.QuantityLabel(workbench.ForecastKind(f))
	if f.Distance.Value > 0 {
		label += fmt.Sprintf(" at %g m", float64(f.Distance.Value))
	}
	if f.From != "" {
		label = "change of " + label
	}
	if stop, ok := workbench.ForecastStop(f); ok {
		label += fmt.Sprintf(", stop %d of a trial", stop+1)
	}
	return ledgerRow{ID: f.ID, Label: label, SetUp: f.SetUp, From: f.From, Sealed: f.At, Forecast: say(f.Value), Band: say(f.Low) + " to " + say(f.High), Fitted: f.Fit != ""}
}

// sealSetUp keeps what is forecast of a new set-up, before anything can be
// read on it. A forecast that cannot be made keeps no set-up from being
// stored.
func (s *server) sealSetUp(whole context.Context, me notebook.Person, setup notebook.SetUp) {
	ctx, cancel := context.WithTimeout(whole, sealTime)
	defer cancel()
	records, _, err := s.bowRecords(ctx, setup.Bow)
	if err != nil {
		s.Log.WarnContext(ctx, "nothing sealed", "why", err)
		return
	}
	if err := s.queue.enter(ctx); err != nil {
		s.Log.WarnContext(ctx, "nothing sealed", "why", err)
		return
	}
	forecasts, err := s.foretell(ctx, setup, records)
	s.queue.leave()
	if err != nil {
		return // a bow without an arrow's mass, for one, has no forecast
	}
	s.seal(whole, me, forecasts)
}

// foretell says of a set-up what can be read on it, for the bow's archer.
func (s *server) foretell(ctx context.Context, setup notebook.SetUp, records workbench.BowRecords) ([]notebook.Forecast, error) {
	hand, err := s.handOf(ctx, setup.Bow)
	if err != nil {
		return nil, err
	}
	return records.Foretell(ctx, setup, workbench.HandOf(hand), s.fittedBy(ctx, records, hand).kept())
}

// sealFit keeps what a fit that was kept says of the bow as it is set up. A
// forecast that cannot be made keeps no fit from being stored.
func (s *server) sealFit(whole context.Context, me notebook.Person, kept notebook.Fit, bow *workbench.FittedBow, setup notebook.SetUp) {
	ctx, cancel := context.WithTimeout(whole, sealTime)
	defer cancel()
	records, _, err := s.bowRecords(ctx, setup.Bow)
	if err != nil {
		s.Log.WarnContext(ctx, "nothing sealed", "why", err)
		return
	}
	end, err := s.queue.turn(ctx)
	if err != nil {
		s.Log.WarnContext(ctx, "nothing sealed", "why", err)
		return
	}
	forecasts, err := records.ForetellFit(ctx, setup, workbench.KeptFit{ID: kept.ID, Bow: bow})
	end()
	if err != nil {
		return // a bow that cannot be shot has no forecast
	}
	s.seal(whole, me, forecasts)
}

// sealTime bounds how long storing a set-up waits for its forecasts; a third
// of a second is usual.
const sealTime = 15 * time.Second

// seal stores forecasts.
func (s *server) seal(ctx context.Context, me notebook.Person, forecasts []notebook.Forecast) {
	for _, f := range forecasts {
		f.Stamp = notebook.Stamp{ID: notebook.NewID(), By: me.ID, At: s.Now().UTC()}
		if f.Check().OrNil() != nil {
			continue
		}
		if _, _, err := s.Notebook.Forecasts().Put(ctx, me.ID, f); err != nil {
			s.Log.WarnContext(ctx, "a forecast was not sealed", "kind", f.Kind, "why", err)
			return
		}
	}
}
