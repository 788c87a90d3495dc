package workbench

import (
	"context"
	"fmt"
	"math"

	"tautline/bow"
	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
)

// BraceAsk is what a person decides of a brace-height trial. Zero fields take
// the defaults of trial.BracePlanInput.
type BraceAsk struct {
	TurnsPerStep float64     `json:"turns_per_step,omitempty"` // default 3
	Order        trial.Order `json:"order,omitempty"`          // up, down, abba
	StopA        string      `json:"stop_a,omitempty"`         // brace heights of A-B-B-A, as typed
	StopB        string      `json:"stop_b,omitempty"`
	Arrows       int         `json:"arrows_per_stop,omitempty"`
	Settling     int         `json:"settling_shots,omitempty"`
	// Low and High replace the limb maker's range where it is not known, as
	// typed, for the usual riser.
	Low  string `json:"low,omitempty"`
	High string `json:"high,omitempty"`
}

// A step is at least a whole turn, which is how people count them.
const leastStep, mostStep = 1, 20

// BracePlan is a trial's plan with what the model expects at each stop. It is
// stored with the trial, whole, so that the plan a person followed is the plan
// their verdict is about.
type BracePlan struct {
	Version int             `json:"version"` // 1
	Ask     BraceAsk        `json:"ask"`
	Plan    trial.BracePlan `json:"plan"`
	// Curve is the brace height against turns added, as the model expects it.
	Curve []trial.TwistPoint `json:"curve"`
	// Predictions stand beside Plan.Stops, one each.
	Predictions []Prediction `json:"predictions"`
	// Changes compare each stop with the present brace height.
	Changes []ChangeView `json:"changes"`
	Now     float64      `json:"now_brace_height_m"`
	Notes   []string     `json:"notes"`
}

// ChangeView is a Change as numbers, each with its 90 % span.
type ChangeView struct {
	Speed        float64         `json:"speed_mps"`
	DrawWeight   float64         `json:"draw_weight_n"`
	StoredEnergy float64         `json:"stored_energy_j"`
	StringLength float64         `json:"string_length_m"`
	LeftBehind   float64         `json:"residual_energy_j"`
	Interval     map[string]Span `json:"interval_90"`
}

func viewChange(c Change) ChangeView {
	return ChangeView{
		Speed: float64(c.Speed.Value), DrawWeight: float64(c.DrawWeight.Value), StoredEnergy: float64(c.StoredEnergy.Value),
		StringLength: float64(c.StringLength.Value), LeftBehind: float64(c.LeftBehind.Value),
		Interval: map[string]Span{
			"speed_mps": span(c.Speed), "draw_weight_n": span(c.DrawWeight), "stored_energy_j": span(c.StoredEnergy),
			"string_length_m": span(c.StringLength), "residual_energy_j": span(c.LeftBehind),
		},
	}
}

// PlanBrace plans a brace-height trial for a set-up: which stops this string
// reaches inside the limb maker's range, and what the model expects at each.
func PlanBrace(ctx context.Context, s notebook.Settings, ask BraceAsk, progress func(float64)) (BracePlan, error) {
	in, err := FromSettings(s)
	if err != nil {
		return BracePlan{}, err
	}
	model, err := NewBowModel(ctx, in)
	if err != nil {
		return BracePlan{}, understand(err)
	}
	out := BracePlan{Version: 1, Ask: ask, Now: float64(model.Now())}
	if t := ask.TurnsPerStep; t != 0 && !(t >= leastStep && t <= mostStep) {
		return BracePlan{}, &notebook.Error{Code: notebook.Invalid, Field: "/turns_per_step", Message: fmt.Sprintf("%g turns is not a step", t), Hint: "1 to 20; 3 is usual"}
	}
	if out.Curve, err = model.twistCurve(ctx); err != nil {
		return BracePlan{}, understand(err)
	}
	asked, err := out.input(s, in)
	if err != nil {
		return BracePlan{}, err
	}
	if out.Plan, err = trial.PlanBrace(asked); err != nil {
		return BracePlan{}, understand(err)
	}
	for i := range out.Plan.Stops {
		if !in.TurnsCounted || math.IsNaN(out.Plan.Stops[i].Total) {
			out.Plan.Stops[i].Total = 0 // not known; JSON has no NaN
		}
	}
	return out, out.predict(ctx, s, model, progress)
}

