package server

import (
	"context"
	"fmt"
	"time"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// standingsView is how everything found out on a bow stands.
type standingsView struct {
	Progress
	Standings []standingView `json:"standings" nullable:"false" doc:"Newest first."`
	Basis     string         `json:"basis,omitempty" doc:"Which bows stand behind it: this bow's latest kept fit, or every bow that agrees with its settings."`
	Work      *orderView     `json:"work,omitempty" doc:"The order of work, and where it now stands."`
}

// standingView is one result's standing.
type standingView struct {
	ID         notebook.ID      `json:"id" doc:"The verdict, reading or end."`
	Noun       string           `json:"noun" enum:"verdict,reading,end"`
	Label      string           `json:"label" example:"bare shaft right of the group at 30 m"`
	Quantity   string           `json:"quantity" example:"bare_shaft_right"`
	SetUp      notebook.ID      `json:"setup"`
	At         time.Time        `json:"at"`
	State      string           `json:"state" enum:"fresh,drifted,stale"`
	Computed   string           `json:"computed" enum:"fresh,drifted,stale" doc:"What the state is without a ruling."`
	Sentence   string           `json:"sentence"`
	Value      string           `json:"value" example:"6 cm"`
	Own        string           `json:"own" doc:"Half the result's own 90 % interval." example:"± 2.5 cm"`
	OwnFrom    string           `json:"own_from" doc:"Where that comes from."`
	Moved      string           `json:"moved,omitempty" doc:"Predicted move since, with its span; changes that work against each other taken together."`
	Likely     string           `json:"likely,omitempty" doc:"What half of the plausible bows exceed, contributions added up."`
	AtMost     string           `json:"at_most,omitempty" doc:"What nineteen of twenty stay within, floors included; absent when nobody can say."`
	Causes     []causeView      `json:"causes" nullable:"false" doc:"The largest first."`
	Superseded notebook.ID      `json:"superseded_by,omitempty" doc:"A later result of the same quantity."`
	NotSet     string           `json:"now_set_to,omitempty" doc:"The bow is no longer set to what was decided, but to this."`
	Ruling     *notebook.Ruling `json:"ruling,omitempty" doc:"A person's word over the computed state."`
}

// causeView is what one changed entry did.
type causeView struct {
	Entry   string `json:"entry" example:"brace_height.value"`
	Label   string `json:"label" example:"brace height"`
	Before  string `json:"before,omitempty"`
	After   string `json:"after,omitempty"`
	PutBack bool   `json:"put_back,omitempty" doc:"Moved and put back: only how well it is put back counts."`
	Moved   string `json:"moved,omitempty" doc:"Predicted by the model, with its span."`
	Floor   string `json:"floor,omitempty" doc:"Allowed for what the model lacks."`
	Unknown bool   `json:"unknown,omitempty" doc:"Nobody can compute what this does."`
}

// orderView is the order of work.
type orderView struct {
	Steps []workStepView `json:"steps" nullable:"false"`
	Now   string         `json:"now,omitempty" doc:"The first step that is not in order."`
	Next  string         `json:"next" doc:"What to do next."`
}

type workStepView struct {
	Key    string      `json:"key" example:"brace"`
	Label  string      `json:"label" example:"Brace height"`
	State  string      `json:"state" enum:"todo,noted,fresh,drifted,stale"`
	Text   string      `json:"text"`
	After  []string    `json:"after" nullable:"false" doc:"Steps whose move spoils this one."`
	Result notebook.ID `json:"result,omitempty"`
	Do     string      `json:"do,omitempty"`
}

// standingAsk names a bow.
type standingAsk struct {
	IDInput
	All bool `query:"all" doc:"Those, too, whose quantity was read again since."`
}

// stood is a bow's standings with the bows behind them.
type stood struct {
	list  []workbench.Standing
	basis string
}

func (s *server) getStanding(ctx context.Context, in *standingAsk) (*found[standingsView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	hand, err := s.handOf(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	records, key, err := s.bowRecords(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	done, how, err := background(ctx, s, fmt.Sprint("standing ", in.All, key, hand), func(ctx context.Context, tell func(float64)) (stood, error) {
		by := s.fittedBy(ctx, records, hand)
		list, err := workbench.Standings(ctx, records, in.All, func(setup notebook.SetUp, distances []unit.Length) *workbench.Slopes {
			return s.slopes.get(setup, hand, by, distances, s.queue.turn)
		}, tell)
		return stood{list, by.says()}, err
	})
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	view := standingsView{Progress: how, Standings: []standingView{}}
	if how.State != "done" {
		return &found[standingsView]{Body: view}, nil
	}
	system := systemOf(me)
	standings := done.list
	view.Basis = done.basis
	for i := range standings {
		view.Standings = append(view.Standings, viewStanding(standings[len(standings)-1-i], system))
	}
	view.Work = viewWork(workbench.OrderOfWork(records, standings))
	return &found[standingsView]{Body: view}, nil
}

func viewStanding(st workbench.Standing, system unit.System) standingView {
	r := st.Result
	say := report.Sayer(r.Of, r.Unit, system)
	value, _ := report.InWords(shownOfResult(r), say)
	v := standingView{
		ID: r.ID, Noun: string(r.Noun), Label: r.Label, Quantity: r.Of.Kind, SetUp: r.SetUp, At: r.At, State: string(st.State), Computed: string(st.Computed),
		Sentence: st.Sentence, Value: value(r.Value), Own: "± " + say(r.Half), OwnFrom: r.HalfFrom,
		Causes: []causeView{}, Superseded: st.Superseded, NotSet: st.NotSet, Ruling: st.Ruling,
	}
	if st.Net != nil {
		v.Moved = report.Moved(*st.Net, shownOfResult(r), say)
	}
	if len(st.Causes) > 0 {
		v.Likely = say(st.Likely)
		if !st.Unknown {
			v.AtMost = say(st.Far)
		}
	}
	for _, c := range st.Causes {
		v.Causes = append(v.Causes, viewCause(c, shownOfResult(r), say))
	}
	return v
}

// shownOfResult is the quantity that a result's own numbers are of: of a
// decided setting, or a mark on a sight, none that has sides.
func shownOfResult(r workbench.Result) workbench.Quantity {
	if r.By != "" || r.PerQuantity != 0 {
		return workbench.Quantity{}
	}
	return r.Of
}

func viewCause(c workbench.Cause, q workbench.Quantity, say func(float64) string) causeView {
	v := causeView{Entry: c.Entry, Label: notebook.Label(c.Entry), Before: c.Before, After: c.After, PutBack: c.PutBack, Unknown: c.Unknown}
	if c.Shift != nil {
		v.Moved = report.Moved(*c.Shift, q, say)
	}
	if c.Floor > 0 {
		v.Floor = say(c.Floor)
	}
	return v
}

func viewWork(w workbench.Work) *orderView {
	v := orderView{Steps: []workStepView{}, Now: w.Now, Next: w.Next}
	for _, st := range w.Steps {
		step := workStepView{Key: st.Key, Label: st.Label, State: st.State, Text: st.Text, After: someText(st.After), Do: st.Do}
		if st.Result != nil {
			step.Result = *st.Result
		}
		v.Steps = append(v.Steps, step)
	}
	return &v
}

// putRulingInput is a person's word on a result.
type putRulingInput struct {
	IDInput
	Body struct {
		Target notebook.ID `json:"target" doc:"The verdict, reading or end."`
		Counts bool        `json:"counts" doc:"Whether it still counts."`
		Reason string      `json:"reason" maxLength:"8000" doc:"What is known that the model does not know." example:"shot three bare shafts, still in the group"`
		At     time.Time   `json:"at,omitzero" doc:"When, by the writer's clock; default the id's time."`
	}
}

func (s *server) putRuling(ctx context.Context, in *putRulingInput) (*kept[notebook.Ruling], error) {
	me, stamp, err := s.stamped(ctx, in.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	record := notebook.Ruling{Stamp: stamp, Target: in.Body.Target, Counts: in.Body.Counts, Reason: in.Body.Reason}
	if err := record.Check().OrNil(); err != nil {
		return nil, err
	}
	if err := s.rulable(ctx, record.Target); err != nil {
		return nil, err
	}
	stored, status, err := keep(ctx, s.Notebook.Rulings(), me.ID, record)
	if err != nil {
		return nil, err
	}
	return &kept[notebook.Ruling]{Status: status, Body: stored}, nil
}

// rulable finds the target among what can be ruled on.
func (s *server) rulable(ctx context.Context, id notebook.ID) error {
	for _, exists := range []func(context.Context, *server, notebook.ID) error{
		among(notebook.Store.Verdicts), among(notebook.Store.Readings), among(notebook.Store.Ends),
	} {
		if err := exists(ctx, s, id); notebook.CodeOf(err) != notebook.NotFound {
			return err
		}
	}
	return &notebook.Error{Code: notebook.Invalid, Field: "/target", Message: "it names no verdict, reading or end of this notebook", Hint: "send that record first, or check the id"}
}
