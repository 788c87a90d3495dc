package workbench

import (
	"math"
	"slices"
	"strings"

	"tautline/notebook"
)

// The model of sight marks sees the arrow's speed and drag and where the pin
// stands from the eye. What else a change moves the arrow up or down by is not
// in it: a nocking point, a tiller, a rest. The floors bound that, or nothing
// does, and then no mark is told.

// unfollowed is what a change does to sight marks beyond their model.
type unfollowed struct {
	// most is how far a mark may move by it, m on the sight, at any distance:
	// the height on the target and the angle to it grow alike.
	most  float64
	names []string // of the settings, in words
	// why no mark can be told; empty where the bound holds.
	why string
}

// beyondMarks bounds what the changes do to marks beyond the model, for a pin
// so far from the eye.
func beyondMarks(changes []notebook.Difference, from, to notebook.Settings, reach float64) (out unfollowed) {
	given := map[string]float64{}
	for _, d := range changes {
		f := floorOf(d.Key, at(OfUp, floorFar))
		if d.Key == "sight_extension" {
			if f = (floor{}); d.Before == "" || d.After == "" {
				out.because("the sight extension is not noted both before and after, so how far the pin moved is not known")
			}
		}
		if f == (floor{}) {
			continue
		}
		moved, again, numeric := move(d.Key, from, to)
		if math.IsInf(f.once, 0) || f.per > 0 && !numeric {
			out.because("nothing bounds what this change of the " + d.Label() + " does to the arrow's height")
			continue
		}
		part := groupOf(d.Key)
		size := max(0, f.once-given[part]) + f.per*(math.Abs(moved)+again)
		given[part] = max(given[part], f.once)
		if out.most += size * reach / float64(floorFar); !slices.Contains(out.names, d.Label()) {
			out.names = append(out.names, d.Label())
		}
	}
	return out
}

func (u *unfollowed) because(why string) {
	if u.why == "" {
		u.why = why
	}
}

// effect is effect for a change whose marks have more doubt than their model
// says, as nine of ten stay within the bound.
func (u unfollowed) effect(t Expected, now, then float64) Effect {
	alone := effect(t, now, then)
	if t.Quantity.Kind != QMark || u.most == 0 {
		return alone
	}
	wide := saying(t.Quantity, t.Value, t.SD*t.SD-t.Model*t.Model, math.Hypot(t.Model, u.most/z90))
	e := effect(wide, now, then)
	if e.Says == untold && alone.Says != untold {
		e.Says += ": what moving the " + strings.Join(u.names, " and the ") + " does to the marks is not computed"
	}
	return e
}

// withhold takes a mark's numbers away where none may be told.
func (u unfollowed) withhold(e *Effect) {
	if e.Quantity.Kind != QMark || u.why == "" {
		return
	}
	e.Expected = Expected{Quantity: e.Quantity, Unit: e.Unit}
	e.Then, e.Sureness, e.Withheld, e.Says = e.Now, 0, u.why, "not computed"
}
