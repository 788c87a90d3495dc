package workbench

import (
	"math"

	"tautline/notebook"
	"tautline/unit"
)

// The square reads the nocking point over the rest. Who raises the rest and
// leaves the string alone has the same nocking point on the string and a
// smaller reading, whether the square was put on again or not.

// restMoved is how far the rest was raised from one set-up to another; 0 where
// either does not note it.
func restMoved(from, to notebook.Settings) unit.Length {
	if from.Rest.Height.IsZero() || to.Rest.Height.IsZero() {
		return 0
	}
	return to.Rest.Height.Value - from.Rest.Height.Value
}

// nockLeft is a set-up after a change, with the reading that the square would
// give where the rest moved and the nocking point was not read again; ok tells
// whether it is another.
func nockLeft(from, to notebook.Settings) (left notebook.Settings, ok bool) {
	up, was, is := restMoved(from, to), from.NockingPoint.Value, to.NockingPoint.Value
	if up == 0 || was.IsZero() || was.Value != is.Value {
		return to, false
	}
	to.NockingPoint.Value = notebook.Length{Typed: unit.Said(unit.Length(math.Round(1e5*float64(is.Value-up))/1e5), unit.MM)}
	return to, true
}

// nockMoved is how far the nocking point was moved up the string: only a new
// reading of it tells that it was, over the rest as it stood then.
func (s Since) nockMoved() (moved float64) {
	first := s[0].NockingPoint.Value.Value
	for i := 1; i < len(s); i++ {
		if is := s[i].NockingPoint.Value.Value; is != s[i-1].NockingPoint.Value.Value {
			moved = float64(is - first + restMoved(s[0], s[i]))
		}
	}
	return moved
}
