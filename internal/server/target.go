package server

import (
	"context"
	"fmt"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// movesBody is what a what-if changes: quantities as typed, empty for what
// stays.
type movesBody struct {
	Brace     notebook.Length           `json:"brace_height,omitzero" doc:"To the grip's pivot." example:"21.8 cm"`
	Preload   notebook.Force            `json:"button_preload,omitzero" doc:"Force at which the button's plunger starts to move." example:"1.8 N"`
	Stiffness unit.Text[unit.Stiffness] `json:"button_stiffness,omitzero" doc:"Of the button's spring; the preload is kept." example:"0.8 N/mm"`
	Centre    notebook.Length           `json:"centre_shot,omitzero" doc:"Outward positive." example:"2 mm"`
	Draw      notebook.Length           `json:"draw_length,omitzero" doc:"Measured as the set-up's own; the bow is the same bow, drawn further." example:"28 3/4 in"`
	Spine     notebook.Spine            `json:"spine,omitzero" doc:"Static spine." example:"650"`
	Point     notebook.Mass             `json:"point_mass,omitzero" doc:"The arrow's mass follows." example:"100 gr"`
	Shaft     notebook.Length           `json:"shaft_length,omitzero" doc:"Without nock; the arrow's mass follows." example:"28 in"`
}

// targetBody asks what a set-up shows at the target, and what moves would do.
type targetBody struct {
	PredictBody
	Moves     movesBody         `json:"moves,omitzero" doc:"What to change; compared with the set-up as it is."`
	Distances []notebook.Length `json:"distances,omitempty" doc:"Up to 8 distances; default 18 m, 30 m and 70 m."`
}

// targetInput is the request.
type targetInput struct {
	Body written[targetBody]
}

// usualDistances are looked at when none is asked for.
var usualDistances = []unit.Length{18, 30, 70}

// targetView is the answer. Right and up are as seen from the shooting line,
// for every archer.
type targetView struct {
	Exact      bool            `json:"exact" doc:"False for a quick look: one plausible set-up, no doubt yet."`
	SetUps     int             `json:"plausible_setups" doc:"Behind each interval, which holds 90 % of them; 0 for a quick look."`
	Fitted     bool            `json:"fitted" doc:"False: nothing in the model has seen this bow shoot. Trust changes, not places."`
	Hand       notebook.Hand   `json:"hand" enum:"right,left" doc:"The hand that the bow's archer draws with: stiff and weak are named for it; right is always right."`
	Distances  []distanceView  `json:"distances" nullable:"false"`
	Quantities []comparedView  `json:"quantities" nullable:"false" doc:"Clearance, times, speeds, before and after."`
	Before     tellingView     `json:"before" doc:"What a bare shaft may be read as, as set up."`
	After      tellingView     `json:"after" doc:"The same with the moves made."`
	Walk       walkView        `json:"walk_back" doc:"One aim, many distances: the line that fletched arrows make."`
	Moves      []moveView      `json:"moves" nullable:"false" doc:"What can be moved, from where, and where it was moved to."`
	Figures    []figure.Figure `json:"figures" nullable:"false"`
	Warnings   []string        `json:"warnings" nullable:"false" doc:"What makers say against it."`
	Notes      []string        `json:"notes" nullable:"false" doc:"What was assumed."`
	Cautions   []string        `json:"cautions" nullable:"false"`
}

// distanceView is what the target shows at one distance.
type distanceView struct {
	Distance Shown              `json:"distance"`
	Face     workbench.FaceView `json:"face" doc:"The face usual at this distance."`
	Bare     comparedView       `json:"bare" doc:"Bare shaft less fletched arrow, right positive; null beyond 30 m."`
	Right    comparedView       `json:"right" doc:"Fletched arrow from the string plane's line, right positive. Its change is the one to trust."`
	Up       comparedView       `json:"up" doc:"Fletched arrow's height with the sight left alone: from speed, mass and drag only."`
	Speed    comparedView       `json:"speed" doc:"Of the fletched arrow at the target."`
	Drift    comparedView       `json:"drift" doc:"Carried by a crosswind of one unit of the person's wind speed; SI is per m/s."`
}

// comparedView is a quantity before and after. The change is taken set-up by
// set-up, so that what all plausible ones share cancels.
type comparedView struct {
	Name   string  `json:"name" example:"tail_clearance"`
	Label  string  `json:"label"`
	Now    Doubted `json:"now"`
	After  Doubted `json:"after"`
	Change Doubted `json:"change"`
}

// tellingView says whether stiff or weak may be said.
type tellingView struct {
	InWindow bool    `json:"in_window" doc:"A bare shaft tells stiff from weak here."`
	Reason   string  `json:"window_reason" doc:"Why it does not; empty inside."`
	Share    float64 `json:"window_share_ratio" doc:"Of the plausible set-ups in the window."`
	Reads    string  `json:"bare_shaft_reads" enum:"weak,stiff,cannot tell"`
	Why      string  `json:"bare_shaft_reason" doc:"Why it cannot be told."`
}

// walkView is the walk-back line in words; its figure is among the figures.
type walkView struct {
	Before         string   `json:"before" doc:"As set up."`
	After          string   `json:"after" doc:"With the moves made."`
	CannotSeparate []string `json:"cannot_separate" nullable:"false" doc:"Causes of a slanted line that a walk-back does not tell apart."`
}

func (s *server) lookAtTarget(ctx context.Context, in *targetInput) (*found[targetView], error) {
	return s.whatIf(ctx, in, func(ctx context.Context, m *workbench.TargetModel, moves workbench.Moves, at []unit.Length) (workbench.WhatIf, error) {
		if err := s.queue.enter(ctx); err != nil {
			return workbench.WhatIf{}, err
		}
		defer s.queue.leave()
		return m.Ask(ctx, moves, at)
	})
}

// glanceAtTarget is the fast answer that a slider needs. It does not wait
// among the long calculations.
func (s *server) glanceAtTarget(ctx context.Context, in *targetInput) (*found[targetView], error) {
	return s.whatIf(ctx, in, func(_ context.Context, m *workbench.TargetModel, moves workbench.Moves, at []unit.Length) (workbench.WhatIf, error) {
		return m.Quick(moves, at)
	})
}

type asking func(context.Context, *workbench.TargetModel, workbench.Moves, []unit.Length) (workbench.WhatIf, error)

func (s *server) whatIf(ctx context.Context, in *targetInput, ask asking) (*found[targetView], error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	system := systemOf(me)
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	settings, err := s.settingsFor(ctx, body.SetUp, body.Settings, body.Set, system)
	if err != nil {
		return nil, err
	}
	hand, err := s.handFor(ctx, body.SetUp)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	model, err := s.targetModel(ctx, settings, hand)
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	moves, at := body.Moves.moves(), lengths(body.Distances, usualDistances)
	w, err := ask(ctx, model, moves, at)
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	view := viewWhatIf(w, system)
	view.Hand, view.Moves = hand, viewMoves(model.Start(), moves, settings, system)
	view.Warnings = someText(warningsOf(settings, model, moves, system))
	return &found[targetView]{Body: view}, nil
}

// moves gives what was typed as the workbench takes it.
func (b movesBody) moves() workbench.Moves {
	return workbench.Moves{
		Brace: given(b.Brace), Draw: given(b.Draw), Centre: given(b.Centre), Preload: given(b.Preload), Stiffness: given(b.Stiffness),
		Spine: given(b.Spine), Point: given(b.Point), Shaft: given(b.Shaft),
	}
}

// given is what was typed, nil for nothing.
func given[T unit.Quantity](t unit.Text[T]) *T {
	if t.IsZero() {
		return nil
	}
	return &t.Value
}

// lengths gives what was typed, or the usual ones.
func lengths(typed []notebook.Length, usual []unit.Length) []unit.Length {
	if len(typed) == 0 {
		return usual
	}
	out := make([]unit.Length, len(typed))
	for i, t := range typed {
		out[i] = t.Value
	}
	return out
}

// warningsOf are the makers' limits that a move would break.
func warningsOf(settings notebook.Settings, model *workbench.TargetModel, moves workbench.Moves, system unit.System) (out []string) {
	height := *model.Start().Brace
	if moves.Brace != nil {
		height = *moves.Brace
	}
	r, known := workbench.Range(settings)
	offset := settings.Riser.Offset.Value
	const reads = 0.0005 // a square resolves 1 mm
	style := system.SettingStyle()
	if known && (height < r.Low-offset-reads || height > r.High-offset+reads) {
		out = append(out, fmt.Sprintf("%s is outside the limb maker's range, %s on this riser: do not shoot it.", style.Print(height), style.Range(r.Low-offset, r.High-offset)))
	}
	mass, least := model.ArrowMass(moves), settings.Arrow.MinimumMass
	if !least.IsZero() && mass < least.Value {
		out = append(out, fmt.Sprintf("The arrow would weigh %s, less than the bow maker's least, %s: do not shoot it.", system.MassStyle().Print(mass), system.MassStyle().Print(least.Value)))
	}
	return out
}
