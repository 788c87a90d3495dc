package workbench

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Ledger holds what was forecast against what was then read.
type Ledger struct {
	Entries []LedgerEntry // oldest first, those that met their reading
	Waiting []notebook.Forecast
	// Of the last Counted entries Inside lay in their band; Share is what that
	// says of the share in the long run.
	Counted, Inside int
	Share           Estimate[float64]
	Level           float64 // what the bands claim
	// Widen is what each kind of quantity's model error is to be multiplied by,
	// 1 where there is nothing to say; "" for all kinds together.
	Widen map[string]float64
	Text  string
}

// LedgerEntry is one forecast that met its reading.
type LedgerEntry struct {
	Forecast notebook.Forecast
	Of       Quantity
	Result   notebook.ID // reading or end
	At       time.Time
	Got      float64 // SI; for a change, the reading less the mean on the set-up before
	Inside   bool
	// Z is the miss in standard deviations of the forecast's own band.
	Z float64
}

// lastForecasts is how many the page counts.
const lastForecasts = 20

// forecastLevel is the share that every band of a forecast claims.
const forecastLevel = Share

// kindOf is how a forecast names its quantity; of a trial's stop, with the
// trial and the stop behind it.
func kindOf(kind string, trial notebook.ID, stop *int) string {
	if trial == "" || stop == nil {
		return kind
	}
	return fmt.Sprintf("%s|%s|%d", kind, trial, *stop)
}

// ForecastKind is the quantity a forecast is about, without its stop.
func ForecastKind(f notebook.Forecast) string {
	kind, _, _ := strings.Cut(f.Kind, "|")
	return kind
}

// met are the values that a forecast could meet.
type met struct {
	id       notebook.ID
	setup    notebook.ID
	kind     string
	distance unit.Length
	at       time.Time
	arrived  time.Time
	value    float64
}

// arrivals are readings and groups by what a forecast would call them, oldest
// first.
func (b BowRecords) arrivals() []met {
	var out []met
	for _, r := range b.valid() {
		if r.Shaft == (notebook.Arrow{}) {
			out = append(out, met{r.ID, r.SetUp, kindOf(string(r.Kind), r.Trial, r.Stop), r.Distance.Value, r.At, arrived(r.Stamp), r.Value})
		}
	}
	byID := map[notebook.ID]notebook.Stamp{}
	for _, e := range b.Ends {
		byID[e.ID] = e.Stamp
	}
	for _, g := range b.groups() {
		out = append(out, met{g.ID, g.SetUp, g.Of.Kind, g.Of.Distance, g.At, arrived(byID[g.ID]), g.Value})
	}
	slices.SortStableFunc(out, func(a, c met) int { return a.arrived.Compare(c.arrived) })
	return out
}

// arrived is when the notebook got a record; by the writer's clock where it
// has not been stored yet.
func arrived(s notebook.Stamp) time.Time {
	if s.Received.IsZero() {
		return s.At
	}
	return s.Received
}

// Ledger matches every forecast with the first reading of its quantity on its
// set-up that arrived after it was sealed.
func (b BowRecords) Ledger() Ledger {
	out := Ledger{Level: forecastLevel, Widen: map[string]float64{}}
	arrivals := b.arrivals()
	for _, f := range b.Forecasts {
		entry, ok := meet(f, arrivals)
		if b.outspoken(f, entry, ok, arrivals) {
			continue
		}
		if !ok {
			out.Waiting = append(out.Waiting, f)
			continue
		}
		out.Entries = append(out.Entries, entry)
	}
	slices.SortStableFunc(out.Entries, func(a, c LedgerEntry) int { return a.At.Compare(c.At) })
	out.count()
	out.widen()
	return out
}

// outspoken tells that something newer was sealed of the same quantity on the
// same set-up before the reading came: the last word counts, and only that, so
// that no reading is counted twice.
func (b BowRecords) outspoken(f notebook.Forecast, entry LedgerEntry, met bool, arrivals []met) bool {
	var reading time.Time
	for _, a := range arrivals {
		if met && a.id == entry.Result && a.kind == f.Kind {
			reading = a.arrived
		}
	}
	for _, g := range b.Forecasts {
		if g.ID == f.ID || g.SetUp != f.SetUp || g.Kind != f.Kind || g.Distance.Value != f.Distance.Value || !arrived(g.Stamp).After(arrived(f.Stamp)) {
			continue
		}
		if !met || reading.After(arrived(g.Stamp)) {
			return true
		}
	}
	return false
}

