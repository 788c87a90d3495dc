package server

import (
	"context"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// settingMove is one entry to be moved.
type settingMove struct {
	Key   string `json:"key" example:"brace_height"`
	Value string `json:"value" doc:"As typed, with its unit." example:"21.8 cm"`
}

// whatIfInput moves settings of a fitted bow.
type whatIfInput struct {
	IDInput
	Body struct {
		Settings []settingMove `json:"settings" maxItems:"12" doc:"What is moved, from the present set-up."`
	}
}

// effectView is what a change does to one quantity.
type effectView struct {
	Label  string  `json:"label"`
	Now    string  `json:"now"`
	Then   string  `json:"then"`
	Change Doubted `json:"change"`
	Says   string  `json:"says" doc:"In words; cannot tell where the interval holds both."`
	Sure   float64 `json:"sure" doc:"How sure the sign is."`
}

// whatIfView is what moving settings does.
type whatIfView struct {
	Progress
	Changes  []notebook.Difference `json:"changes" nullable:"false"`
	Effects  []effectView          `json:"effects" nullable:"false"`
	InWindow bool                  `json:"in_window" doc:"A bare shaft tells stiff from weak after the change."`
	Reason   string                `json:"window_reason,omitempty"`
	Warnings []string              `json:"warnings" nullable:"false"`
}

func (s *server) whatIfFitted(ctx context.Context, in *whatIfInput) (*found[whatIfView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	f, me, how, err := s.fitOf(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	v := whatIfView{Progress: how, Changes: []notebook.Difference{}, Effects: []effectView{}, Warnings: []string{}}
	if how.State != "done" {
		return &found[whatIfView]{Body: v}, nil
	}
	seen, err := f.bow.WhatIf(ctx, movesOf(in.Body.Settings))
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	system := systemOf(me)
	v.Changes = append(v.Changes, seen.Changes...)
	v.InWindow, v.Reason, v.Warnings = seen.InWindow, seen.Reason, someText(seen.Warnings)
	for _, e := range seen.Effects {
		v.Effects = append(v.Effects, viewEffect(e, system))
	}
	return &found[whatIfView]{Body: v}, nil
}

func movesOf(list []settingMove) (out []workbench.Setting) {
	for _, m := range list {
		out = append(out, workbench.Setting{Key: m.Key, Value: m.Value})
	}
	return out
}

func viewEffect(e workbench.Effect, system unit.System) effectView {
	say := sayer(e.Quantity, e.Unit, system)
	return effectView{Label: e.Name, Now: say(e.Now), Then: say(e.Then), Change: viewExpected(e.Expected, system, true), Says: e.Says, Sure: rounded(e.Sureness, 3)}
}

// adviceInput is a wish.
type adviceInput struct {
	IDInput
	Body struct {
		Kind     workbench.WishKind `json:"kind" enum:"bare_to_group,faster,quieter,same_tune" doc:"Bare shaft to the group; so many m/s more; less energy left behind; the same tune after a change that has to be made."`
		Distance notebook.Length    `json:"distance,omitzero" doc:"Of the bare shaft; default 30 m." example:"30 m"`
		Offset   notebook.Length    `json:"offset,omitzero" doc:"Where the bare shaft lands now, right of the group, if it was just read." example:"-6 cm"`
		Speed    float64            `json:"speed_mps,omitempty" doc:"How much faster; default 2 m/s."`
		Forced   []settingMove      `json:"forced,omitempty" maxItems:"12" doc:"What has to change, for same_tune."`
	}
}

// adviceView is two or three routes to a wish.
type adviceView struct {
	Progress
	Routes   []routeView `json:"routes" nullable:"false" doc:"The best first."`
	Withheld string      `json:"withheld,omitempty" doc:"Why none is given."`
	Notes    []string    `json:"notes" nullable:"false"`
	Cautions []string    `json:"cautions" nullable:"false"`
}

// routeView is a ready-made change.
type routeView struct {
	Name       string            `json:"name"`
	Say        string            `json:"say"`
	Set        map[string]string `json:"set" doc:"For the change form: entries by key, as typed."`
	Success    float64           `json:"success" doc:"Predicted probability that the wish is met."`
	Reached    Doubted           `json:"reached"`
	Size       float64           `json:"size" doc:"Against what is usual in one step."`
	Reversible bool              `json:"reversible" doc:"Nothing is cut or bought."`
	Effects    []effectView      `json:"side_effects" nullable:"false"`
	Warnings   []string          `json:"warnings" nullable:"false"`
}

func (s *server) advise(ctx context.Context, in *adviceInput) (*found[adviceView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	f, me, how, err := s.fitOf(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	v := adviceView{Progress: how, Routes: []routeView{}, Notes: []string{}, Cautions: cautions}
	if how.State != "done" {
		return &found[adviceView]{Body: v}, nil
	}
	b := in.Body
	wish := workbench.Wish{Kind: b.Kind, Distance: b.Distance.Value, Speed: b.Speed, Forced: movesOf(b.Forced)}
	if !b.Offset.IsZero() {
		offset := float64(b.Offset.Value)
		wish.Offset = &offset
	}
	advice, err := f.bow.Advise(ctx, wish)
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	v.Withheld, v.Notes = advice.Withheld, someText(advice.Notes)
	for _, r := range advice.Routes {
		v.Routes = append(v.Routes, viewRoute(r, f.bow.Settings(), systemOf(me)))
	}
	return &found[adviceView]{Body: v}, nil
}

func viewRoute(r workbench.Route, now notebook.Settings, system unit.System) routeView {
	v := routeView{Name: r.Name, Say: r.Say, Set: map[string]string{}, Success: rounded(r.Success, 2), Reached: viewExpected(r.Reached, system, true),
		Size: rounded(r.Size, 2), Reversible: r.Reversible, Effects: []effectView{}, Warnings: someText(r.Warnings)}
	changes, err := notebook.Diff(now, r.SetUp)
	if err == nil {
		for _, d := range viewDifferences(changes) {
			v.Set[d.Key] = d.Second
		}
	}
	for _, e := range r.Effects {
		v.Effects = append(v.Effects, viewEffect(e, system))
	}
	return v
}
