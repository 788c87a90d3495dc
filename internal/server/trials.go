package server

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"slices"
	"time"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// putTrialBody begins a trial.
type putTrialBody struct {
	SetUp notebook.ID `json:"setup" doc:"The set-up in force."`
	Ask   anyAsk      `json:"ask,omitempty" doc:"As planned before, with the seed that the plan's own ask holds; the plan is made anew and kept with the trial."`
	At    time.Time   `json:"at,omitzero" doc:"When it began, by the writer's clock; default the id's time."`
}

// putTrialInput is the request.
type putTrialInput struct {
	IDInput
	Body written[putTrialBody]
}

// trialView is a trial as it now stands.
type trialView struct {
	Trial      notebook.Trial        `json:"trial"`
	Brief      trialBrief            `json:"brief"`
	Plan       anyPlan               `json:"plan" doc:"As it was made."`
	Stops      []trialStopView       `json:"stops" nullable:"false" doc:"The plan's stops with what was measured at each."`
	Events     []notebook.TrialEvent `json:"events" nullable:"false"`
	Recordings []notebook.Recording  `json:"recordings" nullable:"false"`
}

// trialStopView is one stop with what was measured there.
type trialStopView struct {
	Plan     anyStep       `json:"plan"`
	State    string        `json:"state" enum:"todo,reached,measured" doc:"measured: its brace height is known, or its arrows or feel."`
	Expected Doubted       `json:"expected" doc:"What the square should show here, learnt from the other stops measured so far."`
	Readings []readingView `json:"readings" nullable:"false"`
	Question *question     `json:"question,omitempty" doc:"Asked when brace height and turns disagree; nothing is refused."`
}

// question is a friendly question with answers to pick from.
type question struct {
	Text    string   `json:"text"`
	Answers []choice `json:"answers" nullable:"false"`
}

// choice is one answer.
type choice struct {
	Key   string  `json:"key" example:"turns"`
	Text  string  `json:"text" example:"It was 6 turns added"`
	Turns float64 `json:"turns" doc:"Turns from the stop before that this answer implies."`
}

func (s *server) putTrial(ctx context.Context, in *putTrialInput) (*kept[trialView], error) {
	me, err := s.actor(ctx)
	if err != nil {
		return nil, err
	}
	body, err := in.Body.read(systemOf(me))
	if err != nil {
		return nil, err
	}
	stamp, err := made(in.ID, me.ID, body.At)
	if err != nil {
		return nil, err
	}
	if body.Ask.shoots() {
		return s.beginShooting(ctx, in, body, me, stamp)
	}
	switch old, same, err := s.sameTrial(ctx, in.ID, body); {
	case err != nil:
		return nil, err
	case same:
		view, err := s.viewTrial(ctx, old, systemOf(me))
		return &kept[trialView]{Status: http.StatusOK, Body: view}, err
	}
	setup, err := refers(ctx, s, s.Notebook.SetUps(), "/setup", body.SetUp)
	if err != nil {
		return nil, err
	}
	plan, err := s.planBrace(ctx, setup.Settings, body.Ask.planAsk)
	if err != nil {
		return nil, err
	}
	raw, err := writePlan(plan)
	if err != nil {
		return nil, err
	}
	record := notebook.Trial{Stamp: stamp, Bow: setup.Bow, SetUp: setup.ID, What: workbench.BraceTrial, Plan: raw}
	stored, status, err := keep(ctx, s.Notebook.Trials(), me.ID, record)
	if err != nil {
		return nil, err
	}
	if status == http.StatusCreated {
		records, _, err := s.bowRecords(ctx, setup.Bow)
		if err != nil {
			return nil, err
		}
		s.seal(ctx, me, workbench.ForetellTrial(stored, plan, records.Ledger().Widen))
	}
	view, err := s.viewTrial(ctx, stored, systemOf(me))
	return &kept[trialView]{Status: status, Body: view}, err
}

