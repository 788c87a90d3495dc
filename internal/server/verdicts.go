package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"tautline/internal/figure"
	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// verdictView is a trial's answer for the screen.
type verdictView struct {
	Outcome     string          `json:"outcome" enum:"spot,no_spot,repeat,difference,cannot_tell" doc:"A spot stands out; none does; repeat these stops; two brace heights were told apart (A-B-B-A); or it cannot be told yet."`
	Text        string          `json:"text" doc:"The answer in a sentence or two." example:"No spot stands out: quieter all the way up."`
	Candidates  []candidateView `json:"candidates" nullable:"false" doc:"Lively and settled spots, only where claimed."`
	Contrasts   []string        `json:"contrasts,omitempty" doc:"Where two brace heights were compared, what each measure says: A, visited first, minus B."`
	Trends      []trendView     `json:"trends" nullable:"false" doc:"Every measure against brace height."`
	Repeats     []repeatView    `json:"repeats" nullable:"false" doc:"Stops worth another visit."`
	Choices     []choiceView    `json:"choices" nullable:"false" doc:"Brace heights to choose from, with what each would cost."`
	Stops       int             `json:"stops"`
	Arrows      int             `json:"arrows" doc:"Counted; settling shots are not."`
	Figures     []figure.Figure `json:"figures" nullable:"false"`
	Assumptions []string        `json:"assumptions" nullable:"false"`
	Warnings    []string        `json:"warnings" nullable:"false"`
	WouldChange []string        `json:"would_change" nullable:"false" doc:"What would change the verdict."`
	Inputs      string          `json:"inputs" doc:"SHA-256 of the readings it saw; another means that readings were added or changed."`
}

// candidateView is a spot.
type candidateView struct {
	Kind     string   `json:"kind" enum:"lively,settled"`
	Stop     int      `json:"stop" doc:"Number of the stop nearest to it, by brace height from 1."`
	Brace    Doubted  `json:"brace_height"`
	Evidence []string `json:"evidence" nullable:"false" doc:"Strongest first."`
}

// trendView is one measure against brace height.
type trendView struct {
	Measure    string   `json:"measure" example:"level_db"`
	Label      string   `json:"label" example:"level"`
	Unit       string   `json:"unit" example:"dB"`
	SlopePerCM *float64 `json:"slope_per_cm" doc:"Change per centimetre more brace height."`
	SlopeLow   *float64 `json:"slope_low"`
	SlopeHigh  *float64 `json:"slope_high"`
	Direction  string   `json:"direction" doc:"falls, rises, or empty when the interval holds zero."`
	Shots      int      `json:"shots"`
	P          *float64 `json:"p" doc:"Of the most remarkable departure, corrected for the stops looked at, or of two brace heights of their difference; null: not tested."`
	Note       string   `json:"note,omitempty" doc:"Why it was not tested."`
	Detectable *float64 `json:"detectable" doc:"Size of a one-stop spot found in 4 of 5 trials like this; null: none."`
}

// repeatView is a stop worth another visit.
type repeatView struct {
	Stop   int    `json:"stop"`
	Brace  Shown  `json:"brace_height"`
	Arrows int    `json:"arrows" doc:"More arrows, counted."`
	Reason string `json:"reason"`
}

// choiceView is a brace height that can be chosen, and what it would cost.
type choiceView struct {
	Stop    int       `json:"stop" doc:"Position in the plan, from 0; send it to choose."`
	Brace   Shown     `json:"brace_height"`
	Turns   float64   `json:"turns_from_now" doc:"String turns from where the trial began."`
	Spot    string    `json:"spot,omitempty" enum:"lively,settled" doc:"The spot found here, if any."`
	Changes []Doubted `json:"changes" nullable:"false" doc:"Against the set-up in force."`
	Stale   []string  `json:"stale" nullable:"false" doc:"Earlier results that it would make stale."`
}

// emptyInput is a request whose body is an empty object.
type emptyInput struct {
	IDInput
	Body struct{}
}

// putVerdictInput keeps a verdict.
type putVerdictInput struct {
	IDInput
	Verdict string `path:"verdict" doc:"The verdict's id, a UUIDv7." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Body    struct {
		At time.Time `json:"at,omitzero" doc:"When, by the writer's clock; default the id's time."`
	}
}

// keptVerdict is a verdict that was kept.
type keptVerdict struct {
	Verdict notebook.Verdict `json:"verdict" doc:"The record; its content is the view as it was."`
	View    anyVerdict       `json:"view"`
	Current bool             `json:"current" doc:"False when readings were added or changed since."`
}

// putChoiceInput chooses a brace height.
type putChoiceInput struct {
	IDInput
	SetUp string `path:"setup" doc:"Id of the set-up to make, a UUIDv7." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Body  struct {
		Stop   int       `json:"stop" minimum:"0" maximum:"1000" doc:"Position in the plan of the stop to choose, from 0; it must have been measured." example:"3"`
		Reason string    `json:"reason,omitempty" maxLength:"8000" example:"settled spot of the brace-height trial"`
		At     time.Time `json:"at,omitzero" doc:"When, by the writer's clock; default the id's time."`
	}
}

