package trial

import (
	"fmt"
	"math"
	"slices"

	"tautline/unit"
)

// choose sets the start end and the order with their reasons.
func (p *BracePlan) choose(in BracePlanInput, turns []float64) {
	p.Order = in.Order
	down, up := -turns[0], turns[len(turns)-1]
	if p.Order == "" {
		p.Order = Up
		if up < down/2 {
			p.Order = Down
		}
	}
	switch p.Order {
	case Up:
		p.Start, p.StartReason = "low", startReason("low", turns[0], in.Order != "")
	case Down:
		p.Start, p.StartReason = "high", startReason("high", up, in.Order != "")
	case ABBA:
		p.Start, p.StartReason = "A", "Start at A; which of the two is A is a coin toss unless one of them is what you shoot now."
	}
	p.OrderReason = p.Order.Reason()
}

func startReason(end string, turns float64, chosen bool) string {
	move := "no change of twist"
	if turns > 0 {
		move = fmt.Sprintf("%g turns added", turns)
	} else if turns < 0 {
		move = fmt.Sprintf("%g turns removed", -turns)
	}
	if chosen {
		return fmt.Sprintf("You chose the %s end: %s from what you shoot now.", end, move)
	}
	if end == "low" {
		return fmt.Sprintf("From the low end (%s) the trial goes up by adding turns.", move)
	}
	return fmt.Sprintf("The high end is much nearer to what you shoot now (%s), so the trial starts there and removes turns.", move)
}

// lay writes the stops in shooting order with their turns, times and counts.
func (p *BracePlan) lay(in BracePlanInput, turns []float64) {
	p.Stops, p.Time, p.Arrows = nil, 0, 0
	at := 0.0
	for visit, index := range p.sequence(in, turns) {
		s := PlannedStop{
			Index: index + 1, Visit: visit + 1, FromNow: turns[index], FromPrevious: turns[index] - at,
			Total: math.NaN(), Brace: in.Curve(turns[index]), Settling: in.SettlingShots, Arrows: in.ArrowsPerStop,
		}
		if in.Turns > 0 {
			s.Total = in.Turns + s.FromNow
		}
		if visit == 0 {
			s.Settling = in.FirstSettling
		}
		s.Corrected = s.Brace.Value + in.RiserOffset
		s.InRange = inside(s.Brace, p.Low, p.High)
		s.Time = unit.Duration(s.Settling+s.Arrows) * in.ArrowTime
		if s.FromPrevious != 0 {
			s.Time += in.ChangeTime
		}
		at = s.FromNow
		p.Stops = append(p.Stops, s)
		p.Time += s.Time
		p.Arrows += s.Settling + s.Arrows
	}
}

func inside(e Estimate[unit.Length], low, high unit.Length) Inside {
	switch {
	case e.Low >= low && e.High <= high:
		return Yes
	case e.Value < low || e.Value > high:
		return No
	}
	return NotSure
}

// sequence returns indices into turns in shooting order.
func (p *BracePlan) sequence(in BracePlanInput, turns []float64) []int {
	all := make([]int, len(turns))
	for i := range all {
		all[i] = i
	}
	switch p.Order {
	case Down:
		slices.Reverse(all)
	case ABBA:
		a, b := nearest(in, turns, in.StopA), nearest(in, turns, in.StopB)
		return []int{a, b, b, a}
	}
	return all
}

func nearest(in BracePlanInput, turns []float64, brace unit.Length) int {
	best, at := math.Inf(1), 0
	for i, t := range turns {
		if d := math.Abs(float64(in.Curve(t).Value - brace)); d < best {
			best, at = d, i
		}
	}
	return at
}

func (p *BracePlan) warnAboutStart(in BracePlanInput) {
	corrected := in.Brace + in.RiserOffset
	if corrected < in.LimbLow || corrected > in.LimbHigh {
		p.warn("The present brace height, %s on the square (%s for the maker's range), is outside %s to %s.",
			mm(in.Brace), mm(corrected), mm(in.LimbLow), mm(in.LimbHigh))
	}
	if !in.MinimumMassSet {
		p.warn("The arrow maker's minimum mass is not on record: check the arrow before the first shot.")
	}
	if in.Turns == 0 {
		p.warn("The turns in the string are not known, so what this string can reach is not checked: stop when it kinks, or when the loops no longer seat.")
	}
	if in.RiserOffset != 0 {
		p.warn("This riser reads %s %s the maker's usual grip: the range on the square is %s to %s.",
			mm1(unit.Length(math.Abs(float64(in.RiserOffset)))), map[bool]string{true: "below", false: "above"}[in.RiserOffset > 0], mm(p.Low), mm(p.High))
	}
	if d := math.Abs(float64(in.Curve(0).Value - in.Brace)); d > 0.001 {
		p.warn("The prediction starts at %s, the square reads %s: the plan uses the prediction's steps from there; measure at the first stop.", mm1(in.Curve(0).Value), mm1(in.Brace))
	}
}