func meet(f notebook.Forecast, arrivals []met) (LedgerEntry, bool) {
	sealed := arrived(f.Stamp)
	var before []float64
	for _, a := range arrivals {
		if a.kind != f.Kind || a.distance != f.Distance.Value {
			continue
		}
		if f.From != "" && a.setup == f.From && !a.arrived.After(sealed) {
			before = append(before, a.value)
		}
		if a.setup != f.SetUp || !a.arrived.After(sealed) || f.From != "" && len(before) == 0 {
			continue
		}
		got := a.value
		if f.From != "" {
			mean, _ := meanSD(before)
			got -= mean
		}
		sd := (f.High - f.Low) / (2 * z90)
		e := LedgerEntry{Forecast: f, Of: Quantity{Kind: ForecastKind(f), Distance: f.Distance.Value}, Result: a.id, At: a.at, Got: got, Inside: got >= f.Low && got <= f.High}
		if sd > 0 {
			e.Z = (got - f.Value) / sd
		}
		return e, true
	}
	return LedgerEntry{}, false
}

// count says how many of the last ones lay inside.
func (l *Ledger) count() {
	last := l.Entries[max(0, len(l.Entries)-lastForecasts):]
	for _, e := range last {
		if e.Inside {
			l.Inside++
		}
	}
	if l.Counted = len(last); l.Counted == 0 {
		l.Share = Estimate[float64]{math.NaN(), 0, 1}
		l.Text = "No forecast has met its reading yet."
		return
	}
	l.Share = Jeffreys(l.Inside, l.Counted)
	l.Text = fmt.Sprintf("%d of your last %d fell inside the %.0f %% band; in the long run that is between %.0f and %.0f %%.", l.Inside, l.Counted, 100*l.Level, 100*l.Share.Low, 100*l.Share.High)
	switch {
	case l.Share.High < l.Level:
		l.Text += " The bands are too narrow; the model's error is widened for it."
	case l.Counted < lastForecasts/2:
		l.Text += " That is too few to judge the bands by."
	}
}

// Jeffreys is the equal-tailed 90 % interval of a share of which k of n were
// seen, with Jeffreys's prior: quantiles of Beta(k+½, n−k+½), closed at the
// ends as Brown, Cai & DasGupta (2001, Statistical Science 16, 101) advise.
func Jeffreys(k, n int) Estimate[float64] {
	beta := distuv.Beta{Alpha: float64(k) + 0.5, Beta: float64(n-k) + 0.5}
	e := Estimate[float64]{float64(k) / float64(n), beta.Quantile((1 - Share) / 2), beta.Quantile((1 + Share) / 2)}
	if k == 0 {
		e.Low = 0
	}
	if k == n {
		e.High = 1
	}
	return e
}

// widenPrior is how many forecasts without a miss the present bands count for
// before misses widen them (assumed).
const widenPrior = 8

// widen gives the factors: the root mean square miss, pulled toward 1 by the
// prior, never below 1. A factor of 1.5 asks for bands half as wide again.
func (l *Ledger) widen() {
	sum, n := map[string]float64{}, map[string]int{}
	for _, e := range l.Entries {
		for _, kind := range []string{"", e.Of.Kind} {
			sum[kind] += e.Z * e.Z
			n[kind]++
		}
	}
	for kind := range sum {
		l.Widen[kind] = max(1, math.Sqrt((widenPrior+sum[kind])/float64(widenPrior+n[kind])))
	}
}

