package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// SlopesFor gives the slopes about a set-up, kept from earlier if need be,
// that see the target at the distances.
type SlopesFor func(setup notebook.SetUp, distances []unit.Length) *Slopes

// Standings says how every result stands today, oldest first; superseded asks
// for those, too, whose quantity was read again since. What cannot be computed
// of a result is a state too: drifted, unknown. progress may be nil; the first
// look at a set-up takes a tenth of a second for each step of each entry that
// was moved since.
func Standings(ctx context.Context, b BowRecords, superseded bool, slopesFor SlopesFor, progress func(float64)) ([]Standing, error) {
	all := b.Results()
	later := newest(all)
	if !superseded {
		all = slices.DeleteFunc(all, func(r Result) bool { return later.of(r) != "" })
	}
	rulings := map[notebook.ID]notebook.Ruling{}
	for _, r := range b.Rulings {
		rulings[r.Target] = r
	}
	distances := map[notebook.ID][]unit.Length{}
	for _, r := range all {
		if r.Of.Distance > 0 {
			distances[r.SetUp] = append(distances[r.SetUp], r.Of.Distance)
		}
	}
	var out []Standing
	for i, r := range all {
		if progress != nil {
			progress(float64(i) / float64(len(all)))
		}
		at := b.setUp(r.SetUp)
		if at < 0 {
			continue
		}
		s, err := Stand(ctx, r, b.since(r, at), slopesFor(b.SetUps[at], distances[r.SetUp]))
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			s = cannotSay(r, err)
		}
		s.Superseded = later.of(r)
		if ruling, ok := rulings[r.ID]; ok {
			s.rule(ruling)
		}
		out = append(out, s)
	}
	return out, nil
}

// cannotSay is the standing of a result that the model cannot follow.
func cannotSay(r Result, err error) Standing {
	return Standing{Result: r, State: Drifted, Computed: Drifted, Unknown: true, Sentence: "The model cannot follow it: " + err.Error() + ". Check it with one reading."}
}

// rule puts a person's word over the computed state.
func (s *Standing) rule(r notebook.Ruling) {
	s.Ruling = &r
	s.State = Stale
	if r.Counts {
		s.State = Fresh
	}
	word := "no longer counts"
	if r.Counts {
		word = "still counts"
	}
	s.Sentence = fmt.Sprintf("It %s by your own ruling: %s (computed: %s).", word, r.Reason, s.Computed)
}

// since is everything from a result's set-up, as it then read, to the present
// one as it now reads.
func (b BowRecords) since(r Result, at int) Since {
	out := Since{b.asRead(at, r.At)}
	for i := at + 1; i < len(b.SetUps); i++ {
		out = append(out, b.asRead(i-1, b.SetUps[i].At), b.asRead(i, b.SetUps[i].At))
	}
	return append(out, b.asRead(len(b.SetUps)-1, time.Time{}))
}

// readTwice is how far two readings of one setting lie apart before it counts
// as moved: a square's own resolution, twice.
var readTwice = map[notebook.Kind]float64{notebook.ReadBrace: 0.001, notebook.ReadNockingPoint: 0.0006, notebook.ReadTiller: 0.001}

// asRead gives a set-up with what was last read off the bow until a moment
// (zero: now): a string creeps, and nobody makes a set-up of that. A reading
// holds for later set-ups, too, as long as they leave its entry, and the
// string, alone.
func (b BowRecords) asRead(at int, until time.Time) notebook.Settings {
	s := b.SetUps[at].Settings
	from := map[notebook.Kind]int{}
	for kind := range readTwice {
		from[kind] = b.unmoved(kind, at)
	}
	for _, r := range b.valid() {
		since, square := from[r.Kind]
		i := b.setUp(r.SetUp)
		if !square || r.Trial != "" || i < since || i > at || !until.IsZero() && r.At.After(until) {
			continue
		}
		m, _ := moverOf(direct[string(r.Kind)])
		value := r.Value
		if r.Kind == notebook.ReadBrace && r.Edge == notebook.EdgeButton {
			value -= float64(b.SetUps[i].Settings.BraceHeight.ButtonBehind.Value)
		}
		switch original, noted := m.read(b.SetUps[at].Settings); {
		case !noted:
		case math.Abs(value-original) > readTwice[r.Kind]:
			writeRead(&s, r.Kind, value)
		default:
			asTyped(&s, r.Kind, b.SetUps[at].Settings)
		}
	}
	return s
}

// unmoved is the first set-up from which on an entry, and the string, were
// left alone up to the one at a place.
func (b BowRecords) unmoved(kind notebook.Kind, at int) int {
	entry := direct[string(kind)]
	for ; at > 0; at-- {
		before, after := b.SetUps[at-1].Settings, b.SetUps[at].Settings
		if otherString(before, after) || slices.ContainsFunc(differences(before, after), func(d notebook.Difference) bool { return d.Key == entry }) {
			return at
		}
	}
	return at
}

// writeRead enters what was read.
func writeRead(s *notebook.Settings, kind notebook.Kind, v float64) {
	said := notebook.Length{Typed: unit.Said(unit.Length(v), unit.MM)}
	switch kind {
	case notebook.ReadBrace:
		writeBrace(s, v)
	case notebook.ReadNockingPoint:
		s.NockingPoint.Value = said
	case notebook.ReadTiller:
		s.Tiller = said
	}
}

// asTyped takes an entry back to what the set-up says.
func asTyped(s *notebook.Settings, kind notebook.Kind, typed notebook.Settings) {
	switch kind {
	case notebook.ReadBrace:
		s.BraceHeight, s.Draw = typed.BraceHeight, typed.Draw
	case notebook.ReadNockingPoint:
		s.NockingPoint = typed.NockingPoint
	case notebook.ReadTiller:
		s.Tiller = typed.Tiller
	}
}
