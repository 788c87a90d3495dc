package workbench

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"slices"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/num"
	"tautline/unit"
)

// FitParameter is one parameter before and after the readings.
type FitParameter struct {
	Key   string  `json:"key"`
	Name  string  `json:"name"`
	Value float64 `json:"value"` // SI, or a factor on the generic bow where Unit is empty
	SD    float64 `json:"sd"`
	// PriorValue and PriorSD are what was taken before any reading.
	PriorValue float64 `json:"prior_value"`
	PriorSD    float64 `json:"prior_sd"`
	Unit       string  `json:"unit"`
	// Source says where the prior comes from.
	Source string `json:"prior_source"`
	// Learnt is the share of the prior's variance that the readings took away.
	Learnt float64 `json:"learnt_share"`
}

// FitReading is one reading against the fitted bow.
type FitReading struct {
	ID       notebook.ID `json:"id,omitempty"`
	Name     string      `json:"name"`
	Quantity Quantity    `json:"quantity"`
	Value    float64     `json:"value"`
	Fitted   float64     `json:"fitted"`
	SD       float64     `json:"sd"` // of reading and model together
	// Off is how many of these the reading lies above the fitted bow.
	Off  float64 `json:"off_sd"`
	Unit string  `json:"unit"`
}

// FitView is a fitted bow as numbers: what the command line prints and the
// notebook keeps of it for people.
type FitView struct {
	Parameters  []FitParameter     `json:"parameters"`
	Readings    []FitReading       `json:"readings"`
	Predictions []Expected         `json:"predictions"`
	Next        []NextReading      `json:"next_readings"`
	Widened     map[string]float64 `json:"model_error_widened"`
	Warnings    []string           `json:"warnings"`
	Steps       int                `json:"steps"`
}

// Parameters lists the fitted parameters, those an archer knows first.
func (f *FittedBow) Parameters() []FitParameter {
	g := f.rig
	out := []FitParameter{f.perTurn()}
	x := g.prior.natural(f.u)
	for i := range g.knobs {
		j := (i + g.moves) % len(g.knobs) // the bow's moves last
		k := g.knobs[j]
		v, slope := k.shown(x[j])
		before, was := k.shown(0)
		sd := math.Sqrt(math.Max(0, f.spread(g.prior.row(j))))
		out = append(out, FitParameter{
			Key: k.key, Name: k.name, Value: v, SD: sd * math.Abs(slope), PriorValue: before, PriorSD: k.sd * math.Abs(was),
			Unit: k.unit, Source: k.source, Learnt: math.Max(0, 1-sd*sd/(k.sd*k.sd)),
		})
	}
	return out
}

// perTurn is what a turn of the button adds to its preload: spring times
// thread.
func (f *FittedBow) perTurn() FitParameter {
	s, h := f.rig.at(kButtonSpring), f.rig.at(kButtonThread)
	x := f.rig.prior.natural(f.u)
	spring, _ := f.rig.knobs[s].shown(x[s])
	thread, _ := f.rig.knobs[h].shown(x[h])
	both := f.rig.prior.row(s)
	both[h] = f.rig.knobs[h].sd
	sd := math.Sqrt(math.Max(0, f.spread(both)))
	p, q := f.rig.knobs[s], f.rig.knobs[h]
	a, _ := p.shown(0)
	b, _ := q.shown(0)
	prior := math.Hypot(p.sd, q.sd)
	return FitParameter{
		Key: "button_per_turn", Name: "button's preload a turn", Value: spring * thread, SD: spring * thread * sd,
		PriorValue: a * b, PriorSD: a * b * prior, Unit: "N", Source: "spring times thread", Learnt: math.Max(0, 1-sd*sd/(prior*prior)),
	}
}

// Readings lists what was read against what the fitted bow says.
func (f *FittedBow) Readings() []FitReading {
	out := []FitReading{}
	for i, o := range f.seen {
		out = append(out, FitReading{
			ID: o.ID, Name: o.Name, Quantity: o.q, Value: o.Value, Fitted: f.got[i], SD: f.sd(o), Off: -f.residual[i], Unit: o.q.Unit(),
		})
	}
	return out
}

// Settings are those the fit starts from.
func (f *FittedBow) Settings() notebook.Settings { return f.ask.Settings }

// UsualQuantities are what is told of a set-up at a glance; those of the
// target are left out where nothing is known of the arrow.
func (f *FittedBow) UsualQuantities() []Quantity {
	out := []Quantity{{Kind: QSpeed}, {Kind: QDrawWeight}, {Kind: QStored}, {Kind: QResidual}, {Kind: QTime}}
	if f.rig.base.sideErr == nil {
		out = append(out, Quantity{Kind: QBare, Distance: 18}, Quantity{Kind: QBare, Distance: 30}, Quantity{Kind: QClearance})
	}
	return out
}

// View gathers everything; it predicts the set-up itself and asks what to
// measure next to narrow the wish.
func (f *FittedBow) View(ctx context.Context, owns Owns, wish WishFor) (FitView, error) {
	v := FitView{Parameters: f.Parameters(), Readings: f.Readings(), Widened: f.widen, Warnings: append([]string{}, f.Warnings...), Steps: f.Steps}
	f.makeReady(ctx)
	var err error
	if v.Predictions, err = f.Predict(ctx, f.ask.Settings, f.UsualQuantities()); err != nil {
		return v, err
	}
	v.Next, err = f.MeasureNext(ctx, owns, wish)
	return v, err
}

// makeReady computes what every what-if starts from, so that the first is as
// quick as the rest. What cannot be computed is said when it is asked for.
func (f *FittedBow) makeReady(ctx context.Context) {
	of := f.whatIfQuantities()
	if f.rig.base.up.Withheld != "" {
		of = slices.DeleteFunc(of, func(q Quantity) bool { return q.Kind == QBareUp })
	}
	if _, _, err := f.slopes(ctx, f.rig.base, of); err != nil {
		return
	}
}

