package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// anyAsk is what a person decides of any trial. Without what, or with "brace
// height", it is a brace-height trial; the fields of the other kinds are left
// alone then, and the other way round.
type anyAsk struct {
	planAsk
	workbench.TrialAsk
}

// Schema describes the fields of both, of which the API library would leave out
// the first's.
func (anyAsk) Schema(r huma.Registry) *huma.Schema {
	both := &huma.Schema{Type: huma.TypeObject, AdditionalProperties: false, Properties: map[string]*huma.Schema{}}
	for _, one := range []reflect.Type{reflect.TypeFor[planAsk](), reflect.TypeFor[workbench.TrialAsk]()} {
		maps.Copy(both.Properties, r.Schema(one, false, "").Properties)
	}
	both.Properties["what"].Description += " Left out: a brace-height trial."
	return both
}

// shoots reports whether the trial is judged by where arrows hit, or by feel.
func (a anyAsk) shoots() bool { return a.What != "" && a.What != workbench.BraceTrial }

// shooting reads the kind of a kept trial.
func shooting(t notebook.Trial) bool { return t.What != workbench.BraceTrial }

// either is one of two answers that share a place; the first is the
// brace-height trial's. In JSON it is whichever there is.
type either[B, S any] struct {
	brace *B
	shoot *S
}

// Schema describes both.
func (either[B, S]) Schema(r huma.Registry) *huma.Schema {
	return &huma.Schema{AnyOf: []*huma.Schema{r.Schema(reflect.TypeFor[B](), true, ""), r.Schema(reflect.TypeFor[S](), true, "")}}
}

// MarshalJSON writes the one there is.
func (e either[B, S]) MarshalJSON() ([]byte, error) {
	if e.shoot != nil {
		return json.Marshal(e.shoot)
	}
	return json.Marshal(e.brace)
}

// UnmarshalJSON reads a kept answer: those of shooting trials say what they
// are.
func (e *either[B, S]) UnmarshalJSON(raw []byte) error {
	var kind struct {
		What string `json:"what"`
	}
	if err := json.Unmarshal(raw, &kind); err != nil {
		return err
	}
	*e = either[B, S]{}
	if kind.What != "" {
		e.shoot = new(S)
		return json.Unmarshal(raw, e.shoot)
	}
	e.brace = new(B)
	return json.Unmarshal(raw, e.brace)
}

// anyPlan, anyStep and anyVerdict are a trial's parts, whatever its kind.
type (
	anyPlan    = either[planView, workbench.TrialPlan]
	anyStep    = either[planStopView, workbench.TrialStep]
	anyVerdict = either[verdictView, workbench.TrialVerdict]
)

// inputsOf is the fingerprint of what a verdict saw.
func inputsOf(v anyVerdict) string {
	if v.shoot != nil {
		return v.shoot.Inputs
	}
	return v.brace.Inputs
}

// planShooting plans a trial that is judged by arrows or feel. Distances get
// the person's unit where it was left out; without a seed the order follows
// from the salt.
func planShooting(ask workbench.TrialAsk, settings notebook.Settings, system unit.System, salt string) (workbench.TrialPlan, error) {
	if ask.Seed == 0 {
		sum := sha256.Sum256([]byte(salt))
		ask.Seed = 1 + uint64(binary.BigEndian.Uint32(sum[:4]))
	}
	for _, text := range append([]*string{&ask.Distance}, pointers(ask.Distances)...) {
		if *text == "" {
			continue
		}
		if v, err := kinds["distance"].read(system, "distance", *text); err == nil {
			*text = v.Full // what cannot be read is refused by the plan, field by field
		}
	}
	ask, err := ask.FromSetUp(settings)
	if err != nil {
		return workbench.TrialPlan{}, err
	}
	return workbench.PlanTrial(ask)
}

func pointers(list []string) []*string {
	out := make([]*string, len(list))
	for i := range list {
		out[i] = &list[i]
	}
	return out
}

// beginShooting keeps a trial judged by arrows or feel. A resend is known by
// what was asked: the plan that was followed stands.
func (s *server) beginShooting(ctx context.Context, in *putTrialInput, body putTrialBody, me notebook.Person, stamp notebook.Stamp) (*kept[trialView], error) {
	setup, err := refers(ctx, s, s.Notebook.SetUps(), "/setup", body.SetUp)
	if err != nil {
		return nil, err
	}
	plan, err := planShooting(body.Ask.TrialAsk, setup.Settings, systemOf(me), in.ID)
	if err != nil {
		return nil, err
	}
	old, there, err := ifThere(ctx, s, s.Notebook.Trials(), in.ID)
	if err != nil {
		return nil, err
	}
	if there && old.SetUp == body.SetUp && shooting(old) {
		if was, err := shootingPlan(old); err == nil && reflect.DeepEqual(was.Ask, plan.Ask) {
			view, err := s.viewTrial(ctx, old, systemOf(me))
			return &kept[trialView]{Status: http.StatusOK, Body: view}, err
		}
	}
	raw, err := json.Marshal(plan)
	if err != nil {
		return nil, fmt.Errorf("server: keeping a plan: %w", err)
	}
	record := notebook.Trial{Stamp: stamp, Bow: setup.Bow, SetUp: setup.ID, What: plan.What, Plan: raw}
	stored, status, err := keep(ctx, s.Notebook.Trials(), me.ID, record)
	if err != nil {
		return nil, err
	}
	view, err := s.viewTrial(ctx, stored, systemOf(me))
	return &kept[trialView]{Status: status, Body: view}, err
}