// predict fills in what the model expects at each stop.
func (p *BracePlan) predict(ctx context.Context, s notebook.Settings, model *BowModel, progress func(float64)) error {
	now := unit.Length(p.Now)
	heights := []unit.Length{now}
	for _, stop := range p.Plan.Stops {
		heights = append(heights, stop.Brace.Value)
	}
	sweep, err := model.Sweep(ctx, heights, now, progress)
	if err != nil {
		return understand(err)
	}
	p.Notes = append(Warnings(s), sweep.Notes...)
	for i := range p.Plan.Stops {
		p.Predictions = append(p.Predictions, view(sweep.Stops[i+1], nil))
		p.Changes = append(p.Changes, viewChange(sweep.Changes[i+1]))
	}
	return nil
}

// input translates the ask for package trial.
func (p *BracePlan) input(s notebook.Settings, in Inputs) (trial.BracePlanInput, error) {
	curve, err := trial.TwistTable(p.Curve)
	if err != nil {
		return trial.BracePlanInput{}, understand(err)
	}
	out := trial.BracePlanInput{
		RiserOffset: s.Riser.Offset.Value, Brace: unit.Length(p.Now), Curve: curve, TurnsPerStep: p.Ask.TurnsPerStep,
		Order: p.Ask.Order, ArrowsPerStop: p.Ask.Arrows, SettlingShots: p.Ask.Settling, MinimumMassSet: !s.Arrow.MinimumMass.IsZero(),
	}
	// an uncounted string is planned as if it held the usual turns: what may
	// be taken out or wound in is bounded all the same
	out.Turns = in.Turns
	r, known := Range(s)
	for _, q := range []struct {
		text, field string
		into        *unit.Length
	}{{p.Ask.Low, "/low", &r.Low}, {p.Ask.High, "/high", &r.High}, {p.Ask.StopA, "/stop_a", &out.StopA}, {p.Ask.StopB, "/stop_b", &out.StopB}} {
		if q.text == "" {
			continue
		}
		typed, err := unit.Read(q.text, unit.Reading[unit.Length]{Field: "brace height"})
		if err != nil {
			return out, &notebook.Error{Code: notebook.Invalid, Field: q.field, Message: err.Error()}
		}
		*q.into = typed.Value
		known = known || q.field == "/high" && p.Ask.Low != ""
	}
	if !known {
		return out, &notebook.Error{Code: notebook.Invalid, Field: "/limbs/range_low", Message: "the limb maker's brace-height range is not known, and a trial must stay inside it", Hint: "look it up in the limb's leaflet, like 21 cm to 23 cm"}
	}
	out.LimbLow, out.LimbHigh = r.Low, r.High
	return out, nil
}

// twistCurve is the brace height against turns added, from the best bow with
// a bundle that fits its string. The doubt of the rise is that of the bundle's
// radius, twice, since the shortening goes with its square, and of an
// uncounted string's turns.
func (b *BowModel) twistCurve(ctx context.Context) ([]trial.TwistPoint, error) {
	best := b.members[0].model
	now, err := best.Brace(b.Now())
	if err != nil {
		return nil, err
	}
	guess, err := b.in.Known.String.Guess()
	if err != nil {
		return nil, err
	}
	bundle, err := fitStrands(guess.Bundle, b.in.Turns, 2*now.HalfRest, now.Tension)
	if err != nil {
		return nil, err
	}
	relative := 2 * guess.RadiusDoubt
	if !b.in.TurnsCounted {
		relative = math.Hypot(relative, turnsDoubt/usualTurns)
	}
	var rows []trial.TwistPoint
	for added := -60.0; added <= 60; added += 2 {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		turns := b.in.Turns + added
		if turns < 0 {
			continue
		}
		at, err := best.BraceTwisted(bundle, turns)
		if err != nil {
			continue // beyond what braces the bow: the table ends before it
		}
		rise := float64(at.Brace.Nock - now.Nock)
		half := unit.Length(1.96 * math.Hypot(float64(trial.ReadingSD), rise*relative))
		height := now.Nock + unit.Length(rise)
		rows = append(rows, trial.TwistPoint{Turns: added, Brace: trial.Estimate[unit.Length]{Value: height, Low: height - half, High: height + half, Level: 0.95}})
	}
	return rows, nil
}

// fitStrands makes the bundle's strands so long that, wound by the turns and
// under the tension, the string has the rest length it has on the bow.
func fitStrands(b bow.Bundle, turns float64, rest unit.Length, tension unit.Force) (bow.Bundle, error) {
	b.Strand = rest
	b.MinTurns, b.MaxTurns = 0.01, 200
	for range 20 {
		cord, err := b.At(turns, tension)
		if err != nil {
			return b, err
		}
		if abs(cord.Rest-rest) < 1e-9 {
			return b, nil
		}
		b.Strand += rest - cord.Rest
	}
	return b, fmt.Errorf("no strand length gives a string of %v", rest)
}