// judgeAny gives the verdict on what a trial of any kind has recorded so far.
func (s *server) judgeAny(ctx context.Context, t notebook.Trial) (anyVerdict, error) {
	me, err := s.me(ctx)
	if err != nil {
		return anyVerdict{}, err
	}
	if shooting(t) {
		v, err := s.judgeShooting(ctx, t, me)
		v = report.AllMarked(v, systemOf(me))
		return anyVerdict{shoot: &v}, err
	}
	view, _, err := s.judge(ctx, t, systemOf(me))
	return anyVerdict{brace: &view}, err
}

// judge gives the verdict on what a brace-height trial has recorded so far.
func (s *server) judge(ctx context.Context, t notebook.Trial, system unit.System) (verdictView, workbench.BraceVerdict, error) {
	var none workbench.BraceVerdict
	plan, err := planOf(t)
	if err != nil {
		return verdictView{}, none, err
	}
	setup, err := fetch(ctx, s, s.Notebook.SetUps(), string(t.SetUp))
	if err != nil {
		return verdictView{}, none, err
	}
	readings, err := all(ctx, s, s.Notebook.Readings(), notebook.Query{Trial: t.ID})
	if err != nil {
		return verdictView{}, none, err
	}
	recordings, err := all(ctx, s, s.Notebook.Recordings(), notebook.Query{Trial: t.ID})
	if err != nil {
		return verdictView{}, none, err
	}
	corrected, err := s.onsetsOf(ctx, recordings)
	if err != nil {
		return verdictView{}, none, err
	}
	key, err := keyOf(t, readings, recordings, corrected)
	if err != nil {
		return verdictView{}, none, err
	}
	v, ok := s.verdicts.recall(key)
	if !ok {
		if v, err = s.judgeNow(ctx, setup.Settings, plan, readings, recordings); err != nil {
			return verdictView{}, none, err
		}
		s.verdicts.keep(key, v)
	}
	return report.AllMarked(viewVerdict(v, plan, setup.Settings, system), system), v, nil
}

// judgeNow listens and computes.
func (s *server) judgeNow(ctx context.Context, settings notebook.Settings, plan workbench.BracePlan, readings []notebook.Reading, recordings []notebook.Recording) (workbench.BraceVerdict, error) {
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	heard, deaf, err := s.heard(ctx, recordings)
	if err != nil {
		return workbench.BraceVerdict{}, err
	}
	if err := s.queue.enter(ctx); err != nil {
		return workbench.BraceVerdict{}, err
	}
	defer s.queue.leave()
	v, err := workbench.JudgeBrace(ctx, settings, plan, readings, heard)
	if err != nil {
		return v, noPrediction(ctx, err)
	}
	v.Warnings = append(v.Warnings, deaf...)
	return v, nil
}

func (s *server) judgeTrial(ctx context.Context, in *emptyInput) (*found[anyVerdict], error) {
	t, err := fetch(ctx, s, s.Notebook.Trials(), in.ID)
	if err != nil {
		return nil, err
	}
	view, err := s.judgeAny(ctx, t)
	return &found[anyVerdict]{Body: view}, err
}

