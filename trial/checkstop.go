package trial

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Question is a friendly question about a reading that does not fit: nothing
// is refused, the reading stays as typed, and the person decides.
type Question struct {
	Text    string // what was expected, what was read
	Answers []Answer
}

// Answer is one explanation the person can pick.
type Answer struct {
	Key   string  // "turns", "reversed", "button", "settle", "keep"
	Text  string  // "I added 6 turns, not 3"
	Turns float64 // the turns this answer implies, from the previous stop
}

// StopCheck is what was planned and noted at a stop.
type StopCheck struct {
	Curve        TwistCurve  // the curve in force, turns counted from the trial's start
	Before       float64     // turns at the previous stop, counted from the start
	Turns        float64     // turns noted at this stop, counted from the start
	Brace        unit.Length // measured on the square
	SD           unit.Length // of the reading; 0: ReadingSD
	ButtonOffset unit.Length // reading from the button minus reading from the pivot, if known; 0: not known
}

// CheckStop compares a measured brace height with what the noted turns should
// give. It returns nil when they agree within the prediction's interval and
// the reading's own doubt.
func CheckStop(c StopCheck) *Question {
	sd := TurnReading{SD: c.SD}.sd()
	expect := c.Curve(c.Turns)
	allow := math.Hypot(float64(expect.Half()), 1.96*sd)
	miss := float64(c.Brace - expect.Value)
	if math.Abs(miss) <= allow {
		return nil
	}
	q := &Question{Text: fmt.Sprintf("With %s the string should read %s to %s; you read %s. What happened?",
		turnsText(c.Turns-c.Before), mm1(expect.Value-unit.Length(allow)), mm1(expect.Value+unit.Length(allow)), mm1(c.Brace))}
	if t, ok := c.turnsFor(); ok {
		key := "turns"
		if (t-c.Before)*(c.Turns-c.Before) < 0 {
			key = "reversed"
		}
		q.Answers = append(q.Answers, Answer{key, fmt.Sprintf("It was %s", turnsText(t-c.Before)), t - c.Before})
	}
	if c.ButtonOffset != 0 && math.Abs(miss-float64(c.ButtonOffset)) <= allow {
		q.Answers = append(q.Answers, Answer{"button", "I measured from the button, not from the grip", c.Turns - c.Before})
	}
	q.Answers = append(q.Answers,
		Answer{"settle", "The string had not settled: I shoot three more and measure again", c.Turns - c.Before},
		Answer{"keep", "Both are right: keep the reading", c.Turns - c.Before})
	return q
}

// turnsFor finds the whole number of turns whose prediction fits the reading
// best, if it is another one than noted.
func (c StopCheck) turnsFor() (float64, bool) {
	best, at := math.Inf(1), c.Turns
	for i := -40; i <= 40; i++ {
		t := c.Before + float64(i)
		if d := math.Abs(float64(c.Curve(t).Value - c.Brace)); d < best {
			best, at = d, t
		}
	}
	return at, at != c.Turns && best < math.Abs(float64(c.Curve(c.Turns).Value-c.Brace))/2
}

func turnsText(t float64) string {
	switch {
	case t == 0:
		return "no turns changed"
	case t == 1:
		return "1 turn added"
	case t == -1:
		return "1 turn removed"
	case t > 0:
		return fmt.Sprintf("%g turns added", t)
	}
	return fmt.Sprintf("%g turns removed", -t)
}