// shootingPlan reads the plan kept with a trial.
func shootingPlan(t notebook.Trial) (workbench.TrialPlan, error) {
	var plan workbench.TrialPlan
	if err := json.NewDecoder(bytes.NewReader(t.Plan)).Decode(&plan); err != nil {
		return plan, &notebook.Error{Code: notebook.Damaged, Message: "the trial's plan cannot be read", Hint: "run: tautline verify", Cause: err}
	}
	return plan, nil
}

// shootingStops puts ends, readings and events to the steps of a plan.
func (s *server) shootingStops(ctx context.Context, t notebook.Trial, plan workbench.TrialPlan, readings []readingView, events []notebook.TrialEvent) ([]trialStopView, error) {
	stops := make([]trialStopView, len(plan.Steps))
	for i := range plan.Steps {
		stops[i] = trialStopView{Plan: anyStep{shoot: &plan.Steps[i]}, State: "todo", Readings: []readingView{}}
	}
	place(stops, readings, events)
	for i := range stops {
		for _, r := range stops[i].Readings {
			if r.Reading.Kind == notebook.ReadFeel && r.Corrected == "" && plan.What != workbench.TillerTrial {
				stops[i].State = "measured"
			}
		}
	}
	ends, err := s.endsOf(ctx, selection{Trial: t.ID})
	for _, e := range ends {
		if e.Stop != nil && *e.Stop < len(stops) {
			stops[*e.Stop].State = "measured"
		}
	}
	return stops, err
}

// judgeShooting gives the verdict on the arrows shot so far.
func (s *server) judgeShooting(ctx context.Context, t notebook.Trial, me notebook.Person) (workbench.TrialVerdict, error) {
	plan, err := shootingPlan(t)
	if err != nil {
		return workbench.TrialVerdict{}, err
	}
	hand, err := s.handOf(ctx, t.Bow)
	if err != nil {
		return workbench.TrialVerdict{}, err
	}
	ask := workbench.JudgeAsk{LeftHanded: hand == notebook.LeftHanded, Style: systemOf(me).ImpactStyle()}
	if ask.Ends, err = s.endsOf(ctx, selection{Trial: t.ID}); err != nil {
		return workbench.TrialVerdict{}, err
	}
	setup, err := fetch(ctx, s, s.Notebook.SetUps(), string(t.SetUp))
	if err != nil {
		return workbench.TrialVerdict{}, err
	}
	ask.SetUp = &setup.Settings
	if ask.Readings, err = all(ctx, s, s.Notebook.Readings(), notebook.Query{Trial: t.ID}); err != nil {
		return workbench.TrialVerdict{}, err
	}
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	if err := s.queue.enter(ctx); err != nil {
		return workbench.TrialVerdict{}, err
	}
	defer s.queue.leave()
	if plan.What != workbench.NockingTrial {
		return workbench.JudgeTrial(plan, ask)
	}
	settings, err := s.shotWith(ctx, t)
	if err != nil {
		return workbench.TrialVerdict{}, err
	}
	return workbench.JudgeNocking(ctx, plan, ask, settings, workbench.HandOf(hand))
}

// shotWith is the set-up a trial was shot with. What was only looked at
// afterwards, the rest's wire and the powder check, counts as the bow's latest
// set-up has it: the verdict asks for it, and must be able to see the answer.
func (s *server) shotWith(ctx context.Context, t notebook.Trial) (notebook.Settings, error) {
	setup, err := fetch(ctx, s, s.Notebook.SetUps(), string(t.SetUp))
	if err != nil {
		return notebook.Settings{}, err
	}
	_, latest, err := s.latestWith(ctx, t.Bow, nil, unit.Metric())
	if err != nil {
		return notebook.Settings{}, err
	}
	settings := setup.Settings
	if settings.Rest.Reach.IsZero() {
		settings.Rest.Reach = latest.Rest.Reach
	}
	if latest.Rest.Powder != "" {
		settings.Rest.Powder = latest.Rest.Powder
	}
	return settings, nil
}