// fitContent is what must be kept of a fit to ask it again.
type fitContent struct {
	Version    int                `json:"version"`
	Keys       []string           `json:"keys"`
	U          []float64          `json:"place"`      // in prior standard deviations
	Covariance []float64          `json:"covariance"` // lower triangle, row by row
	Widen      map[string]float64 `json:"model_error_widened,omitempty"`
	Readings   []FitReading       `json:"readings"`
	Parameters []FitParameter     `json:"parameters"` // for people and other programs
	Warnings   []string           `json:"warnings"`
	Upward     bool               `json:"marks_upward,omitempty"`
}

const fitVersion = 1

// Content is the fit as the notebook keeps it; RestoreFit reads it back.
func (f *FittedBow) Content() (json.RawMessage, error) {
	c := fitContent{
		Version: fitVersion, U: f.u, Widen: f.widen, Readings: f.Readings(), Parameters: f.Parameters(), Warnings: f.Warnings, Upward: f.rig.upward,
	}
	for i, k := range f.rig.knobs {
		c.Keys = append(c.Keys, k.key)
		c.Covariance = append(c.Covariance, f.cov.Row(i)[:i+1]...)
	}
	return json.Marshal(c)
}

// ErrOtherFit says that a kept fit belongs to another version of the model or
// another bow, and has to be made anew.
var ErrOtherFit = errors.New("the kept fit is of another model; fit the bow again")

// RestoreFit makes a kept fit ready to be wanted, without its readings' work.
// ask is the one it was made from; its readings may be left out.
func RestoreFit(ctx context.Context, ask FitAsk, content json.RawMessage) (*FittedBow, error) {
	var c fitContent
	if err := json.Unmarshal(content, &c); err != nil || c.Version != fitVersion {
		return nil, ErrOtherFit
	}
	ask.MarksUpward = c.Upward
	f, err := prepare(ctx, ask)
	if err != nil {
		return nil, err
	}
	n := len(f.u)
	if len(c.U) != n || len(c.Keys) != n || len(c.Covariance) != n*(n+1)/2 {
		return nil, ErrOtherFit
	}
	f.cov = num.NewMatrix(n, n)
	at := 0
	for i, k := range f.rig.knobs {
		if c.Keys[i] != k.key {
			return nil, ErrOtherFit
		}
		for j := range i + 1 {
			f.cov.Set(i, j, c.Covariance[at])
			f.cov.Set(j, i, c.Covariance[at])
			at++
		}
	}
	f.u, f.widen, f.Warnings, f.Status = c.U, c.Widen, c.Warnings, num.Done
	if f.widen == nil {
		f.widen = map[string]float64{}
	}
	f.restoreSeen(c.Readings)
	return f, nil
}

// LatestFit restores the latest of a bow's kept fits, oldest first, that this
// program can read; nil where there is none.
func LatestFit(ctx context.Context, fits []notebook.Fit, setups []notebook.SetUp, hand arrow.Hand) *FittedBow {
	for _, kept := range slices.Backward(fits) {
		at := slices.IndexFunc(setups, func(x notebook.SetUp) bool { return x.ID == kept.SetUp })
		if at < 0 {
			continue
		}
		if f, err := RestoreFit(ctx, FitAsk{Settings: setups[at].Settings, Hand: hand}, kept.Content); err == nil {
			return f
		}
	}
	return nil
}

// restoreSeen puts the kept readings back where the ask has none.
func (f *FittedBow) restoreSeen(kept []FitReading) {
	f.seen, f.got, f.residual = nil, nil, nil
	for _, r := range kept {
		o := seen{Observation: Observation{ID: r.ID, Name: r.Name, Quantity: r.Quantity, Value: r.Value}, wanted: wanted{f.rig.base, r.Quantity}, doubt: r.SD}
		f.seen, f.got, f.residual = append(f.seen, o), append(f.got, r.Fitted), append(f.residual, -r.Off)
	}
}

// brief is a quantity in words: "bare shaft at 30 m".
func (q Quantity) String() string {
	at := ""
	if q.Distance > 0 {
		at = " at " + q.Distance.Format(unit.M, 0, unit.Point)
	}
	switch q.Kind {
	case QSpeed:
		return "arrow speed"
	case QDrawWeight:
		return "draw weight"
	case QDrawForce:
		return "draw force " + q.Draw.Format(unit.CM, 1, unit.Point) + " from the pivot"
	case QBare:
		return "bare shaft right of the group" + at
	case QBareUp:
		return "bare shaft above the group" + at
	case QGroup:
		return "impact to the right" + at
	case QMark:
		return "sight mark" + at
	case QString:
		return "string length"
	case QBrace:
		return "brace height"
	case QStored:
		return "stored energy"
	case QResidual:
		return "energy left in limbs and string"
	case QTime:
		return "time on the string"
	}
	return "tail's clearance of the button"
}

// LatestFit finds the latest kept fit of a bow that this program can still
// read, by whatever restores one; without any the bow is nil.
func (b BowRecords) LatestFit(hand notebook.Hand, restore func(notebook.Fit, FitAsk) (*FittedBow, error)) (notebook.Fit, *FittedBow) {
	for _, f := range slices.Backward(b.Fits) {
		at := b.setUp(f.SetUp)
		if at < 0 {
			continue
		}
		if bow, err := restore(f, FitAsk{Settings: b.SetUps[at].Settings, Hand: HandOf(hand)}); err == nil {
			return f, bow
		}
	}
	return notebook.Fit{}, nil
}
