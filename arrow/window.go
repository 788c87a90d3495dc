package arrow

import (
	"fmt"

	"tautline/unit"
)

// LeastGap is the tail clearance below which stiff or weak must not be read
// from a bare shaft: the next shot may touch.
const LeastGap unit.Length = 0.0015

// Window says whether the shot lies where a bare shaft's place tells stiff
// from weak.
type Window struct {
	In     bool
	Reason string // why not, as a sentence; empty inside
	// Beyond is the end of the window that the shaft lies beyond, Somewhere
	// inside and wherever that cannot be told.
	Beyond End
}

// End is an end of the window.
type End string

// The window has two ends.
const (
	Somewhere End = ""
	TooStiff  End = "too stiff"
	TooSoft   End = "too soft"
)

// Outside stiffEnd and softEnd, as thrust ratios, an end of the window is
// named. They are ours, from six bows of 21 to 48 lbf shot with twenty spines
// each, every one on 33 plausible set-ups (docs/theory/arrow.md): from
// about 0.80 to 1.05 13 to 30 of the 33 lie in the window of all but the
// lightest bow, and the tail strikes in four at most; the middle one strikes
// from 0.53 to 0.61 downwards and from 1.24 to 1.36 upwards. Beyond noShaft the model swings a shaft through that no
// archer would shoot, and some of those clear again.
const (
	stiffEnd = 0.80
	softEnd  = 1.05
	noShaft  = 1.5
)

// end is where a shaft outside the window lies.
func (r *Result) end() End {
	switch {
	case r.ThrustRatio < stiffEnd:
		return TooStiff
	case r.ThrustRatio >= softEnd:
		return TooSoft
	}
	return Somewhere
}

// Window judges the shot by its clearance. It does not see whether the offset
// still rises with spine: compare neighbouring spines for that.
func (r *Result) Window() Window {
	switch {
	case r.TailStrike:
		return Window{Reason: r.strikes(), Beyond: r.end()}
	case r.LastContact > r.TimeOnString:
		// No bow of ours did this: which end it would be is not known.
		return Window{Reason: "the shaft is still on the button when it leaves the string"}
	case r.ThrustRatio > noShaft:
		return Window{Reason: fmt.Sprintf("the shaft is far too soft for this bow: the thrust is %.1f times its buckling load", r.ThrustRatio), Beyond: TooSoft}
	case r.TailGap < LeastGap:
		return Window{Reason: fmt.Sprintf("the tail passes the button at %.1f mm, too close to tell stiff from weak", r.TailGap.Millimetres()), Beyond: r.end()}
	}
	return Window{In: true}
}

// strikes says why the tail may have struck.
func (r *Result) strikes() string {
	if end := r.end(); end != Somewhere {
		return fmt.Sprintf("the tail strikes the button: the shaft is %s for this bow (thrust %.2f times the shaft's buckling load) or the release and button throw it back", end, r.ThrustRatio)
	}
	return fmt.Sprintf("the tail strikes the button though the shaft is neither very stiff nor very soft for this bow (thrust %.2f times the shaft's buckling load): release or button throw it back", r.ThrustRatio)
}

// flat says why a bare shaft's place tells nothing where it does not follow
// the spine.
func (r *Result) flat() string {
	of := "the shaft"
	if end := r.end(); end != Somewhere {
		of = fmt.Sprintf("the shaft, which is %s for this bow", end)
	}
	return fmt.Sprintf("the bare shaft's place does not follow the spine of %s (thrust %.2f times its buckling load), so it cannot tell stiff from weak", of, r.ThrustRatio)
}
