package report

import (
	"context"
	"encoding/json"
	"fmt"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// shooting reads a trial that is judged by where arrows hit, or by feel; ok is
// false for a brace-height trial.
func (m Maker) shooting(ctx context.Context, actor, id notebook.ID) (t notebook.Trial, bow notebook.Bow, p workbench.TrialPlan, ok bool, err error) {
	if t, err = m.Notebook.Trials().Get(ctx, actor, id); err != nil || t.What == workbench.BraceTrial {
		return t, bow, p, false, err
	}
	if bow, err = m.Notebook.Bows().Get(ctx, actor, t.Bow); err != nil {
		return t, bow, p, true, err
	}
	if err := json.Unmarshal(t.Plan, &p); err != nil {
		return t, bow, p, true, &notebook.Error{Code: notebook.Damaged, Message: "the trial's plan cannot be read", Hint: "run: tautline verify", Cause: err}
	}
	return t, bow, p, true, nil
}

// shootingCard is the pencil card of such a trial.
func shootingCard(t notebook.Trial, bow notebook.Bow, p workbench.TrialPlan, system unit.System) Sheet {
	p = AllMarked(p, system)
	table := Table{Header: []string{"stop", "block", "set", "shoot", "rings or places …"}, Wide: map[int]float64{0: 0.4, 1: 0.4, 2: 2.4, 3: 1.6, 4: 2}}
	for _, s := range p.Steps {
		table.Rows = append(table.Rows, []string{fmt.Sprint(s.Position + 1), fmt.Sprint(s.Block), s.Set, s.Shoot, ""})
	}
	sheet := Sheet{Title: p.Title, Subtitle: bow.Name, Bow: bow.ID, Made: t.At, Source: "trial " + string(t.ID), Cautions: p.Cautions}
	sheet.Blocks = append(sheet.Blocks,
		Block{Text: p.Needed + " " + p.CanSee},
		Block{Facts: []Fact{{"time and arrows", fmt.Sprintf("about %.0f min, %d arrows", p.Minutes, p.Arrows), ""}}},
		Block{Text: p.Why})
	if p.Hidden {
		sheet.Blocks = append(sheet.Blocks, Block{Text: "For the helper only: the archer must not see this."})
	}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "In this order; write down: " + p.Record, Table: &table}, Block{Heading: "Place, wind, notes", Lines: 2})
	return sheet
}

// shootingVerdict is the sheet of such a trial with its answer.
func (m Maker) shootingVerdict(ctx context.Context, actor notebook.ID, t notebook.Trial, bow notebook.Bow, p workbench.TrialPlan, system unit.System) (Sheet, error) {
	ends, err := notebook.Everything(ctx, m.Notebook.Ends(), actor, notebook.Query{Trial: t.ID})
	if err != nil {
		return Sheet{}, err
	}
	readings, err := notebook.Everything(ctx, m.Notebook.Readings(), actor, notebook.Query{Trial: t.ID})
	if err != nil {
		return Sheet{}, err
	}
	setup, err := m.Notebook.SetUps().Get(ctx, actor, t.SetUp)
	if err != nil {
		return Sheet{}, err
	}
	hand, err := m.Hand(ctx, actor, bow)
	if err != nil {
		return Sheet{}, err
	}
	v, err := workbench.JudgeTrial(p, workbench.JudgeAsk{
		Ends: ends, Readings: readings, LeftHanded: hand == notebook.LeftHanded, Style: system.ImpactStyle(), SetUp: &setup.Settings,
	})
	if err != nil {
		return Sheet{}, err
	}
	v = AllMarked(v, system)
	sheet := Sheet{Title: p.Title, Subtitle: bow.Name, Bow: bow.ID, Made: t.At, Source: "trial " + string(t.ID), Cautions: p.Cautions}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "Verdict", Text: v.Text}, Block{Heading: "Next", Text: v.Next})
	facts := []Fact{{"shot", fmt.Sprintf("%d of %d stops, %d arrows with a place", v.Steps, v.StepsOf, v.Arrows), ""}}
	for _, e := range v.Effects {
		facts = append(facts, Fact{e.Label, e.Text, ""})
	}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "Every size, with its 95 % interval", Facts: facts})
	for _, list := range []struct {
		heading string
		lines   []string
	}{{"Warnings", v.Warnings}, {"What would change it", v.WouldChange}, {"What it assumes", v.Assumptions}} {
		for i, text := range list.lines {
			block := Block{Text: text}
			if i == 0 {
				block.Heading = list.heading
			}
			sheet.Blocks = append(sheet.Blocks, block)
		}
	}
	return sheet, nil
}