// sameTrial recognises a resend by what was asked, not by the plan: a newer
// program may plan the same ask a little differently, and the plan that was
// followed stands.
func (s *server) sameTrial(ctx context.Context, id string, body putTrialBody) (notebook.Trial, bool, error) {
	old, there, err := ifThere(ctx, s, s.Notebook.Trials(), id)
	if err != nil || !there || old.SetUp != body.SetUp || shooting(old) {
		return old, false, err
	}
	plan, unread := planOf(old)
	return old, unread == nil && plan.Ask == body.Ask.forWorkbench(), nil
}

// writePlan writes a plan for keeping. Turns that were never counted are NaN
// in the plan, which JSON cannot hold; they are kept as 0, which the planner
// reads as not known.
func writePlan(plan workbench.BracePlan) ([]byte, error) {
	plan.Plan.Stops = slices.Clone(plan.Plan.Stops)
	for i := range plan.Plan.Stops {
		if math.IsNaN(plan.Plan.Stops[i].Total) {
			plan.Plan.Stops[i].Total = 0
		}
	}
	raw, err := json.Marshal(plan)
	if err != nil {
		return nil, fmt.Errorf("server: keeping a plan: %w", err)
	}
	return raw, nil
}

// planOf reads the plan kept with a trial.
func planOf(t notebook.Trial) (workbench.BracePlan, error) {
	var plan workbench.BracePlan
	if err := json.Unmarshal(t.Plan, &plan); err != nil {
		return plan, &notebook.Error{Code: notebook.Damaged, Message: "the trial's plan cannot be read", Hint: "run: tautline verify", Cause: err}
	}
	return plan, nil
}