// putVerdict computes the verdict once and keeps it. A resend gives the kept
// one, whatever was recorded since.
func (s *server) putVerdict(ctx context.Context, in *putVerdictInput) (*kept[keptVerdict], error) {
	me, err := s.actor(ctx)
	if err != nil {
		return nil, err
	}
	t, err := fetch(ctx, s, s.Notebook.Trials(), in.ID)
	if err != nil {
		return nil, err
	}
	stamp, err := made(in.Verdict, me.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	view, err := s.judgeAny(ctx, t)
	if err != nil {
		return nil, err
	}
	switch old, there, err := ifThere(ctx, s, s.Notebook.Verdicts(), in.Verdict); {
	case err != nil:
		return nil, err
	case there && old.Trial == t.ID && old.By == me.ID:
		out, err := showKept(old, inputsOf(view))
		return &kept[keptVerdict]{Status: http.StatusOK, Body: out}, err
	}
	content, err := json.Marshal(view)
	if err != nil {
		return nil, fmt.Errorf("server: %w", err)
	}
	record := notebook.Verdict{Stamp: stamp, Trial: t.ID, Content: content, Program: s.Version, Inputs: inputsOf(view)}
	stored, status, err := keep(ctx, s.Notebook.Verdicts(), me.ID, record)
	if err != nil {
		return nil, err
	}
	out, err := showKept(stored, inputsOf(view))
	return &kept[keptVerdict]{Status: status, Body: out}, err
}

// showKept opens a kept verdict and says whether its readings still stand.
func showKept(v notebook.Verdict, inputs string) (keptVerdict, error) {
	out := keptVerdict{Verdict: v, Current: v.Inputs == inputs}
	if err := json.Unmarshal(v.Content, &out.View); err != nil {
		return out, &notebook.Error{Code: notebook.Damaged, Message: "a kept verdict cannot be read", Hint: "run: tautline verify", Cause: err}
	}
	return out, nil
}

func (s *server) listVerdicts(ctx context.Context, in *IDInput) (*found[rows[keptVerdict]], error) {
	t, err := fetch(ctx, s, s.Notebook.Trials(), in.ID)
	if err != nil {
		return nil, err
	}
	records, err := all(ctx, s, s.Notebook.Verdicts(), notebook.Query{Trial: t.ID})
	if err != nil {
		return nil, err
	}
	out := found[rows[keptVerdict]]{Body: rows[keptVerdict]{Rows: []keptVerdict{}}}
	if len(records) == 0 {
		return &out, nil
	}
	now, err := s.judgeAny(ctx, t)
	if err != nil {
		return nil, err
	}
	for _, v := range records {
		row, err := showKept(v, inputsOf(now))
		if err != nil {
			return nil, err
		}
		out.Body.Rows = append(out.Body.Rows, row)
	}
	return &out, nil
}

// putChoice makes the next set-up from a stop of the trial.
func (s *server) putChoice(ctx context.Context, in *putChoiceInput) (*kept[setUpView], error) {
	me, err := s.actor(ctx)
	if err != nil {
		return nil, err
	}
	t, err := fetch(ctx, s, s.Notebook.Trials(), in.ID)
	if err != nil {
		return nil, err
	}
	stamp, err := made(in.SetUp, me.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	switch old, there, err := ifThere(ctx, s, s.Notebook.SetUps(), in.SetUp); {
	case err != nil:
		return nil, err
	case there && old.Parent == t.SetUp && old.By == me.ID && old.At.Equal(stamp.At):
		return &kept[setUpView]{Status: http.StatusOK, Body: viewSetUp(old, systemOf(me))}, nil
	}
	setup, err := fetch(ctx, s, s.Notebook.SetUps(), string(t.SetUp))
	if err != nil {
		return nil, err
	}
	if shooting(t) {
		return nil, &notebook.Error{Code: notebook.Invalid, Message: "this trial has no brace heights to choose from", Hint: "make the next set-up on the bow's page: PUT /setups/{id}"}
	}
	_, verdict, err := s.judge(ctx, t, systemOf(me))
	if err != nil {
		return nil, err
	}
	settings, why, err := workbench.Choose(setup.Settings, verdict, in.Body.Stop)
	if err != nil {
		return nil, asField(err)
	}
	if in.Body.Reason != "" {
		why = in.Body.Reason
	}
	record := notebook.SetUp{Stamp: stamp, Bow: t.Bow, Parent: setup.ID, Reason: why, Settings: settings}
	if record.Settles, err = s.ownTries(ctx, record); err != nil {
		return nil, err
	}
	return s.keepSetUp(ctx, me, record)
}

// ownTries are the open set-ups of the same person beside the one a trial began
// with: who chooses another stop of a trial takes the former choice back, and
// nobody has to be asked about it.
func (s *server) ownTries(ctx context.Context, of notebook.SetUp) (out []notebook.ID, err error) {
	setups, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: of.Bow})
	for _, h := range notebook.Heads(setups, nil) {
		if h.ID != of.Parent && h.By == of.By {
			out = append(out, h.ID)
		}
	}
	return out, err
}

// asField makes a stop that does not exist a fault of the field, not of the
// address.
func asField(err error) error {
	var e *notebook.Error
	if errors.As(err, &e) && e.Code == notebook.NotFound {
		return &notebook.Error{Code: notebook.Invalid, Field: e.Field, Message: e.Message, Hint: e.Hint}
	}
	return err
}