func (p *BracePlan) warnAboutSize() {
	distinct := map[int]bool{}
	for _, s := range p.Stops {
		distinct[s.Index] = true
	}
	switch n := len(distinct); {
	case p.Order == ABBA && n < 2:
		p.warn("A and B are the same stop: choose two brace heights at least one step apart.")
	case p.Order == ABBA:
	case n < minSpotStops:
		p.warn("With %d stops a spot cannot be told from a bend in the trend; %d are the least. Fewer turns per step give more stops.", n, minSpotStops)
	case n > 14:
		p.warn("%d stops are much for one session: four or five turns per step would do, or stop and come back tomorrow.", n)
	}
	if len(p.Stops) > 0 && p.Stops[0].Arrows < 2 {
		p.warn("With one arrow a stop there is no scatter to judge by: the verdict can show the trend, not a spot.")
	}
	for _, s := range p.Stops {
		if s.InRange == NotSure {
			p.warn("Stop %d may fall outside the limb maker's range: measure before you shoot there.", s.Index)
		}
	}
}

// DetectableSpot is the size of a one-stop spot in mid-range, in units of one
// shot's scatter, that a trial of so many evenly spaced stops and counted
// arrows a stop finds in four of five trials; +Inf if it can find none.
func DetectableSpot(stops, arrows int) float64 {
	if stops < minSpotStops || arrows < 2 {
		return math.Inf(1)
	}
	x, v := make([]float64, stops), make([]float64, stops)
	for i := range x {
		x[i], v[i] = float64(i), 1/float64(arrows)
	}
	t := newSpotTest(x, v, float64(stops*(arrows-1)), nil)
	t.simulate(1000, 1)
	return t.detectable(1, 0.05, 0.8)
}

// canSeeSpot says before shooting what the trial can show.
func canSeeSpot(stops []PlannedStop, in BracePlanInput) string {
	if in.Order == ABBA {
		return "Four visits tell two settings apart only if they differ by much more than a setting differs from itself when made again: in four of five trials by 16 times that with one measure, by 50 with three. Two more visits, one to each, bring that to 4 and 6."
	}
	d := DetectableSpot(len(stops), in.ArrowsPerStop)
	if math.IsInf(d, 1) {
		return "So few stops or arrows show the trend, not a spot."
	}
	return fmt.Sprintf("A spot one stop wide is found in four of five such trials if it stands off the trend by %.1f times the scatter of one shot (with 0.7 dB of scatter: %.1f dB).", d, 0.7*d)
}

func (p *BracePlan) warn(format string, args ...any) {
	p.Warnings = append(p.Warnings, fmt.Sprintf(format, args...))
}

// ReplanBrace plans the remaining stops anew from what was measured so far:
// the twist curve is rescaled to the readings (turns counted from the string
// as it was when the trial began), and stops already shot or passed are left
// out. For ABBA all four visits are planned anew.
// The first stop returned counts its turns from the last reading.
func ReplanBrace(in BracePlanInput, readings []TurnReading) (BracePlan, error) {
	learnt, err := Learn(in.Curve, readings)
	if err != nil {
		return BracePlan{}, err
	}
	if in.Curve == nil || len(readings) == 0 {
		return PlanBrace(in)
	}
	in.Curve = learnt
	plan, err := PlanBrace(in)
	if err != nil {
		return plan, err
	}
	ahead := notYetShot(plan.Order, readings)
	at := readings[len(readings)-1].Turns
	rest := plan.Stops
	plan.Stops, plan.Time, plan.Arrows = nil, 0, 0
	for _, s := range rest {
		if !ahead(s.FromNow) {
			continue
		}
		s.FromPrevious, at = s.FromNow-at, s.FromNow
		s.Settling = in.withDefaults().SettlingShots
		plan.Stops = append(plan.Stops, s)
		plan.Time += unit.Duration(s.Settling+s.Arrows)*in.withDefaults().ArrowTime + in.withDefaults().ChangeTime
		plan.Arrows += s.Settling + s.Arrows
	}
	return plan, nil
}

// notYetShot says which turns still lie ahead in the order of shooting.
func notYetShot(order Order, readings []TurnReading) func(turns float64) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range readings {
		low, high = min(low, r.Turns), max(high, r.Turns)
	}
	return func(turns float64) bool {
		switch order {
		case Up:
			return turns > high
		case Down:
			return turns < low
		}
		return true
	}
}
