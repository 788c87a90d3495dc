package report

import (
	"context"
	"encoding/json"
	"fmt"

	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
	"tautline/workbench"
)

// Maker makes sheets from the records of a notebook.
type Maker struct {
	Notebook notebook.Store
	// Invented tells which bows are the demo's: their sheets say so. Nil: none.
	Invented func(bow notebook.ID) bool
}

// Sheet makes one sheet in the person's units: kind "setup" (a set-up with its
// forecast), "plan" (a trial's card for the pencil), "trial" (a trial with what
// was measured and its verdict), "session" (one visit to the range), "marks" (a
// set-up's marks card), "explain" (what the brace height does on a set-up's
// bow) or "putback" (the way back to a set-up). An unknown kind or record is an
// error with code NotFound.
func (m Maker) Sheet(ctx context.Context, actor notebook.ID, kind string, id notebook.ID, system unit.System) (Sheet, error) {
	s, err := m.sheet(ctx, actor, kind, id, system)
	if err != nil {
		return s, err
	}
	return m.marked(ctx, actor, s)
}

// marked says on a sheet of one bow whose it is, and that it is invented.
func (m Maker) marked(ctx context.Context, actor notebook.ID, s Sheet) (Sheet, error) {
	if s.Bow == "" {
		return s, nil
	}
	if m.Invented != nil && m.Invented(s.Bow) {
		s.Subtitle += " (invented, from the demo)"
		return s, nil
	}
	names, err := m.whose(ctx, actor)
	if err != nil || !names.names {
		return s, err
	}
	bow, err := m.Notebook.Bows().Get(ctx, actor, s.Bow)
	if err != nil {
		return s, err
	}
	archer, err := names.of(ctx, bow)
	if archer != "" {
		s.Subtitle += ", " + archer
	}
	return s, err
}

func (m Maker) sheet(ctx context.Context, actor notebook.ID, kind string, id notebook.ID, system unit.System) (Sheet, error) {
	switch kind {
	case "setup":
		return m.setUp(ctx, actor, id, system)
	case "plan":
		return m.plan(ctx, actor, id, system)
	case "trial":
		return m.trial(ctx, actor, id, system)
	case "marks":
		return m.marks(ctx, actor, id, system, "")
	case "explain":
		return m.explain(ctx, actor, id, system)
	case "session":
		return m.session(ctx, actor, id, system)
	case "putback":
		return m.putBack(ctx, actor, id, system)
	}
	return Sheet{}, &notebook.Error{Code: notebook.NotFound, Message: "there is no such kind of sheet", Hint: "setup, plan, trial, session, compare, marks, explain, putback, week, weeklist or label"}
}

// always are the cautions on every sheet (job.md; common practice, no source).
var always = []string{
	"Never loose a string without an arrow on it. Use a stringer; keep face and fingers out of the limbs' path.",
	"Inspect limbs, string, nocks and shafts. Stay inside the limb maker's range and the minimum arrow mass.",
	"The range's rules, the makers' instructions and a qualified coach decide; a computed figure never overrides them.",
}

func (m Maker) setUp(ctx context.Context, actor, id notebook.ID, system unit.System) (Sheet, error) {
	s, err := m.Notebook.SetUps().Get(ctx, actor, id)
	if err != nil {
		return Sheet{}, err
	}
	bow, err := m.Notebook.Bows().Get(ctx, actor, s.Bow)
	if err != nil {
		return Sheet{}, err
	}
	sheet := Sheet{Title: "Set-up", Subtitle: bow.Name, Bow: bow.ID, Made: s.At, Source: "set-up " + string(s.ID), Cautions: always}
	facts, err := settingFacts(s.Settings)
	if err != nil {
		return Sheet{}, err
	}
	if s.Reason != "" {
		sheet.Blocks = append(sheet.Blocks, Block{Heading: "Why", Text: s.Reason})
	}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "Settings, as typed", Facts: facts})
	forecast, err := workbench.Predict(ctx, s.Settings)
	switch {
	case ctx.Err() != nil:
		return Sheet{}, ctx.Err()
	case err != nil:
		sheet.Blocks = append(sheet.Blocks, Block{Heading: "Forecast", Text: "None to give: " + err.Error()})
	default:
		sheet.Blocks = append(sheet.Blocks, forecastBlock(forecast, system))
	}
	return sheet, nil
}

// settingFacts lists every entry that was typed.
func settingFacts(s notebook.Settings) ([]Fact, error) {
	entries, err := notebook.Diff(notebook.Settings{}, s)
	if err != nil {
		return nil, err
	}
	facts := make([]Fact, 0, len(entries))
	for _, e := range entries {
		facts = append(facts, Fact{Label: Label(e.Key), Value: e.After})
	}
	return facts, nil
}

