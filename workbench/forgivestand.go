package workbench

import (
	"fmt"
	"math"
	"slices"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Over is what the spread is looked at against.
type Over string

// What can be asked.
const (
	OverBrace  Over = "brace"  // brace height
	OverButton Over = "button" // turns added to the button's spring
	OverArrow  Over = "arrow"  // static spine, the shaft's weight with it
)

// forgiveStand is one row of the answer: where the bow stands and with which arrow.
type forgiveStand struct {
	brace unit.Length
	turns float64 // added to the button, positive is harder
	arrow *arrow.Arrow
}

// set turns the button. A turn advances the thread's pitch against the spring.
func (st forgiveStand) set(s arrow.Setup) arrow.Setup {
	s.Button.Preload = max(0, s.Button.Preload+unit.Force(st.turns*float64(s.Button.Stiffness)*float64(threadPitch)))
	return s
}

// at is the stand's value in words, short.
func (st forgiveStand) at(o Over) string {
	switch o {
	case OverButton:
		return fmt.Sprintf("%+g", st.turns)
	case OverArrow:
		return fmt.Sprintf("%.0f", st.arrow.Design().Spine.Thousandths())
	}
	return fmt.Sprintf("%.1f", 100*float64(st.brace))
}

// span is the comparison's first words.
func (o Over) span(from, to forgiveStand) string {
	switch o {
	case OverButton:
		return fmt.Sprintf("From %s to %s turns of the button", from.at(o), to.at(o))
	case OverArrow:
		return fmt.Sprintf("From spine %s to %s", from.at(o), to.at(o))
	}
	return fmt.Sprintf("From %s to %s cm", from.at(o), to.at(o))
}

// either names one of the two that are compared.
func (o Over) either() string {
	return map[Over]string{OverBrace: "at either height", OverButton: "with either setting", OverArrow: "with either arrow"}[o]
}

// treatments of the tune that make sense: turning the button or changing the
// arrow is itself a re-tuning.
func (o Over) treatments() []Treatment {
	if o == OverBrace {
		return []Treatment{AllElseFixed, RetunedBySpine, RetunedByButton}
	}
	return []Treatment{AllElseFixed}
}

// Turns and spines that are looked at where none are asked for.
const (
	turnsReach, turnsStep = 2.0, 0.5
	spinesReach           = 150.0 // thousandths
	mostButtonTurns       = 6.0
)

// fill takes the defaults; at is the present brace height.
func (q *ForgiveQuestion) fill(at unit.Length, side *Sideways) {
	if q.Repeat == (Repeatability{}) {
		q.Repeat = UsualRepeatability()
	}
	if q.Over == "" {
		q.Over = OverBrace
	}
	switch q.Over {
	case OverBrace:
		q.fillHeights(at)
	case OverButton:
		if len(q.Turns) == 0 {
			q.Turns = usualTurnsOf(side.Setup.Button)
		}
		if q.FromTurns == 0 && q.ToTurns == 0 && len(q.Turns) > 0 {
			q.FromTurns, q.ToTurns = q.Turns[0], q.Turns[len(q.Turns)-1]
		}
	case OverArrow:
		if len(q.Spines) == 0 {
			q.Spines = spinesAround(side.Arrow.Spine)
		}
		if q.FromSpine == 0 && len(q.Spines) > 0 {
			q.FromSpine = q.Spines[0]
		}
		if q.ToSpine == 0 && len(q.Spines) > 0 {
			q.ToSpine = q.Spines[len(q.Spines)-1]
		}
	}
}

func (q *ForgiveQuestion) fillHeights(at unit.Length) {
	if len(q.Heights) == 0 {
		for i := range 7 {
			q.Heights = append(q.Heights, at+unit.Length(i-4)*5*unit.Millimetre)
		}
	}
	if q.From == 0 {
		q.From = q.Heights[0]
	}
	if q.To == 0 {
		q.To = q.Heights[len(q.Heights)-1]
	}
}

// usualTurnsOf are two turns to either side that leave the spring some
// preload.
func usualTurnsOf(b arrow.Button) (out []float64) {
	for t := -turnsReach; t <= turnsReach; t += turnsStep {
		if float64(b.Preload)+t*float64(b.Stiffness)*float64(threadPitch) >= leastPreload {
			out = append(out, t)
		}
	}
	return out
}

// spinesAround are the trade's spines around the present one, and that one,
// soft first.
func spinesAround(now unit.Spine) (out []unit.Spine) {
	for _, s := range tradeSpines {
		if d := s - now.Thousandths(); math.Abs(d) <= spinesReach && math.Abs(d) > 1 {
			out = append(out, unit.Spine(s)*unit.ThousandthInch)
		}
	}
	out = append(out, now)
	slices.SortFunc(out, func(a, b unit.Spine) int {
		if a > b {
			return -1
		}
		return 1
	})
	return out
}

// check names what cannot be asked of the button or the arrow.
func (q *ForgiveQuestion) checkOver() (problems notebook.Problems) {
	bad := func(field, message, hint string) {
		problems = append(problems, notebook.Error{Code: notebook.Invalid, Field: field, Message: message, Hint: hint})
	}
	turns := func(field string, t float64) {
		if !(math.Abs(t) <= mostButtonTurns) {
			bad(field, fmt.Sprintf("%g turns of the button is outside −6 to 6", t), "turns added to the present setting, like 1 or -0.5")
		}
	}
	spine := func(field string, s unit.Spine) {
		if r := unit.ShaftSpine; !r.Holds(s) {
			bad(field, r.Doubt(unit.Said(s, unit.Thou)), "a static spine like 600")
		}
	}
	switch q.Over {
	case OverBrace:
	case OverButton:
		for i, t := range q.Turns {
			turns(fmt.Sprintf("/turns/%d", i), t)
		}
		turns("/from_turns", q.FromTurns)
		turns("/to_turns", q.ToTurns)
	case OverArrow:
		for i, s := range q.Spines {
			spine(fmt.Sprintf("/spines/%d", i), s)
		}
		spine("/from_spine", q.FromSpine)
		spine("/to_spine", q.ToSpine)
	default:
		bad("/over", fmt.Sprintf("%q is nothing to look at the spread against", q.Over), "brace, button or arrow")
	}
	return problems
}

// stands are the rows, and the two that are compared.
func (q *ForgiveQuestion) stands(now unit.Length, a *arrow.Arrow) (rows []forgiveStand, from, to forgiveStand, err error) {
	base := forgiveStand{brace: now, arrow: a}
	switch q.Over {
	case OverButton:
		turned := func(t float64) forgiveStand { st := base; st.turns = t; return st }
		for _, t := range q.Turns {
			rows = append(rows, turned(t))
		}
		return rows, turned(q.FromTurns), turned(q.ToTurns), nil
	case OverArrow:
		other := func(s unit.Spine) forgiveStand {
			st := base
			made, one := arrow.New(reshaft(a.Design(), s), arrow.Resolution{})
			if one != nil && err == nil {
				err = one
			}
			st.arrow = made
			return st
		}
		for _, s := range q.Spines {
			rows = append(rows, other(s))
		}
		from, to = other(q.FromSpine), other(q.ToSpine)
		return rows, from, to, err
	}
	braced := func(h unit.Length) forgiveStand { st := base; st.brace = h; return st }
	for _, h := range q.Heights {
		rows = append(rows, braced(h))
	}
	return rows, braced(q.From), braced(q.To), nil
}
