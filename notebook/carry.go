package notebook

import (
	"slices"

	"tautline/unit"
)

// Carry gives the settings after a change, with the draw's readings tied to
// the brace height they were taken at. Weight and draw–force points are read
// on the bow as it was braced then; moving the brace height moves them a
// little, and taking the old readings for new ones would make it another bow.
// Where weight, draw length or points were typed anew, they are taken to be
// read at the new brace height, unless after says otherwise.
func Carry(before, after Settings) Settings {
	if readAnew(before.Draw, after.Draw) {
		if sameText(after.Draw.AtBrace, before.Draw.AtBrace) {
			after.Draw.AtBrace = Length{}
		}
		return after
	}
	if !after.Draw.AtBrace.IsZero() {
		return after
	}
	was, known := before.BraceHeight.ToPivot()
	is, _ := after.BraceHeight.ToPivot()
	switch {
	case !before.Draw.AtBrace.IsZero():
		after.Draw.AtBrace = before.Draw.AtBrace
	case known && was != is && before.BraceHeight.From != EdgeButton:
		after.Draw.AtBrace = before.BraceHeight.Value
	case known && was != is:
		after.Draw.AtBrace = Length{Typed: unit.Said(was, unit.MM)}
	}
	return after
}

// readAnew tells whether the draw was read again.
func readAnew(a, b Draw) bool {
	same := func(p, q DrawPoint) bool { return sameText(p.At, q.At) && p.Force.Text == q.Force.Text }
	return !sameText(a.Length, b.Length) || a.Weight.Text != b.Weight.Text || !slices.EqualFunc(a.Points, b.Points, same)
}

func sameText(a, b Length) bool { return a.Text == b.Text }
