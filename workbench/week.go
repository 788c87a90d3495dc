package workbench

import (
	"fmt"
	"time"

	"tautline/notebook"
)

// How soon a string and a growing archer's draw length are looked at again
// (common practice, no source: makers and coaches differ; theirs decide).
const (
	StringLook  = 5_000                // shots: serving, loops and strands closely
	StringDue   = 10_000               // shots: change it
	StringYear  = 365 * 24 * time.Hour // on the bow: look at it, however little it was shot
	DrawQuarter = 13 * 7 * 24 * time.Hour
	drawSoon    = 14 * 24 * time.Hour
)

// States of what falls due.
const (
	WeekFine       = "fine"
	WeekSoon       = "soon"
	WeekLook       = "look"
	WeekDue        = "due"
	WeekCannotTell = "cannot tell yet"
)

// BowWeek is what a bow wants from whoever looks after it.
type BowWeek struct {
	Drifted []Drift    // settings whose check readings left their own scatter
	Stale   []Standing // results that no longer count
	Check   []Standing // results that one reading settles
	// Judged says that the standings are known; else Stale and Check are empty
	// because it cannot be told yet.
	Judged bool
	SetUp  notebook.ID // the present one, "" before the first
	String StringWeek
	Draw   *DrawWeek // nil: who shoots it does not grow
	// Next is the first thing to do, Then what to measure to know the bow
	// better: from the kept fit, nil without one.
	Next string
	Then *NextReading
}

// Drift is one setting that moved.
type Drift struct {
	Kind  notebook.Kind
	Label string
	State string // shifted or drifting
	Since time.Time
}

// StringWeek says how the present string stands.
type StringWeek struct {
	State string // fine, look, due or cannot tell yet
	Text  string
	Shots int
	Since time.Time
}

// DrawWeek says when a growing archer's draw length was last looked at.
type DrawWeek struct {
	State string // fine, soon or due
	Text  string
	Last  time.Time
	Due   time.Time
}

// NotLooked is the week of a bow whose records were not read, with the reason.
func NotLooked(why string) BowWeek {
	return BowWeek{String: StringWeek{State: WeekCannotTell, Text: why}}
}

// Week gathers what a bow wants at a moment. standings are all of the bow's, if
// judged; then is what its kept fit asks for first.
func (b BowRecords) Week(bow notebook.Bow, standings []Standing, judged bool, then *NextReading, now time.Time) BowWeek {
	w := BowWeek{Judged: judged, Then: then, String: b.stringWeek(now)}
	for _, kind := range []notebook.Kind{notebook.ReadBrace, notebook.ReadNockingPoint, notebook.ReadTiller, notebook.ReadSpeed, notebook.ReadButton, notebook.ReadDrawWeight} {
		if c := b.Chart(kind); c.State == Shifted || c.State == Drifting {
			info, _ := kind.Info()
			w.Drifted = append(w.Drifted, Drift{kind, info.Label, c.State, c.Points[min(c.From, len(c.Points)-1)].At})
		}
	}
	for _, st := range standings {
		switch {
		case st.Superseded != "":
		case st.State == Stale:
			w.Stale = append(w.Stale, st)
		case st.State == Drifted:
			w.Check = append(w.Check, st)
		}
	}
	if n := len(b.SetUps); n > 0 {
		w.SetUp = b.SetUps[n-1].ID
	}
	if bow.Growing {
		draw := b.drawWeek(now)
		w.Draw = &draw
	}
	w.Next = "Enter its settings first: draw length and draw weight."
	if judged && len(b.SetUps) > 0 {
		w.Next = OrderOfWork(b, standings).Next
	} else if len(b.SetUps) > 0 {
		w.Next = ""
	}
	return w
}

// Wants reports whether anything is due, besides the next thing to do.
func (w BowWeek) Wants() bool {
	return len(w.Drifted)+len(w.Stale) > 0 || w.String.State == WeekDue || w.String.State == WeekLook || w.Draw != nil && w.Draw.State != WeekFine
}

func (b BowRecords) stringWeek(now time.Time) StringWeek {
	c := b.stringCount()
	w := StringWeek{State: WeekFine, Shots: c.Said + c.Noted, Since: c.Since}
	if len(b.SetUps) == 0 {
		return StringWeek{State: WeekCannotTell, Text: "No set-up yet."}
	}
	old := now.Sub(c.Since) > StringYear
	switch creep := b.StringCreep(); {
	case w.Shots >= StringDue:
		w.State, w.Text = WeekDue, fmt.Sprintf("%d shots on it: change the string (common practice: by about %d).", w.Shots, StringDue)
	case creep.What == CreepTrend && w.Shots >= StringLook:
		w.State, w.Text = WeekDue, fmt.Sprintf("%d shots on it, and it still grows longer: change the string.", w.Shots)
	case w.Shots >= StringLook:
		w.State, w.Text = WeekLook, fmt.Sprintf("%d shots on it: look closely at serving, loops and strands.", w.Shots)
	case creep.What == CreepTrend:
		w.State, w.Text = WeekLook, "It still grows longer: read brace height and nocking point before each session."
	case old:
		w.State, w.Text = WeekLook, "Over a year on the bow: look closely at serving, loops and strands, however little it was shot."
	case w.Shots == 0:
		w.State, w.Text = WeekCannotTell, "No shot on this string was noted: its age in shots cannot be told."
	default:
		w.Text = fmt.Sprintf("%d shots noted on it.", w.Shots)
	}
	return w
}

// drawWeek looks for the last time that the draw length was read, or entered
// anew in a set-up.
func (b BowRecords) drawWeek(now time.Time) (w DrawWeek) {
	for i, s := range b.SetUps {
		if i == 0 || s.Settings.Draw.Length.Value != b.SetUps[i-1].Settings.Draw.Length.Value {
			w.Last = s.At
		}
	}
	for _, r := range b.valid() {
		if r.Kind == notebook.ReadDrawLength && r.At.After(w.Last) {
			w.Last = r.At
		}
	}
	const also = " And look whether the shafts still reach 25 mm past the rest (common practice; the coach decides)."
	if w.Last.IsZero() {
		return DrawWeek{State: WeekDue, Text: "Read the draw length at the clicker." + also}
	}
	w.Due = w.Last.Add(DrawQuarter)
	switch left := w.Due.Sub(now); {
	case left <= 0:
		w.State, w.Text = WeekDue, "A quarter has gone by since the draw length was read: read it at the clicker."+also
	case left <= drawSoon:
		w.State, w.Text = WeekSoon, "The draw length is to be read again by "+w.Due.Format("2 January")+"."
	default:
		w.State, w.Text = WeekFine, "The draw length was read this quarter."
	}
	return w
}

// RulingsOn picks the rulings that are about this bow's results.
func (b BowRecords) RulingsOn(all []notebook.Ruling) (out []notebook.Ruling) {
	if len(all) == 0 {
		return nil
	}
	own := map[notebook.ID]bool{}
	for _, r := range b.Readings {
		own[r.ID] = true
	}
	for _, e := range b.Ends {
		own[e.ID] = true
	}
	for _, v := range b.Verdicts {
		own[v.ID] = true
	}
	for _, r := range all {
		if own[r.Target] {
			out = append(out, r)
		}
	}
	return out
}
