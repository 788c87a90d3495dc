package server

import (
	"cmp"
	"context"
	"math"
	"slices"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// planBody asks for a plan of a trial.
type planBody struct {
	SetUp notebook.ID `json:"setup" doc:"The set-up in force; its string and limbs decide what can be reached."`
	Ask   anyAsk      `json:"ask,omitempty"`
}

// planAsk is what a person decides of a trial; empty fields take defaults.
type planAsk struct {
	TurnsPerStep float64         `json:"turns_per_step,omitempty" doc:"String turns from stop to stop, 1 to 20; default 3." example:"3"`
	Order        string          `json:"order,omitempty" doc:"up, down or abba; default from the nearer end." example:"up"`
	StopA        notebook.Length `json:"stop_a,omitzero" doc:"First of the two stops of A-B-B-A."`
	StopB        notebook.Length `json:"stop_b,omitzero" doc:"Second of the two stops of A-B-B-A."`
	Arrows       int             `json:"arrows_per_stop,omitempty" doc:"Counted arrows a stop; default 6." example:"6"`
	Settling     int             `json:"settling_shots,omitempty" doc:"Shots before reading the brace height; default 3." example:"3"`
	Low          notebook.Length `json:"low,omitzero" doc:"Low end to use where the limb maker's range is not known."`
	High         notebook.Length `json:"high,omitzero" doc:"High end to use where the limb maker's range is not known."`
}

// planInput is the request.
type planInput struct {
	Body written[planBody]
}

// planView is a plan for screen and paper.
type planView struct {
	Low         Shown          `json:"low" doc:"The limb maker's range as this riser's square reads it."`
	High        Shown          `json:"high"`
	SpanLow     Shown          `json:"span_low" doc:"What this string reaches inside the range."`
	SpanHigh    Shown          `json:"span_high"`
	Now         Shown          `json:"now" doc:"Brace height when it was planned."`
	Start       string         `json:"start" doc:"low, high or A." example:"low"`
	StartReason string         `json:"start_reason"`
	Order       string         `json:"order" example:"up"`
	OrderReason string         `json:"order_reason"`
	Stops       []planStopView `json:"stops" nullable:"false" doc:"In shooting order."`
	Beyond      []string       `json:"beyond" nullable:"false" doc:"Parts of the range that need another string."`
	Minutes     float64        `json:"minutes" example:"75"`
	Arrows      int            `json:"arrows" doc:"All shots, settling ones included." example:"56"`
	Notes       []string       `json:"notes" nullable:"false" doc:"What was assumed."`
	Warnings    []string       `json:"warnings" nullable:"false"`
	Cautions    []string       `json:"cautions" nullable:"false"`
}

// planStopView is one stop of a plan.
type planStopView struct {
	Position      int       `json:"position" doc:"In shooting order, from 0; goes into readings and events as stop." example:"0"`
	Number        int       `json:"number" doc:"By brace height, 1 is the lowest; visits to one stop share it." example:"1"`
	TurnsFromLast float64   `json:"turns_from_previous" doc:"Turns to add; negative: take out." example:"3"`
	TurnsFromNow  float64   `json:"turns_from_now" doc:"Counted from the string as it was when the trial was planned." example:"-6"`
	TurnsTotal    *float64  `json:"turns_total" doc:"In all; null when they were never counted."`
	Brace         Doubted   `json:"brace_height" doc:"Expected reading on the square."`
	InRange       string    `json:"in_range" enum:"yes,no,not sure"`
	Settling      int       `json:"settling_shots"`
	Arrows        int       `json:"arrows"`
	Minutes       float64   `json:"minutes"`
	Predicted     []Doubted `json:"predicted" nullable:"false"`
	Changes       []Doubted `json:"changes" nullable:"false" doc:"Against the brace height when it was planned."`
}

func (s *server) planTrial(ctx context.Context, in *planInput) (*found[anyPlan], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	setup, err := refers(ctx, s, s.Notebook.SetUps(), "/setup", body.SetUp)
	if err != nil {
		return nil, err
	}
	if body.Ask.shoots() {
		plan, err := planShooting(body.Ask.TrialAsk, setup.Settings, system, string(s.NewID()))
		plan = report.AllMarked(plan, system)
		return &found[anyPlan]{Body: anyPlan{shoot: &plan}}, err
	}
	plan, err := s.planBrace(ctx, setup.Settings, body.Ask.planAsk)
	if err != nil {
		return nil, err
	}
	view := report.AllMarked(viewPlan(plan, system), system)
	return &found[anyPlan]{Body: anyPlan{brace: &view}}, nil
}

// planBrace plans within the time a request may compute.
func (s *server) planBrace(ctx context.Context, settings notebook.Settings, ask planAsk) (workbench.BracePlan, error) {
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	if err := s.queue.enter(ctx); err != nil {
		return workbench.BracePlan{}, err
	}
	defer s.queue.leave()
	plan, err := workbench.PlanBrace(ctx, settings, ask.forWorkbench(), nil)
	if err != nil {
		return plan, noPrediction(ctx, err)
	}
	return plan, nil
}

// forWorkbench passes the wishes on, lengths as typed.
func (a planAsk) forWorkbench() workbench.BraceAsk {
	ask := workbench.BraceAsk{
		TurnsPerStep: a.TurnsPerStep, StopA: a.StopA.Text, StopB: a.StopB.Text,
		Arrows: a.Arrows, Settling: a.Settling, Low: a.Low.Text, High: a.High.Text,
	}
	setText(&ask.Order, a.Order)
	return ask
}

// setText gives a text to a field whose type is a kind of text.
func setText[T ~string](field *T, text string) { *field = T(text) }

func viewPlan(b workbench.BracePlan, system unit.System) planView {
	p, setting := b.Plan, system.SettingStyle()
	show := func(l unit.Length) Shown { return Shown{float64(l), "m", setting.Print(l)} }
	v := planView{
		Low: show(p.Low), High: show(p.High), SpanLow: show(p.SpanLow), SpanHigh: show(p.SpanHigh), Now: show(unit.Length(b.Now)),
		Start: p.Start, StartReason: p.StartReason, Order: string(p.Order), OrderReason: p.OrderReason,
		Minutes: float64(p.Time) / 60, Arrows: p.Arrows, Notes: someText(b.Notes), Warnings: someText(p.Warnings),
		Stops: []planStopView{}, Beyond: []string{}, Cautions: []string{},
	}
	for _, x := range p.Beyond {
		v.Beyond = append(v.Beyond, x.Description)
	}
	for _, c := range p.Cautions {
		v.Cautions = append(v.Cautions, c.Text())
	}
	for i, stop := range p.Stops {
		view := planStopView{
			Position: i, Number: stop.Index, TurnsFromLast: stop.FromPrevious, TurnsFromNow: stop.FromNow,
			TurnsTotal: known(stop.Total), InRange: string(stop.InRange), Settling: stop.Settling, Arrows: stop.Arrows,
			Minutes: float64(stop.Time) / 60, Predicted: []Doubted{}, Changes: []Doubted{},
			Brace: doubtedLength("brace_height", "brace height", stop.Brace.Value, stop.Brace.Low, stop.Brace.High, setting),
		}
		if i < len(b.Predictions) {
			view.Predicted = viewPrediction(b.Predictions[i], system)
		}
		if i < len(b.Changes) {
			view.Changes = viewChange(b.Changes[i], system)
		}
		v.Stops = append(v.Stops, view)
	}
	return v
}

// known is a number of turns in all, which is 0 or NaN when never counted.
func known(turns float64) *float64 {
	if turns == 0 {
		return nil
	}
	return finite(turns)
}

// doubtedLength shows a length with the ends of its interval.
func doubtedLength(name, label string, value, low, high unit.Length, style unit.Style[unit.Length]) Doubted {
	d := Doubted{Name: name, Label: label, Unit: "m", SI: finite(float64(value)), Low: finite(float64(low)), High: finite(float64(high)),
		Text: style.Print(value), Doubt: style.Range(low, high)}
	if d.Low == nil || d.High == nil || math.IsNaN(float64(low)) {
		d.Doubt = noDoubt
	}
	return d
}

// numbered is one quantity of the workbench's JSON view: its key, its name
// here, its words, its unit and its printer.
type numbered struct {
	key, name, label, kind string
}

// viewed lists the quantities of a prediction in the order of the screen.
var viewed = []numbered{
	{"draw_weight_n", "draw_weight", "draw weight", "force"},
	{"stored_energy_j", "stored_energy", "stored energy", "energy"},
	{"speed_mps", "speed", "arrow speed", "speed"},
	{"time_on_string_s", "time_on_string", "time on the string", "duration"},
	{"residual_energy_j", "residual_energy", "energy left behind", "energy"},
	{"string_length_m", "string_length", "string length", "draw"},
}

func viewPrediction(p workbench.Prediction, system unit.System) []Doubted {
	var out []Doubted
	for _, q := range viewed {
		out = append(out, q.show(valueOf(p, q.key), p.Interval[q.key], system, false))
	}
	return out
}

// valueOf reads a prediction's number by its key.
func valueOf(p workbench.Prediction, key string) float64 {
	switch key {
	case "draw_weight_n":
		return p.DrawWeight
	case "stored_energy_j":
		return p.StoredEnergy
	case "speed_mps":
		return p.Speed
	case "time_on_string_s":
		return p.TimeOnString
	case "residual_energy_j":
		return p.LeftBehind
	case "string_length_m":
		return p.StringLength
	}
	return math.NaN()
}

// sortedModel orders predictions by brace height, for a line.
func sortedModel(list []workbench.Prediction) []workbench.Prediction {
	return slices.SortedFunc(slices.Values(list), func(a, b workbench.Prediction) int { return cmp.Compare(a.BraceHeight, b.BraceHeight) })
}

func viewChange(c workbench.ChangeView, system unit.System) []Doubted {
	values := map[string]float64{
		"draw_weight_n": c.DrawWeight, "stored_energy_j": c.StoredEnergy, "speed_mps": c.Speed,
		"residual_energy_j": c.LeftBehind, "string_length_m": c.StringLength,
	}
	var out []Doubted
	for _, q := range viewed {
		v, ok := values[q.key]
		if !ok {
			continue
		}
		if q.name == "string_length" {
			q.kind = "setting" // a change of it is millimetres
		}
		out = append(out, q.show(v, c.Interval[q.key], system, true))
	}
	return out
}

// show prints the value and its span; a difference gets its sign.
func (q numbered) show(value float64, span workbench.Span, system unit.System, difference bool) Doubted {
	k := kinds[q.kind]
	text := func(v float64) string {
		s := k.print(system, v)
		if difference && v > 0 {
			return "+" + s
		}
		return s
	}
	return Doubted{Name: q.name, Label: q.label, Unit: k.si, SI: finite(value), Low: finite(span[0]), High: finite(span[1]),
		Text: text(value), Doubt: text(span[0]) + " to " + text(span[1])}
}
