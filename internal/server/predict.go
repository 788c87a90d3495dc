package server

import (
	"context"
	"errors"
	"fmt"
	"math"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// StopView is what the model says of one brace height.
type StopView struct {
	BraceHeight Shown     `json:"brace_height"`
	Predicted   []Doubted `json:"predicted" nullable:"false" doc:"Draw weight, stored energy, string length, speed and the rest."`
	Changes     []Doubted `json:"changes,omitempty" doc:"Against the brace height the sweep is compared with; what all plausible bows share cancels, so these are much better known."`
	Audit       float64   `json:"energy_audit_ratio" doc:"Worst share of the stored energy that the computation gained or lost." example:"1e-6"`
}

// viewStop shows one stop in a person's units.
func viewStop(s workbench.Stop, system unit.System) StopView {
	return StopView{
		BraceHeight: Shown{float64(s.BraceHeight), "m", system.SettingStyle().Print(s.BraceHeight)},
		Audit:       s.Audit,
		Predicted: []Doubted{
			doubted("draw_weight", "draw weight", "N", s.DrawWeight, system.ForceStyle()),
			doubted("stored_energy", "stored energy", "J", s.StoredEnergy, system.EnergyStyle()),
			doubted("speed", "arrow speed", "m/s", s.Speed, system.SpeedStyle()),
			ratio("efficiency", "efficiency", s.Efficiency, system),
			doubted("time_on_string", "time on the string", "s", s.TimeOnString, system.DurationStyle()),
			doubted("residual_energy", "energy left behind", "J", s.LeftBehind, system.EnergyStyle()),
			doubted("string_length", "string length", "m", s.StringLength, system.DrawStyle()),
			doubted("string_tension_brace", "string tension at rest", "N", s.BraceTension, system.ForceStyle()),
			doubted("separation_past_brace", "arrow leaves past brace height", "m", s.PastBrace, system.SettingStyle()),
		},
	}
}

// viewChanges shows how a stop differs from the one it is compared with.
func viewChanges(c workbench.Change, system unit.System) []Doubted {
	return []Doubted{
		changed("draw_weight", "draw weight", "N", c.DrawWeight, system.ForceStyle()),
		changed("stored_energy", "stored energy", "J", c.StoredEnergy, system.EnergyStyle()),
		changed("speed", "arrow speed", "m/s", c.Speed, system.SpeedStyle()),
		changed("time_on_string", "time on the string", "s", c.TimeOnString, system.DurationStyle()),
		changed("residual_energy", "energy left behind", "J", c.LeftBehind, system.EnergyStyle()),
		changed("string_length", "string length", "m", c.StringLength, system.SettingStyle()),
	}
}

// ratio shows a share as percent.
func ratio(name, label string, e workbench.Estimate[float64], system unit.System) Doubted {
	percent := func(v float64) string { return plainNumber(math.Round(v*1000)/10, system) }
	return Doubted{Name: name, Label: label, Unit: "1", SI: finite(e.Value), Low: finite(e.Low), High: finite(e.High),
		Text: percent(e.Value) + " %", Doubt: percent(e.Low) + " to " + percent(e.High) + " %"}
}

// PredictBody asks what one set-up does.
type PredictBody struct {
	SetUp    notebook.ID        `json:"setup,omitempty" doc:"A stored set-up."`
	Settings *notebook.Settings `json:"settings,omitempty" doc:"Or settings as typed; one of the two."`
	Set      map[string]string  `json:"set,omitempty" doc:"Entries to change before predicting, as on the command line." example:"{\"brace_height\":\"21.5 cm\"}"`
}

// predictInput is the request.
type predictInput struct {
	Body written[PredictBody]
}

// predictView is the prediction for one set-up.
type predictView struct {
	StopView
	Bows     int      `json:"plausible_bows" doc:"Bows behind each interval: it holds 90 % of them." example:"32"`
	Fitted   bool     `json:"fitted" doc:"False: nothing in the model has seen this bow shoot."`
	Notes    []string `json:"notes" nullable:"false" doc:"What was assumed, and what it rests on."`
	Cautions []string `json:"cautions" nullable:"false"`
}

func (s *server) predict(ctx context.Context, in *predictInput) (*found[predictView], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	settings, err := s.settingsFor(ctx, body.SetUp, body.Settings, body.Set, system)
	if err != nil {
		return nil, err
	}
	view, err := s.predictSettings(ctx, settings, system)
	if err != nil {
		return nil, err
	}
	return &found[predictView]{Body: *view}, nil
}

// settingsFor gives the settings a request is about: stored or typed, with
// changes applied and everything checked.
func (s *server) settingsFor(ctx context.Context, setup notebook.ID, typed *notebook.Settings, set map[string]string, system unit.System) (notebook.Settings, error) {
	var settings notebook.Settings
	switch {
	case typed != nil && setup != "" || typed == nil && setup == "":
		return settings, refuse(FieldError{"/setup", codeInvalid, "give either a set-up or settings", "the id of a stored set-up, or the settings themselves"})
	case typed != nil:
		settings = *typed
	default:
		record, err := refers(ctx, s, s.Notebook.SetUps(), "/setup", setup)
		if err != nil {
			return settings, err
		}
		settings = record.Settings
	}
	settings, err := changeSettings(settings, set, system)
	if err != nil {
		return settings, err
	}
	if problems := settings.Check(); len(problems) > 0 {
		p := ofProblems(problems)
		p.Errors = under("/settings", p.Errors)
		return settings, p.lead()
	}
	return settings, nil
}

// changeSettings applies changes in a fixed order and names every one that
// cannot be read.
func changeSettings(settings notebook.Settings, set map[string]string, system unit.System) (notebook.Settings, error) {
	var errs []FieldError
	for _, key := range sortedKeys(set) {
		next, err := settings.With(key, set[key])
		var parse *unit.ParseError
		var rule *notebook.Error
		switch {
		case err == nil:
			settings = next
		case errors.As(err, &parse):
			errs = append(errs, unreadable("/set/"+escaped(key), parse))
		case errors.As(err, &rule):
			errs = append(errs, FieldError{"/set/" + escaped(key), string(rule.Code), rule.Message, rule.Hint})
		default:
			errs = append(errs, FieldError{"/set/" + escaped(key), codeUnreadable, "cannot be read", "write it like 22.5 cm"})
		}
	}
	if len(errs) > 0 {
		return settings, refuse(errs...)
	}
	return settings, nil
}

func (s *server) predictSettings(ctx context.Context, settings notebook.Settings, system unit.System) (*predictView, error) {
	height, ok := settings.BraceHeight.ToPivot()
	if !ok {
		return nil, refuse(FieldError{"/settings/brace_height/value", codeInvalid, "the brace height is missing", "measure from the grip's deepest point, like 22 cm"})
	}
	sweep, err := s.sweepHeights(ctx, settings, []unit.Length{height}, height)
	if err != nil {
		return nil, err
	}
	view := predictView{StopView: viewStop(sweep.Stops[0], system), Bows: sweep.Bows, Notes: someText(sweep.Notes), Cautions: cautions}
	return &view, nil
}

// cautions stand beside every prediction (job.md).
var cautions = []string{
	"A computed figure never overrides the limb maker's range, the arrow maker's minimum mass or your coach.",
	"Never loose a string without an arrow on it.",
}

// sweepBody asks what a range of brace heights does.
type sweepBody struct {
	PredictBody
	From  notebook.Length `json:"from,omitzero" doc:"Lowest brace height to the pivot; default the low end of the limb maker's range." example:"20.5 cm"`
	To    notebook.Length `json:"to,omitzero" doc:"Highest; default the high end of the range." example:"23.5 cm"`
	Steps int             `json:"steps,omitempty" doc:"Heights computed, 2 to 25; default 9." example:"9"`
}

// sweepInput is the request.
type sweepInput struct {
	Body written[sweepBody]
}

// sweepView is the answer: rows for the table, figures for the screen.
type sweepView struct {
	Stops   []StopView      `json:"stops" nullable:"false"`
	From    int             `json:"compared_with" doc:"Position of the stop that the changes are against, from 0."`
	Figures []figure.Figure `json:"figures" nullable:"false"`
	Bows    int             `json:"plausible_bows"`
	Notes   []string        `json:"notes" nullable:"false"`
}

func (s *server) sweep(ctx context.Context, in *sweepInput) (*found[sweepView], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	settings, err := s.settingsFor(ctx, body.SetUp, body.Settings, body.Set, system)
	if err != nil {
		return nil, err
	}
	heights, err := heightsOf(body, settings)
	if err != nil {
		return nil, err
	}
	now, _ := settings.BraceHeight.ToPivot()
	sweep, err := s.sweepHeights(ctx, settings, heights, now)
	if err != nil {
		return nil, err
	}
	view := sweepView{From: sweep.From, Bows: sweep.Bows, Notes: someText(sweep.Notes), Figures: sweepFigures(sweep, settings, system)}
	for i, stop := range sweep.Stops {
		v := viewStop(stop, system)
		v.Changes = viewChanges(sweep.Changes[i], system)
		view.Stops = append(view.Stops, v)
	}
	return &found[sweepView]{Body: view}, nil
}

// mostSteps bounds what one request computes.
const mostSteps = 25

// heightsOf gives the brace heights asked for, evenly spaced.
func heightsOf(body sweepBody, settings notebook.Settings) ([]unit.Length, error) {
	offset := settings.Riser.Offset.Value
	low, high := settings.Limbs.RangeLow.Value-offset, settings.Limbs.RangeHigh.Value-offset
	if !body.From.IsZero() {
		low = body.From.Value
	}
	if !body.To.IsZero() {
		high = body.To.Value
	}
	if body.Steps == 0 {
		body.Steps = 9
	}
	usual := unit.BraceHeight
	switch {
	case body.Steps < 2 || body.Steps > mostSteps:
		return nil, refuse(FieldError{"/steps", codeInvalid, fmt.Sprintf("%d is not a number of heights", body.Steps), fmt.Sprintf("2 to %d", mostSteps)})
	case !usual.Holds(low):
		return nil, refuse(FieldError{"/from", codeInvalid, "the lowest brace height is missing or not one", "like 20.5 cm, or enter the limb maker's range"})
	case !usual.Holds(high) || high <= low:
		return nil, refuse(FieldError{"/to", codeInvalid, "the highest brace height is missing or not above the lowest", "like 23.5 cm, or enter the limb maker's range"})
	}
	heights := make([]unit.Length, body.Steps)
	for i := range heights {
		heights[i] = low + (high-low)*unit.Length(i)/unit.Length(body.Steps-1)
	}
	return heights, nil
}

// mostSweeps is how many answers of the model are kept: some kilobytes each.
const mostSweeps = 256

// sweepHeights computes, with the bow's model kept from earlier requests; what
// was asked lately is not computed again. Nobody may change the answer.
func (s *server) sweepHeights(ctx context.Context, settings notebook.Settings, heights []unit.Length, from unit.Length) (workbench.Sweep, error) {
	key, err := fingerprint(settings, heights, from)
	if err != nil {
		return workbench.Sweep{}, err
	}
	if known, ok := s.sweeps.recall(key); ok {
		return known, nil
	}
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	if err := s.queue.enter(ctx); err != nil {
		return workbench.Sweep{}, err
	}
	defer s.queue.leave()
	model, err := s.model(ctx, settings)
	if err != nil {
		return workbench.Sweep{}, noPrediction(ctx, err)
	}
	sweep, err := model.Sweep(ctx, heights, from, nil)
	if err != nil {
		return workbench.Sweep{}, noPrediction(ctx, err)
	}
	s.sweeps.keep(key, sweep)
	return sweep, nil
}

// noPrediction says why the model cannot answer. What a person can put right
// keeps its own words, and so does what is not the numbers' fault: no room for
// the work, or its end before it was done.
func noPrediction(ctx context.Context, err error) error {
	var rule *notebook.Error
	var many notebook.Problems
	var said *Problem
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if errors.As(err, &rule) || errors.As(err, &many) || errors.As(err, &said) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	p := newProblem(422, codeNoPrediction, sentence(firstClause(err.Error())), "Check brace height, draw length, draw weight and bow length.")
	p.cause = err
	return p
}

// someText gives an empty list instead of none.
func someText(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}
