package server

import (
	"context"
	"fmt"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// shaftsBody asks for shafts to try.
type shaftsBody struct {
	PredictBody
	Reach  notebook.Length `json:"reach,omitzero" doc:"Least that a shaft reaches past the rest at full draw; default 25 mm, and more for growing archers." example:"30 mm"`
	Points []notebook.Mass `json:"points,omitempty" doc:"Point masses to choose from, insert included."`
	Count  int             `json:"count,omitempty" doc:"How many to list, 1 to 12; default 5." example:"5"`
	Work   notebook.ID     `json:"work,omitempty" doc:"An id of your own, under which /work/{id} tells how far it is."`
}

// shaftsInput is the request.
type shaftsInput struct {
	Body written[shaftsBody]
}

// shaftsView is the answer.
type shaftsView struct {
	Shafts   []shaftView        `json:"shafts" nullable:"false" doc:"Best first."`
	Present  *shaftView         `json:"present,omitempty" doc:"The set-up's own arrow, for comparison."`
	Face     workbench.FaceView `json:"face" doc:"The face usual at 18 m, where the bare shafts are shown."`
	Distance Shown              `json:"distance"`
	Borrow   bool               `json:"borrow" doc:"The first shaft is worth borrowing: its bare shaft can be read, and lands near in one of ten plausible set-ups or more. If not, advice says why."`
	Advice   string             `json:"advice"`
	Fitted   bool               `json:"fitted"`
	SetUps   int                `json:"plausible_setups"`
	Cautions []string           `json:"cautions" nullable:"false"`
	Notes    []string           `json:"notes" nullable:"false"`
}

// shaftView is one shaft.
type shaftView struct {
	Spine     Shown   `json:"spine"`
	Length    Shown   `json:"shaft_length" doc:"Without nock."`
	PastRest  Shown   `json:"past_rest" doc:"At full draw."`
	Point     Shown   `json:"point_mass" doc:"With insert."`
	Mass      Shown   `json:"arrow_mass"`
	PerForce  string  `json:"mass_per_draw_weight" example:"8.1 gr per lbf"`
	Balance   Shown   `json:"balance" doc:"From the bottom of the nock's groove."`
	Forward   string  `json:"balance_forward" doc:"How far it lies ahead of the shaft's middle, of the shaft's length." example:"12.3 %"`
	Light     bool    `json:"below_minimum_mass"`
	Bare      Doubted `json:"bare_minus_fletched" doc:"Bare shaft less fletched arrow at 18 m, right positive."`
	Clearance Doubted `json:"tail_clearance"`
	Speed     Doubted `json:"speed"`
	Near      float64 `json:"near_share_ratio" doc:"Of the plausible set-ups, where the tail clears and the bare shaft lands within 10 cm."`
	InWindow  bool    `json:"in_window"`
	Reason    string  `json:"window_reason"`
	Share     float64 `json:"window_share_ratio"`
}

func (s *server) shaftsToTry(ctx context.Context, in *shaftsInput) (*found[shaftsView], error) {
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
	q := workbench.ShaftQuestion{Hand: workbench.HandOf(hand), Reach: body.Reach.Value, Count: body.Count}
	for _, p := range body.Points {
		q.Points = append(q.Points, p.Value)
	}
	var list workbench.ShaftList
	err = s.long(ctx, body.Work, func(ctx context.Context, tell func(float64)) (err error) {
		list, err = workbench.Shafts(ctx, settings, q, tell)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &found[shaftsView]{Body: viewShafts(list, system)}, nil
}

// long runs a long calculation in its turn, watched and bounded in time.
func (s *server) long(ctx context.Context, watcher notebook.ID, run func(context.Context, func(float64)) error) error {
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	tell, end := s.work.watch(watcher)
	defer end()
	if err := s.queue.enter(ctx); err != nil {
		return err
	}
	defer s.queue.leave()
	if err := run(ctx, tell); err != nil {
		return noPrediction(ctx, err)
	}
	return nil
}

// barePlace is where bare shafts to try are shown.
const barePlace unit.Length = 18

func viewShafts(l workbench.ShaftList, system unit.System) shaftsView {
	v := shaftsView{
		Shafts: []shaftView{}, Face: workbench.FaceAt(barePlace), Distance: Shown{float64(barePlace), "m", system.DistanceStyle().Print(barePlace)},
		Borrow: l.Borrow, Advice: said(l.Advice, system), Fitted: !l.Unfitted, SetUps: l.Bows, Cautions: saidAll(l.Cautions, system), Notes: saidAll(l.Notes, system),
	}
	for _, t := range l.Shafts {
		v.Shafts = append(v.Shafts, viewShaft(t, system))
	}
	if l.Present != nil {
		own := viewShaft(*l.Present, system)
		v.Present = &own
	}
	return v
}

func viewShaft(t workbench.ShaftTry, system unit.System) shaftView {
	length := func(v float64, style unit.Style[unit.Length]) Shown {
		return Shown{v, "m", style.Print(unit.Length(v))}
	}
	mass := func(v float64) Shown { return Shown{v, "kg", system.MassStyle().Print(unit.Mass(v))} }
	spine := unit.Spine(t.Spine) * unit.ThousandthInch
	return shaftView{
		Spine: Shown{float64(spine), "m", system.SpineStyle().Print(spine)}, Length: length(t.ShaftLength, system.DrawStyle()),
		PastRest: length(t.PastRest, system.SettingStyle()), Point: mass(t.PointMass), Mass: mass(t.Mass),
		PerForce: plainNumber(rounded(t.MassPerForce, 1), system) + " gr per lbf",
		Balance:  length(t.Balance, system.DrawStyle()), Forward: plainNumber(rounded(t.Forward, 1), system) + " %", Light: t.Light,
		Bare:      spanned("bare_minus_fletched", fmt.Sprintf("bare shaft from the fletched arrows at %s", system.DistanceStyle().Print(barePlace)), "m", t.Bare18, t.Interval["bare_minus_fletched_18m_right_m"], system.ImpactStyle()),
		Clearance: spanned("tail_clearance", "tail passes the button by", "m", t.TailGap, t.Interval["tail_clearance_m"], fine(system.SettingStyle())),
		Speed:     spanned("speed", "arrow speed as it leaves", "m/s", t.Speed, t.Interval["speed_mps"], system.SpeedStyle()),
		Near:      t.Share, InWindow: t.InWindow, Reason: said(t.Reason, system), Share: t.InShare,
	}
}

// spanned shows a number of the workbench with its span.
func spanned[T unit.Quantity](name, label, si string, v float64, s workbench.Span, style unit.Style[T]) Doubted {
	return doubted(name, label, si, workbench.Estimate[T]{Value: T(v), Low: T(s[0]), High: T(s[1])}, style)
}
