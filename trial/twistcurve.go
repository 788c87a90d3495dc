package trial

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// TwistCurve predicts the brace height, as read on the square, after adding
// `turns` turns to the string as it is now (negative: turns removed). Zero
// turns give the present reading with its own doubt. The step per turn grows
// with the number of turns already in the string, so the curve bends upward.
type TwistCurve func(turns float64) Estimate[unit.Length]

// ReadingSD is the standard deviation of one brace-height reading with a bow
// square: 0.5 mm (common practice, no source).
const ReadingSD unit.Length = 0.0005

// ConstantStep is the curve of a string whose step per turn is known only as
// one figure: now + step·turns, with the step's relative standard deviation
// (0.3 is usual for a rule of thumb).
func ConstantStep(now, perTurn unit.Length, relative float64) TwistCurve {
	return func(turns float64) Estimate[unit.Length] {
		move := float64(perTurn) * turns
		sd := math.Hypot(float64(ReadingSD), move*relative)
		return around(now+unit.Length(move), unit.Length(1.96*sd))
	}
}

// TwistPoint is one row of a table of predicted brace heights.
type TwistPoint struct {
	Turns float64               // relative to the string as it is now
	Brace Estimate[unit.Length] // predicted reading
}

// TwistTable is the curve through a table, straight between its rows and
// beyond its ends. It needs two rows of different turns.
func TwistTable(rows []TwistPoint) (TwistCurve, error) {
	rows = slices.Clone(rows)
	slices.SortFunc(rows, func(a, b TwistPoint) int { return compare(a.Turns, b.Turns) })
	for i := 1; i < len(rows); i++ {
		if rows[i].Turns == rows[i-1].Turns {
			return nil, bad("twist table", "give each number of turns once", "%g turns stand there twice", rows[i].Turns)
		}
	}
	if len(rows) < 2 {
		return nil, bad("twist table", "give the predicted brace height for at least two numbers of turns, such as 0 and 3", "it has %d rows", len(rows))
	}
	return func(turns float64) Estimate[unit.Length] {
		i, _ := slices.BinarySearchFunc(rows, turns, func(p TwistPoint, t float64) int { return compare(p.Turns, t) })
		i = min(max(i, 1), len(rows)-1)
		a, b := rows[i-1], rows[i]
		f := unit.Length((turns - a.Turns) / (b.Turns - a.Turns))
		return Estimate[unit.Length]{
			Value: a.Brace.Value + f*(b.Brace.Value-a.Brace.Value),
			Low:   a.Brace.Low + f*(b.Brace.Low-a.Brace.Low),
			High:  a.Brace.High + f*(b.Brace.High-a.Brace.High),
			Level: a.Brace.Level,
		}
	}, nil
}

// TurnReading is a brace height measured after a number of turns.
type TurnReading struct {
	Turns float64     // relative to the string when the plan was made; removed turns are negative
	Brace unit.Length // on the square, same reference edge throughout
	SD    unit.Length // of this reading; 0: ReadingSD, or ReadingSD/√repeats for a mean
}

func (r TurnReading) sd() float64 {
	if r.SD > 0 {
		return float64(r.SD)
	}
	return float64(ReadingSD)
}

// LearnStep returns the brace height gained per turn, in millimetres, from two
// or more readings: a straight line weighted by the readings' own standard
// deviations, which are taken as known. With two readings 3 turns apart and
// 0.5 mm readings the interval is about ±0.5 mm per turn: wide, and it says so.
// It leaves out that the step grows with the turns; Learn keeps that.
func LearnStep(readings []TurnReading) (mmPerTurn Estimate[float64], err error) {
	var w, wt, wb, wtt, wtb float64
	for i, r := range readings {
		if err := r.check(i); err != nil {
			return Unknown[float64](), err
		}
		p := 1 / (r.sd() * r.sd())
		b := float64(r.Brace - readings[0].Brace)
		w, wt, wb = w+p, wt+p*r.Turns, wb+p*b
		wtt, wtb = wtt+p*r.Turns*r.Turns, wtb+p*r.Turns*b
	}
	spread := wtt - wt*wt/w
	if len(readings) < 2 || spread < 1e-9*wtt || wtt == 0 {
		return Unknown[float64](), bad("readings", "measure the brace height, add 3 turns, measure again", "the step per turn needs two readings with different turns")
	}
	slope := (wtb - wt*wb/w) / spread
	half := distuv.UnitNormal.Quantile(0.5+Confidence/2) / math.Sqrt(spread)
	return around(1000*slope, 1000*half), nil
}

func (r TurnReading) check(i int) error {
	field := fmt.Sprintf("reading %d", i+1)
	if math.IsNaN(r.Turns) || math.IsInf(r.Turns, 0) {
		return bad(field, "give the turns added since the start, such as 3, or -3 when removed", "the turns are not a number")
	}
	if !unit.BraceHeight.Holds(r.Brace) {
		return bad(field, "check the unit; a brace height looks like 215 mm or 8 1/2 in", "a brace height of %s is outside %s to %s",
			mm(r.Brace), mm(unit.BraceHeight.Low), mm(unit.BraceHeight.High))
	}
	return nil
}

// Learn rescales a predicted curve to readings taken on this string: the
// curve's shape stays, its size gets the factor q estimated from the readings
// and a prior N(1, 0.3²), and its origin moves to the readings. The result is
// a curve of the same turns (counted from the plan's start).
func Learn(curve TwistCurve, readings []TurnReading) (TwistCurve, error) {
	const priorSD = 0.3
	for i, r := range readings {
		if err := r.check(i); err != nil {
			return nil, err
		}
	}
	if len(readings) == 0 {
		return curve, nil
	}
	// Unknowns: origin b and factor q in reading = b + q·rise(turns).
	origin := float64(curve(0).Value)
	rise := func(turns float64) float64 { return float64(curve(turns).Value) - origin }
	a11, a12, a22 := 0.0, 0.0, 1/(priorSD*priorSD)
	b1, b2 := 0.0, 1/(priorSD*priorSD)
	for _, r := range readings {
		p, x, y := 1/(r.sd()*r.sd()), rise(r.Turns), float64(r.Brace)-origin
		a11, a12, a22 = a11+p, a12+p*x, a22+p*x*x
		b1, b2 = b1+p*y, b2+p*x*y
	}
	det := a11*a22 - a12*a12
	b, q := (a22*b1-a12*b2)/det, (a11*b2-a12*b1)/det
	return func(turns float64) Estimate[unit.Length] {
		x := rise(turns)
		variance := (a22 - 2*a12*x + a11*x*x) / det
		sd := math.Sqrt(variance + float64(ReadingSD)*float64(ReadingSD))
		return around(unit.Length(origin+b+q*x), unit.Length(1.96*sd))
	}, nil
}

func mm(l unit.Length) string { return l.Format(unit.MM, 0, unit.Point) }

func mm1(l unit.Length) string { return l.Format(unit.MM, 1, unit.Point) }
