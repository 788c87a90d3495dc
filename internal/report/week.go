package report

import (
	"context"
	"fmt"
	"time"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// ArcherWeek is what one archer's bows want.
type ArcherWeek struct {
	Person notebook.ID
	Name   string
	Bows   []NamedWeek
}

// NamedWeek is what one bow wants.
type NamedWeek struct {
	Bow  notebook.Bow
	Week workbench.BowWeek
}

// WeekLine is one thing to do.
type WeekLine struct {
	What string // "read: brace height"
	Why  string
}

var (
	driftWords  = map[string]string{workbench.Shifted: "left their own scatter", workbench.Drifting: "drifted"}
	stringWords = map[string]string{workbench.WeekDue: "change: string", workbench.WeekLook: "look at: string"}
)

// Lines puts what a bow wants into lines, the most pressing first.
func (n NamedWeek) Lines() (out []WeekLine) {
	w := n.Week
	for _, d := range w.Drifted {
		out = append(out, WeekLine{"look at: " + d.Label, fmt.Sprintf("its check readings have %s since %s", driftWords[d.State], d.Since.Format("2 January"))})
	}
	if w.Draw != nil && w.Draw.State != workbench.WeekFine {
		out = append(out, WeekLine{"read: draw length", w.Draw.Text})
	}
	if w.String.State == workbench.WeekDue || w.String.State == workbench.WeekLook {
		out = append(out, WeekLine{stringWords[w.String.State], w.String.Text})
	}
	for _, st := range w.Stale {
		out = append(out, WeekLine{"measure again: " + st.Result.Label, st.Sentence})
	}
	for _, st := range w.Check {
		out = append(out, WeekLine{"one reading: " + st.Result.Label, st.Sentence})
	}
	if !w.Judged {
		out = append(out, WeekLine{"old results", "whether they still count cannot be told yet"})
	}
	if w.Next != "" {
		out = append(out, WeekLine{"next", w.Next})
	}
	if w.Then != nil {
		out = append(out, WeekLine{"to know it better", fmt.Sprintf("%s, about %d min: of what is not known of this bow %.0f %% would be left", w.Then.Name, w.Then.Minutes, 100*w.Then.Left)})
	}
	return out
}

// weekTable is made for the pencil.
var weekTable = Table{Header: []string{"what", "why", "done …", "read …"}, Wide: map[int]float64{0: 1.4, 1: 3, 2: 0.6, 3: 0.9}}

// WeekCard is an archer's card for the week: a table for each bow.
func WeekCard(a ArcherWeek, made time.Time) Sheet {
	sheet := Sheet{Title: "This week", Subtitle: a.Name, Made: made, Source: "person " + string(a.Person), Cautions: always}
	for _, b := range a.Bows {
		t := weekTable
		for _, l := range b.Lines() {
			t.Rows = append(t.Rows, []string{l.What, l.Why, "", ""})
		}
		sheet.Blocks = append(sheet.Blocks, Block{Heading: b.Bow.Name, Table: &t})
	}
	if len(a.Bows) == 0 {
		sheet.Blocks = append(sheet.Blocks, Block{Text: "No bow on the bench."})
	}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "Notes", Lines: 3})
	return sheet
}

// WeekList is the coach's list: every bow that wants something.
func WeekList(archers []ArcherWeek, made time.Time) Sheet {
	t := Table{Header: []string{"archer", "bow", "what", "why", "done …"}, Wide: map[int]float64{0: 1, 1: 1, 2: 1.4, 3: 2.6, 4: 0.5}}
	quiet := 0
	for _, a := range archers {
		for _, b := range a.Bows {
			lines := b.Lines()
			if !b.Week.Wants() {
				if quiet++; len(lines) > 1 {
					lines = lines[:1]
				}
			}
			for i, l := range lines {
				row := []string{a.Name, b.Bow.Name, l.What, l.Why, ""}
				if i > 0 {
					row[0], row[1] = "", ""
				}
				t.Rows = append(t.Rows, row)
			}
		}
	}
	sheet := Sheet{Title: "Coach's week", Subtitle: fmt.Sprintf("%d archers", len(archers)), Made: made, Cautions: always}
	sheet.Blocks = append(sheet.Blocks, Block{Text: fmt.Sprintf("Bows with nothing due, of which only the first line stands here: %d.", quiet)}, Block{Table: &t})
	return sheet
}

// putBack is the sheet of the way back to a set-up of a bow.
func (m Maker) putBack(ctx context.Context, actor, id notebook.ID, system unit.System) (Sheet, error) {
	to, err := m.Notebook.SetUps().Get(ctx, actor, id)
	if err != nil {
		return Sheet{}, err
	}
	bow, err := m.Notebook.Bows().Get(ctx, actor, to.Bow)
	if err != nil {
		return Sheet{}, err
	}
	var b workbench.BowRecords
	of := notebook.Query{Bow: to.Bow}
	if b.SetUps, err = notebook.Everything(ctx, m.Notebook.SetUps(), actor, of); err != nil {
		return Sheet{}, err
	}
	if b.Readings, err = notebook.Everything(ctx, m.Notebook.Readings(), actor, of); err != nil {
		return Sheet{}, err
	}
	hand, err := m.Hand(ctx, actor, bow)
	if err != nil {
		return Sheet{}, err
	}
	p := b.PutBackTo(to, hand)
	sheet := Sheet{Title: "Put a set-up back", Subtitle: bow.Name, Bow: bow.ID, Made: to.At, Source: "set-up " + string(to.ID), Cautions: always}
	sheet.Blocks = append(sheet.Blocks, Block{Facts: []Fact{{"to the set-up of", to.At.Format("2 January 2006"), ""}, {"its reason", to.Reason, ""}}})
	if len(p.Steps) == 0 {
		sheet.Blocks = append(sheet.Blocks, Block{Text: "Nothing to change: the bow stands so."})
	}
	for i, s := range p.Steps {
		t := Table{Header: []string{"set", "from", "to", "by", "reads now …"}}
		for k, c := range s.Changes {
			t.Rows = append(t.Rows, []string{c.Label(), orDash(c.Before), c.After, s.Says(k, system), ""})
		}
		sheet.Blocks = append(sheet.Blocks, Block{Heading: fmt.Sprintf("%d. %s (%s)", i+1, s.Part, s.Tool), Text: s.Do}, Block{Table: &t})
	}
	for _, after := range p.After {
		sheet.Blocks = append(sheet.Blocks, Block{Text: "Then: " + after})
	}
	var facts []Fact
	for _, d := range p.Noted {
		facts = append(facts, Fact{d.Label(), orDash(d.Before) + " now, " + orDash(d.After) + " then", ""})
	}
	if len(facts) > 0 {
		sheet.Blocks = append(sheet.Blocks, Block{Heading: "Differs as noted; nothing to set", Facts: facts})
	}
	return sheet, nil
}

func orDash(s string) string {
	if s == "" {
		return "not noted"
	}
	return s
}
