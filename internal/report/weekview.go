package report

import (
	"fmt"
	"math"
	"time"

	"tautline/notebook"
	"tautline/workbench"
)

// WeekRules are said wherever what falls due is shown.
var WeekRules = fmt.Sprintf("A string is looked at closely from %d shots or a year on, and changed by %d; a growing archer's draw length is read every quarter (common practice, no source). Makers and the coach decide.", workbench.StringLook, workbench.StringDue)

// ArcherOfWeek is what one archer's bows want, for a program to read.
type ArcherOfWeek struct {
	Person notebook.ID `json:"person"`
	Name   string      `json:"name" example:"Ida Falk"`
	Bows   []BowOfWeek `json:"bows" nullable:"false"`
	Card   string      `json:"card" doc:"The archer's card to print."`
}

// BowOfWeek is what one bow wants.
type BowOfWeek struct {
	Bow     notebook.ID    `json:"bow"`
	Name    string         `json:"name" example:"Blue 68"`
	SetUp   notebook.ID    `json:"setup,omitempty" doc:"The current set-up."`
	Wants   bool           `json:"wants" doc:"Something is due, besides the next thing to do."`
	Judged  bool           `json:"judged" doc:"False: whether old results still count cannot be told yet."`
	Drifted []DriftOfWeek  `json:"drifted" nullable:"false" doc:"Settings whose check readings left their own scatter."`
	Stale   []ResultOfWeek `json:"stale" nullable:"false" doc:"Results that no longer count."`
	Check   []ResultOfWeek `json:"check" nullable:"false" doc:"Results that one reading settles."`
	String  DueOfWeek      `json:"string"`
	Draw    *DueOfWeek     `json:"draw_length,omitempty" doc:"Of an archer who grows."`
	Next    string         `json:"next,omitempty" doc:"The first thing to do, in the order of work."`
	Then    *MeasureOfWeek `json:"measure_next,omitempty" doc:"What tells most of the bow, by its kept fit; absent without one."`
}

// DriftOfWeek is a setting whose check readings left their own scatter.
type DriftOfWeek struct {
	Kind  notebook.Kind `json:"kind" example:"brace_height"`
	Label string        `json:"label" example:"brace height"`
	State string        `json:"state" enum:"shifted,drifting"`
	Since time.Time     `json:"since"`
}

// ResultOfWeek is an old result that no longer counts, or that one reading
// settles.
type ResultOfWeek struct {
	ID       notebook.ID `json:"id"`
	Label    string      `json:"label" example:"bare shaft right of the group at 30 m"`
	Sentence string      `json:"sentence"`
	At       time.Time   `json:"at"`
}

// DueOfWeek says when something is looked at again.
type DueOfWeek struct {
	State string    `json:"state" enum:"fine,soon,look,due,cannot tell yet"`
	Text  string    `json:"text"`
	Shots int       `json:"shots,omitempty" doc:"Of a string: on it, as far as noted."`
	Since time.Time `json:"since,omitzero" doc:"When the string was put on, or the draw length last read."`
	Due   time.Time `json:"due,omitzero"`
}

// MeasureOfWeek is what tells most of a bow.
type MeasureOfWeek struct {
	Name    string  `json:"name"`
	Minutes int     `json:"minutes"`
	Left    float64 `json:"left_share" doc:"Share of the doubt that would be left." example:"0.7"`
	Why     string  `json:"why"`
}

// ViewWeek puts what every bow wants into the words that programs read.
func ViewWeek(archers []ArcherWeek) []ArcherOfWeek {
	out := []ArcherOfWeek{}
	for _, a := range archers {
		row := ArcherOfWeek{Person: a.Person, Name: a.Name, Bows: []BowOfWeek{}, Card: "/sheets/week/" + string(a.Person)}
		for _, b := range a.Bows {
			row.Bows = append(row.Bows, viewBow(b))
		}
		out = append(out, row)
	}
	return out
}

func viewBow(n NamedWeek) BowOfWeek {
	w := n.Week
	v := BowOfWeek{Bow: n.Bow.ID, Name: n.Bow.Name, Wants: w.Wants(), Judged: w.Judged, Drifted: []DriftOfWeek{}, Stale: viewResults(w.Stale), Check: viewResults(w.Check), Next: w.Next, SetUp: w.SetUp}
	for _, d := range w.Drifted {
		v.Drifted = append(v.Drifted, DriftOfWeek{d.Kind, d.Label, d.State, d.Since})
	}
	v.String = DueOfWeek{State: w.String.State, Text: w.String.Text, Shots: w.String.Shots, Since: w.String.Since}
	if w.Draw != nil {
		v.Draw = &DueOfWeek{State: w.Draw.State, Text: w.Draw.Text, Since: w.Draw.Last, Due: w.Draw.Due}
	}
	if w.Then != nil {
		v.Then = &MeasureOfWeek{w.Then.Name, w.Then.Minutes, math.Round(1000*w.Then.Left) / 1000, w.Then.Why}
	}
	return v
}

func viewResults(list []workbench.Standing) []ResultOfWeek {
	out := []ResultOfWeek{}
	for _, st := range list {
		out = append(out, ResultOfWeek{st.Result.ID, st.Result.Label, st.Sentence, st.Result.At})
	}
	return out
}