// Foretell gives what should be sealed when a set-up is made from another: for
// each quantity that was read on the one before, its predicted change; speed
// and draw weight themselves where they never were. The bands are for one
// reading: the model's doubt, widened by the ledger so far, and the reading's
// own. With a fit, the bow is the fitted one, its doubt and the model's own error
// included; what the fit's own misses widened is not widened twice. Stamps are
// the caller's.
func (b BowRecords) Foretell(ctx context.Context, setup notebook.SetUp, hand arrow.Hand, fit *KeptFit) ([]notebook.Forecast, error) {
	read := map[Quantity]bool{}
	var distances []unit.Length
	for _, r := range b.Results() {
		if r.SetUp == setup.Parent && setup.Parent != "" && r.By == "" && r.PerQuantity == 0 && direct[r.Of.Kind] == "" {
			read[r.Of] = true
			if r.Of.Distance > 0 {
				distances = append(distances, r.Of.Distance)
			}
		}
	}
	slices.Sort(distances)
	distances = slices.Compact(distances)
	if fit != nil {
		out, err := b.foretellFitted(ctx, setup, read, *fit)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err == nil {
			rest, err := b.foretellRest(ctx, setup, hand, read)
			return append(out, rest...), err
		}
	}
	to, err := Probe(ctx, setup.Settings, hand, distances...)
	if err != nil {
		return nil, err
	}
	from := to
	if at := b.setUp(setup.Parent); at >= 0 {
		if from, err = Probe(ctx, b.SetUps[at].Settings, hand, distances...); err != nil {
			from = Shows{}
		}
	}
	return b.seal(setup, read, from, to), nil
}

// KeptFit is a fit that the notebook keeps, ready to be asked.
type KeptFit struct {
	ID  notebook.ID
	Bow *FittedBow
}

// foretellRest seals what a fit has no word for, the height of a group, by the
// unfitted bows.
func (b BowRecords) foretellRest(ctx context.Context, setup notebook.SetUp, hand arrow.Hand, read map[Quantity]bool) (out []notebook.Forecast, err error) {
	if !slices.ContainsFunc(slices.Collect(maps.Keys(read)), func(q Quantity) bool { return q.Unit() == "" }) {
		return nil, nil
	}
	all, err := b.Foretell(ctx, setup, hand, nil)
	for _, f := range all {
		if (Quantity{Kind: f.Kind}).Unit() == "" {
			out = append(out, f)
		}
	}
	return out, err
}

// foretellFitted seals what the fitted bow says.
func (b BowRecords) foretellFitted(ctx context.Context, setup notebook.SetUp, read map[Quantity]bool, fit KeptFit) (out []notebook.Forecast, err error) {
	ledger, scatter := b.Ledger(), b.scatter()
	var changes, values []Quantity
	for q := range read {
		if q.Unit() != "" {
			changes = append(changes, q)
		}
	}
	for _, kind := range []string{OfSpeed, OfDrawWeight} {
		if q := (Quantity{Kind: kind}); !read[q] {
			values = append(values, q)
		}
	}
	add := func(from notebook.ID, list []Expected, readings float64) {
		for _, e := range list {
			f := notebook.Forecast{Bow: setup.Bow, SetUp: setup.ID, From: from, Fit: fit.ID, Kind: e.Quantity.Kind}
			widen := ledger.Widen[e.Quantity.Kind] / fit.Bow.widened(e.Quantity.Kind)
			out = append(out, banded(f, e.Quantity, Estimate[float64]{e.Value, e.Low, e.High}, readings*readingSD(e.Quantity, scatter), widen))
		}
	}
	if at := b.setUp(setup.Parent); at >= 0 && len(changes) > 0 {
		shift, err := fit.Bow.Change(ctx, b.SetUps[at].Settings, setup.Settings, changes)
		if err != nil {
			return nil, err
		}
		add(setup.Parent, shift.Change, math.Sqrt2)
	}
	told, err := fit.Bow.Predict(ctx, setup.Settings, values)
	if err != nil {
		return nil, err
	}
	add("", told, 1)
	sortForecasts(out)
	return out, nil
}

// ForetellFit gives what should be sealed when a fit is kept: what its page
// says the bow shows as it is set up, as far as a reading can judge it. The
// next reading of each does, whether or not the fit saw earlier ones.
func (b BowRecords) ForetellFit(ctx context.Context, setup notebook.SetUp, fit KeptFit) (out []notebook.Forecast, err error) {
	var of []Quantity
	for _, q := range fit.Bow.UsualQuantities() {
		if _, read := usualDoubt[notebook.Kind(q.Kind)]; read {
			of = append(of, q)
		}
	}
	told, err := fit.Bow.Predict(ctx, setup.Settings, of)
	if err != nil {
		return nil, err
	}
	ledger, scatter := b.Ledger(), b.scatter()
	for _, e := range told {
		f := notebook.Forecast{Bow: setup.Bow, SetUp: setup.ID, Fit: fit.ID, Kind: e.Quantity.Kind}
		widen := ledger.Widen[e.Quantity.Kind] / fit.Bow.widened(e.Quantity.Kind)
		out = append(out, banded(f, e.Quantity, Estimate[float64]{e.Value, e.Low, e.High}, readingSD(e.Quantity, scatter), widen))
	}
	sortForecasts(out)
	return out, nil
}