// forecastBlock prints a forecast with its spans.
func forecastBlock(f workbench.Forecast, system unit.System) Block {
	s := f.Stop
	return Block{
		Heading: "Forecast of the unfitted model",
		Facts: []Fact{
			{"brace height it is for", unit.Both(s.BraceHeight, system.Decimal), ""},
			fact("draw weight", s.DrawWeight, system.ForceStyle()),
			fact("stored energy", s.StoredEnergy, system.EnergyStyle()),
			fact("arrow speed", s.Speed, system.SpeedStyle()),
			fact("time on the string", s.TimeOnString, system.DurationStyle()),
			fact("energy left in limbs and string", s.LeftBehind, system.EnergyStyle()),
		},
		Text: fmt.Sprintf("Spans hold 90 %% of %d plausible bows; nothing here has seen this bow shoot.", f.Bows),
	}
}

func fact[T unit.Quantity](label string, e workbench.Estimate[T], style unit.Style[T]) Fact {
	return Fact{label, style.Print(e.Value), "(" + style.Range(e.Low, e.High) + ")"}
}

// planOf reads a trial and its plan.
func (m Maker) planOf(ctx context.Context, actor, id notebook.ID) (notebook.Trial, notebook.Bow, workbench.BracePlan, error) {
	var plan workbench.BracePlan
	t, err := m.Notebook.Trials().Get(ctx, actor, id)
	if err != nil {
		return t, notebook.Bow{}, plan, err
	}
	bow, err := m.Notebook.Bows().Get(ctx, actor, t.Bow)
	if err != nil {
		return t, bow, plan, err
	}
	if err := json.Unmarshal(t.Plan, &plan); err != nil {
		return t, bow, plan, &notebook.Error{Code: notebook.Damaged, Message: "the trial's plan cannot be read", Hint: "run: tautline verify", Cause: err}
	}
	return t, bow, plan, nil
}

// plan is the pencil card: what to set, and room for what was read.
func (m Maker) plan(ctx context.Context, actor, id notebook.ID, system unit.System) (Sheet, error) {
	if t, bow, p, ok, err := m.shooting(ctx, actor, id); ok || err != nil {
		return shootingCard(t, bow, p, system), err
	}
	t, bow, p, err := m.planOf(ctx, actor, id)
	if err != nil {
		return Sheet{}, err
	}
	mark := system.SettingStyle()
	table := Table{
		Header: []string{"stop", "turns", "expect (" + mark.Symbol() + ")", "in range?", "read …", "arrows", "speed …", "feel 1–5 …", "note …"},
		Wide:   map[int]float64{0: 0.5, 1: 0.6, 2: 1.6, 3: 0.9, 4: 1, 5: 0.7, 8: 1.6},
	}
	for _, stop := range p.Plan.Stops {
		table.Rows = append(table.Rows, []string{
			fmt.Sprint(stop.Index), fmt.Sprintf("%+g", stop.FromPrevious),
			fmt.Sprintf("%s (%s)", mark.Number(stop.Brace.Value), rangeOf(stop.Brace.Low, stop.Brace.High, mark)), inRange(stop.InRange),
			"", fmt.Sprintf("%d + %d", stop.Settling, stop.Arrows), "", "", "",
		})
	}
	sheet := Sheet{Title: "Brace-height trial: card for the range", Subtitle: bow.Name, Bow: bow.ID, Made: t.At, Source: "trial " + string(t.ID)}
	sheet.Blocks = append(sheet.Blocks,
		Block{Facts: []Fact{
			{"range as this riser's square reads it", unit.Both(p.Plan.Low, system.Decimal) + " to " + unit.Both(p.Plan.High, system.Decimal), ""},
			{"time and arrows", fmt.Sprintf("about %.0f min, %d arrows", p.Plan.Time.Minutes(), p.Plan.Arrows), ""},
		}},
		Block{Text: Marked(p.Plan.OrderReason, system)},
		Block{Heading: "Turns are added (+) or removed (−) since the stop before; arrows are settling + counted", Table: &table},
	)
	if len(p.Plan.Warnings) > 0 {
		sheet.Blocks = append(sheet.Blocks, Block{Text: "“Measure” means: the reading may fall outside the limb maker's range; read the square before you shoot there."})
	}
	for _, x := range p.Plan.Beyond {
		sheet.Blocks = append(sheet.Blocks, Block{Text: "Beyond this string: " + Marked(x.Description, system)})
	}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "Phone, place, wind", Lines: 2})
	for _, c := range p.Plan.Cautions {
		sheet.Cautions = append(sheet.Cautions, c.Text())
	}
	return sheet, nil
}

func rangeOf(low, high unit.Length, style unit.Style[unit.Length]) string {
	return style.Number(low) + "–" + style.Number(high)
}

// inRange says in a word whether a stop lies inside the limb maker's range.
func inRange(i trial.Inside) string {
	switch i {
	case trial.Yes:
		return "yes"
	case trial.No:
		return "no"
	}
	return "measure"
}
