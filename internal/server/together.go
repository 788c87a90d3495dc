package server

import (
	"context"
	"slices"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// togetherBody names two set-ups, of one bow or of two.
type togetherBody struct {
	First  notebook.ID `json:"first" doc:"A set-up." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Second notebook.ID `json:"second" doc:"Another, of the same bow or of another."`
}

type togetherInput struct {
	Body togetherBody
}

// togetherView is two set-ups side by side.
type togetherView struct {
	First       setUpSide        `json:"first"`
	Second      setUpSide        `json:"second"`
	SameBow     bool             `json:"same_bow" doc:"What one bow's set-ups share cancels in the differences."`
	Differences []differenceView `json:"differences" nullable:"false" doc:"What differs as set, from the first to the second."`
	Rows        []togetherRow    `json:"rows" nullable:"false" doc:"What each shows, and the difference."`
	Marks       []markMoveView   `json:"marks" nullable:"false" doc:"How far sight marks move from the first to the second."`
	Notes       []string         `json:"notes" nullable:"false"`
}

type setUpSide struct {
	SetUp notebook.ID `json:"setup"`
	Bow   notebook.ID `json:"bow"`
	Name  string      `json:"name" doc:"The bow's."`
	Why   string      `json:"reason"`
	At    string      `json:"at"`
}

type differenceView struct {
	Key    string `json:"key"`
	Label  string `json:"label"`
	First  string `json:"first"`
	Second string `json:"second"`
}

type togetherRow struct {
	Quantity string `json:"quantity"`
	Label    string `json:"label"`
	First    string `json:"first"`
	Second   string `json:"second"`
	Apart    string `json:"apart" doc:"Second less first, with its span."`
	Sure     bool   `json:"sure" doc:"The sign of the difference is the same over the whole span."`
}

type markMoveView struct {
	Distance string `json:"distance" example:"70 m"`
	Moves    string `json:"moves" doc:"Positive: the pin goes down for the second." example:"+3.1 mm (+2.2 to +4.0 mm)"`
}

// transferBody names a bow's set-up and the spare's.
type transferBody struct {
	First notebook.ID `json:"first" doc:"The set-up to be matched." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Spare notebook.ID `json:"spare" doc:"The spare bow's set-up."`
}

type transferInput struct {
	Body transferBody
}

// transferView is how the spare is brought to match.
type transferView struct {
	Progress
	Spare     setUpSide         `json:"spare"`
	Changes   []differenceView  `json:"changes" nullable:"false" doc:"Of the spare: from what is set to what should be."`
	Set       map[string]string `json:"set" doc:"The same for the change form: entries by key, as typed."`
	Before    []togetherRow     `json:"before" nullable:"false" doc:"First bow and spare as they are."`
	After     []togetherRow     `json:"after" nullable:"false" doc:"First bow and spare after the change."`
	Unmatched []string          `json:"unmatched" nullable:"false" doc:"What cannot be matched, and what could still be done."`
	Notes     []string          `json:"notes" nullable:"false"`
	Cautions  []string          `json:"cautions" nullable:"false"`
}

// pairOf fetches two set-ups with their bows.
func (s *server) pairOf(ctx context.Context, first, second notebook.ID, fields [2]string) (a, b notebook.SetUp, views [2]setUpSide, err error) {
	if a, err = refers(ctx, s, s.Notebook.SetUps(), fields[0], first); err != nil {
		return a, b, views, err
	}
	if b, err = refers(ctx, s, s.Notebook.SetUps(), fields[1], second); err != nil {
		return a, b, views, err
	}
	for i, setup := range []notebook.SetUp{a, b} {
		bow, err := fetch(ctx, s, s.Notebook.Bows(), string(setup.Bow))
		if err != nil {
			return a, b, views, err
		}
		views[i] = setUpSide{setup.ID, bow.ID, bow.Name, setup.Reason, setup.At.Format("2006-01-02T15:04:05Z07:00")}
	}
	return a, b, views, nil
}

// fittedBoth finds the kept fits of two set-ups' bows, which is one where the
// bow is one, and the hands their archers draw with.
func (s *server) fittedBoth(ctx context.Context, a, b notebook.SetUp) (by [2]fittedBy, hands [2]notebook.Hand, err error) {
	for i, setup := range []notebook.SetUp{a, b} {
		if i == 1 && a.Bow == b.Bow {
			by[1], hands[1] = by[0], hands[0]
			break
		}
		if hands[i], err = s.handOf(ctx, setup.Bow); err != nil {
			return by, hands, err
		}
		records, _, err := s.bowRecords(ctx, setup.Bow)
		if err != nil {
			return by, hands, err
		}
		by[i] = s.fittedBy(ctx, records, hands[i])
	}
	return by, hands, nil
}

// sides are two set-ups as the workbench compares them.
func sides(a, b notebook.SetUp, by [2]fittedBy, hands [2]notebook.Hand) (first, second workbench.Side) {
	return workbench.Side{Settings: a.Settings, Fit: by[0].bow, Hand: workbench.HandOf(hands[0])}, workbench.Side{Settings: b.Settings, Fit: by[1].bow, Hand: workbench.HandOf(hands[1])}
}

// basisOf says which bows stand behind two set-ups.
func basisOf(by [2]fittedBy) []string {
	if by[0].bow == by[1].bow {
		return []string{by[0].says()}
	}
	return []string{"The first: " + by[0].says(), "The second: " + by[1].says()}
}

func (s *server) compareSetUps(ctx context.Context, in *togetherInput) (*found[togetherView], error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	a, b, views, err := s.pairOf(ctx, in.Body.First, in.Body.Second, [2]string{"/first", "/second"})
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	if err := s.queue.enter(ctx); err != nil {
		return nil, err
	}
	defer s.queue.leave()
	by, hands, err := s.fittedBoth(ctx, a, b)
	if err != nil {
		return nil, err
	}
	first, second := sides(a, b, by, hands)
	t, err := workbench.Compare(ctx, first, second, a.Bow == b.Bow)
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	system := systemOf(me)
	view := togetherView{
		First: views[0], Second: views[1], SameBow: t.Paired, Differences: viewDifferences(t.Differences),
		Rows: viewTogether(t.Rows, system), Marks: []markMoveView{}, Notes: slices.Concat(t.Notes, basisOf(by)),
	}
	for _, m := range t.Marks {
		say := report.Sayer(workbench.Quantity{Kind: workbench.QMark}, "m", system)
		view.Marks = append(view.Marks, markMoveView{system.DistanceStyle().Print(m.Distance), report.Moved(m.Moves, workbench.Quantity{Kind: workbench.QMark}, say)})
	}
	return &found[togetherView]{Body: view}, nil
}

// viewDifferences leaves out what only says how something is written.
func viewDifferences(list []notebook.Difference) []differenceView {
	out := []differenceView{}
	for _, d := range list {
		if d.Key != "draw.at_brace_height" && d.Key != "notes" {
			out = append(out, differenceView{d.Key, d.Label(), d.Before, d.After})
		}
	}
	return out
}

func viewTogether(list []workbench.TogetherRow, system unit.System) []togetherRow {
	out := []togetherRow{}
	for _, r := range list {
		say := report.Sayer(r.Of, report.QuantitySI(r.Of.Kind), system)
		out = append(out, togetherRow{r.Of.String(), report.RowLabel(r.Of), report.Spanned(r.First, r.Of, say), report.Spanned(r.Second, r.Of, say), report.Moved(r.Apart, r.Of, say), r.Apart.Low > 0 || r.Apart.High < 0})
	}
	return out
}

func (s *server) transfer(ctx context.Context, in *transferInput) (*found[transferView], error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	a, b, views, err := s.pairOf(ctx, in.Body.First, in.Body.Spare, [2]string{"/first", "/spare"})
	if err != nil {
		return nil, err
	}
	by, hands, err := s.fittedBoth(ctx, a, b)
	if err != nil {
		return nil, err
	}
	first, second := sides(a, b, by, hands)
	key := "transfer " + string(a.ID) + string(b.ID) + string(hands[0]) + string(hands[1]) + string(by[0].record.ID) + string(by[1].record.ID)
	m, how, err := background(ctx, s, key, inTurn(s, func(ctx context.Context, _ func(float64)) (workbench.Transfer, error) {
		return workbench.Match(ctx, first, second)
	}))
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	view := transferView{Progress: how, Spare: views[1], Changes: []differenceView{}, Set: map[string]string{}, Before: []togetherRow{}, After: []togetherRow{}, Unmatched: []string{}, Notes: []string{}, Cautions: cautions}
	if how.State == "done" {
		system := systemOf(me)
		view.Changes, view.Unmatched, view.Notes = viewDifferences(m.Changes), saidAll(m.Unmatched, system), slices.Concat(m.Notes, basisOf(by))
		for _, c := range view.Changes {
			view.Set[c.Key] = c.Second
		}
		view.Before, view.After = viewTogether(m.Before.Rows, system), viewTogether(m.After.Rows, system)
	}
	return &found[transferView]{Body: view}, nil
}