func sortForecasts(list []notebook.Forecast) {
	slices.SortFunc(list, func(a, c notebook.Forecast) int {
		return strings.Compare(a.Kind+a.Distance.Text, c.Kind+c.Distance.Text)
	})
}

func (b BowRecords) seal(setup notebook.SetUp, read map[Quantity]bool, from, to Shows) (out []notebook.Forecast) {
	ledger, scatter := b.Ledger(), b.scatter()
	for q := range read {
		e, ok := from.Change(to, q)
		if !ok {
			continue
		}
		f := notebook.Forecast{Bow: setup.Bow, SetUp: setup.ID, From: setup.Parent, Kind: q.Kind}
		out = append(out, banded(f, q, e, math.Sqrt2*readingSD(q, scatter), ledger.Widen[q.Kind]))
	}
	for _, kind := range []string{OfSpeed, OfDrawWeight} {
		q := Quantity{Kind: kind}
		if e, ok := to.Value(q); ok && !read[q] {
			f := notebook.Forecast{Bow: setup.Bow, SetUp: setup.ID, Kind: kind}
			out = append(out, banded(f, q, e, readingSD(q, scatter), ledger.Widen[kind]))
		}
	}
	sortForecasts(out)
	return out
}

// readingSD is one standard deviation of a reading of a quantity.
func readingSD(q Quantity, scatter map[notebook.Kind]float64) float64 {
	if sd := scatter[notebook.Kind(q.Kind)]; sd > 0 {
		return sd
	}
	if q.Kind == OfUp {
		return usualDoubt[notebook.ReadGroupRight] * float64(q.Distance)
	}
	sd := usualDoubt[notebook.Kind(q.Kind)]
	if q.Distance > 0 {
		sd *= float64(q.Distance)
	}
	return sd
}

// banded gives a forecast its band: the model's half interval, widened, and
// the reading's own, as independent.
func banded(f notebook.Forecast, q Quantity, e Estimate[float64], sd, widen float64) notebook.Forecast {
	f.Value, f.Level = e.Value, forecastLevel
	below := math.Hypot(max(1, widen)*(e.Value-e.Low), z90*sd)
	above := math.Hypot(max(1, widen)*(e.High-e.Value), z90*sd)
	f.Low, f.High = e.Value-below, e.Value+above
	if q.Distance > 0 {
		f.Distance = notebook.Length{Typed: unit.Said(q.Distance, unit.M)}
	}
	return f
}

// ForetellTrial seals what a planned brace-height trial expects at its stops:
// the square and the chronograph. widen are the ledger's factors so far.
func ForetellTrial(t notebook.Trial, plan BracePlan, widen map[string]float64) (out []notebook.Forecast) {
	for i, stop := range plan.Plan.Stops {
		base := notebook.Forecast{Bow: t.Bow, SetUp: t.SetUp, Level: forecastLevel}
		brace := base
		brace.Kind = kindOf(string(notebook.ReadBrace), t.ID, &i)
		e := Estimate[float64]{float64(stop.Brace.Value), float64(stop.Brace.Low), float64(stop.Brace.High)}
		if e.Low <= e.Value && e.Value <= e.High && !math.IsInf(e.High-e.Low, 0) {
			out = append(out, banded(brace, Quantity{Kind: string(notebook.ReadBrace)}, e, usualDoubt[notebook.ReadBrace], widen[string(notebook.ReadBrace)]))
		}
		if i < len(plan.Predictions) {
			speed, p := base, plan.Predictions[i]
			speed.Kind = kindOf(OfSpeed, t.ID, &i)
			span := p.Interval["speed_mps"]
			out = append(out, banded(speed, Quantity{Kind: OfSpeed}, Estimate[float64]{p.Speed, span[0], span[1]}, usualDoubt[notebook.ReadSpeed], widen[OfSpeed]))
		}
	}
	return out
}

// ForecastStop is the stop of a trial that a forecast is about, from 0.
func ForecastStop(f notebook.Forecast) (int, bool) {
	parts := strings.Split(f.Kind, "|")
	if len(parts) != 3 {
		return 0, false
	}
	stop, err := strconv.Atoi(parts[2])
	return stop, err == nil
}
