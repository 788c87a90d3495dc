package workbench

import (
	"errors"
	"fmt"

	"tautline/arrow"
)

// outsideWindow says why no bare shaft can be read, and which test shaft to
// borrow where the end of the window is known.
func outsideWindow(w arrow.Window, err error) string {
	var soft *arrow.CollapseError
	if errors.As(err, &soft) {
		w = arrow.Window{Reason: fmt.Sprintf("the shaft collapses under the thrust, %.1f times its buckling load", soft.Ratio), Beyond: arrow.TooSoft}
	}
	text := "Outside the window in which a bare shaft tells stiff from weak"
	if w.Reason != "" {
		text += ": " + w.Reason
	}
	switch w.Beyond {
	case arrow.TooStiff:
		return text + ". Borrow a softer test shaft first."
	case arrow.TooSoft:
		return text + ". Borrow a stiffer test shaft first."
	}
	return text + ". Whether a stiffer or a softer shaft would help cannot be told from this: check button and centre shot first, and ask a coach which test shaft to borrow."
}
