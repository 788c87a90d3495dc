package arrow

import "tautline/unit"

// Judgement is a shot with its neighbours in spine.
type Judgement struct {
	Result Result
	Window Window
	// Slope is how much faster the point turns to the trade's weak side (right
	// for a right-handed archer, left for a left-handed one) as the arrow
	// leaves when the static spine is 50 thousandths softer, rad/s. A bare
	// shaft's place follows it.
	Slope float64
}

// ClearSlope is the least Slope, in rad/s per 50 thousandths, that counts as
// rising clearly: about 2 cm of a bare shaft at 30 m, which three shots can
// show.
const ClearSlope = 0.1

// judgeStep is the difference in spine to either side.
const judgeStep = 25 * unit.ThousandthInch

// Judge shoots the arrow and its neighbours 25 thousandths stiffer and softer
// and says whether a bare shaft tells stiff from weak here: the tail must
// clear the button, and the offset must rise with spine on both sides. Beyond
// the soft end it falls again, and a weak shaft would read as stiff; beyond the
// stiff end it hardly moves.
func (s *Simulator) Judge(a *Arrow, d *Drive, set Setup) (Judgement, error) {
	middle, err := s.Shoot(a, d, set)
	if err != nil {
		return Judgement{}, err
	}
	j := Judgement{Result: middle, Window: middle.Window()}
	var rate [2]float64
	for i, step := range []unit.Spine{-judgeStep, judgeStep} {
		b, err := a.WithSpine(a.design.Spine + step)
		if err != nil {
			return Judgement{}, err
		}
		r, err := s.Shoot(b, d, set)
		if err != nil {
			return Judgement{}, err
		}
		rate[i] = r.Clear.YawRate
	}
	// A right-handed archer's weak shaft lands right, which is inward.
	weak := -set.Hand.right(1)
	below, above := weak*(middle.Clear.YawRate-rate[0]), weak*(rate[1]-middle.Clear.YawRate)
	j.Slope = below + above
	if j.Window.In && (below <= 0 || above <= 0 || j.Slope < ClearSlope) {
		j.Window = Window{Reason: middle.flat(), Beyond: middle.end()}
	}
	return j, nil
}