func (s *server) getTrial(ctx context.Context, in *IDInput) (*found[trialView], error) {
	record, err := fetch(ctx, s, s.Notebook.Trials(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	view, err := s.viewTrial(ctx, record, system)
	return &found[trialView]{Body: view}, err
}

func (s *server) listTrials(ctx context.Context, in *listInput) (*found[rows[trialBrief]], error) {
	var fault error
	out, err := list(ctx, s, s.Notebook.Trials(), *in, func(t notebook.Trial) trialBrief {
		brief, err := s.briefTrial(ctx, t)
		if err != nil {
			fault = err
		}
		return brief
	})
	if fault != nil {
		return nil, fault
	}
	return out, err
}

// briefTrial says in a line where a trial stands.
func (s *server) briefTrial(ctx context.Context, t notebook.Trial) (trialBrief, error) {
	events, err := all(ctx, s, s.Notebook.Events(), notebook.Query{Trial: t.ID})
	if err != nil {
		return trialBrief{}, err
	}
	if shooting(t) {
		plan, err := shootingPlan(t)
		return brief(t, len(plan.Steps), events), err
	}
	plan, err := planOf(t)
	return brief(t, len(plan.Plan.Stops), events), err
}

func brief(t notebook.Trial, stops int, events []notebook.TrialEvent) trialBrief {
	b := trialBrief{ID: t.ID, What: t.What, State: "begun", Stops: stops, At: t.At}
	for _, e := range events {
		b.State = e.What
		if e.Stop != nil {
			b.Stop = e.Stop
		}
	}
	return b
}

// viewTrial gathers a trial's records.
func (s *server) viewTrial(ctx context.Context, t notebook.Trial, system unit.System) (trialView, error) {
	v := trialView{Trial: t, Events: []notebook.TrialEvent{}, Recordings: []notebook.Recording{}}
	events, err := all(ctx, s, s.Notebook.Events(), notebook.Query{Trial: t.ID})
	if err != nil {
		return v, err
	}
	recordings, err := all(ctx, s, s.Notebook.Recordings(), notebook.Query{Trial: t.ID})
	if err != nil {
		return v, err
	}
	readings, err := s.readingsOf(ctx, notebook.Query{Trial: t.ID})
	if err != nil {
		return v, err
	}
	v.Events, v.Recordings = append(v.Events, events...), append(v.Recordings, recordings...)
	if shooting(t) {
		plan, err := shootingPlan(t)
		if err != nil {
			return v, err
		}
		v.Plan, v.Brief = anyPlan{shoot: &plan}, brief(t, len(plan.Steps), events)
		v.Stops, err = s.shootingStops(ctx, t, plan, readings, events)
		return v, err
	}
	plan, err := planOf(t)
	if err != nil {
		return v, err
	}
	view := viewPlan(plan, system)
	v.Plan, v.Brief = anyPlan{brace: &view}, brief(t, len(plan.Plan.Stops), events)
	v.Stops = stopsOf(view, readings, events)
	return v, s.learn(ctx, &v, plan, readings, system)
}

// learn adds what the readings so far teach about the stops: the reading to
// expect at each, and a question where turns and brace height disagree.
func (s *server) learn(ctx context.Context, v *trialView, plan workbench.BracePlan, readings []readingView, system unit.System) error {
	setup, err := fetch(ctx, s, s.Notebook.SetUps(), string(v.Trial.SetUp))
	if err != nil {
		return err
	}
	bare := make([]notebook.Reading, len(readings))
	for i, r := range readings {
		bare[i] = r.Reading
	}
	learnt, err := workbench.Learn(plan, workbench.Gather(plan, setup.Settings, bare, nil))
	if err != nil {
		return err
	}
	for i := range v.Stops {
		e := learnt.Expected[i]
		v.Stops[i].Expected = doubtedLength("brace_height", "brace height", e.Value, e.Low, e.High, system.SettingStyle())
		if asked, ok := learnt.Questions[i]; ok {
			q := question{Text: asked.Text, Answers: []choice{}}
			for _, a := range asked.Answers {
				q.Answers = append(q.Answers, choice{a.Key, a.Text, a.Turns})
			}
			v.Stops[i].Question = &q
		}
	}
	return nil
}

// stopsOf puts readings and events to their stops.
func stopsOf(plan planView, readings []readingView, events []notebook.TrialEvent) []trialStopView {
	stops := make([]trialStopView, len(plan.Stops))
	for i := range plan.Stops {
		stops[i] = trialStopView{Plan: anyStep{brace: &plan.Stops[i]}, State: "todo", Readings: []readingView{}}
	}
	place(stops, readings, events)
	for i := range stops {
		for _, r := range stops[i].Readings {
			if r.Reading.Kind == notebook.ReadBrace && r.Corrected == "" {
				stops[i].State = "measured"
			}
		}
	}
	return stops
}

// place sorts events and readings to the stops they name.
func place(stops []trialStopView, readings []readingView, events []notebook.TrialEvent) {
	at := func(stop *int) *trialStopView {
		if stop == nil || *stop < 0 || *stop >= len(stops) {
			return nil
		}
		return &stops[*stop]
	}
	for _, e := range events {
		if stop := at(e.Stop); stop != nil && e.What == notebook.Reached {
			stop.State = "reached"
		}
	}
	for _, r := range readings {
		if stop := at(r.Reading.Stop); stop != nil {
			stop.Readings = append(stop.Readings, r)
		}
	}
}

// putEventInput is a step in a trial's life.
type putEventInput struct {
	IDInput
	Event string `path:"event" doc:"The event's id, a UUIDv7." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Body  struct {
		What notebook.Event `json:"what" enum:"reached,paused,finished,abandoned"`
		Stop *int           `json:"stop,omitempty" minimum:"0" maximum:"1000" doc:"Position in the plan, from 0; needed for reached."`
		Note string         `json:"note,omitempty"`
		At   time.Time      `json:"at,omitzero" doc:"When, by the writer's clock; default the id's time."`
	}
}

func (s *server) putEvent(ctx context.Context, in *putEventInput) (*kept[notebook.TrialEvent], error) {
	me, err := s.actor(ctx)
	if err != nil {
		return nil, err
	}
	t, err := fetch(ctx, s, s.Notebook.Trials(), in.ID)
	if err != nil {
		return nil, err
	}
	stamp, err := made(in.Event, me.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	record := notebook.TrialEvent{Stamp: stamp, Trial: t.ID, What: in.Body.What, Stop: in.Body.Stop, Note: in.Body.Note}
	stored, status, err := keep(ctx, s.Notebook.Events(), me.ID, record)
	if err != nil {
		return nil, err
	}
	return &kept[notebook.TrialEvent]{Status: status, Body: stored}, nil
}
