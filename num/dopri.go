package num

import "math"

// DormandPrince is the adaptive Runge–Kutta pair of order 5(4) of Dormand and
// Prince (J. Comput. Appl. Math. 6, 1980, 19–26) with Shampine's continuous
// extension of order 4, so that events and output times cost no steps. It is
// the workspace of one run at a time and allocates nothing after
// NewDormandPrince.
type DormandPrince struct {
	k           [7][]float64
	start, z    []float64
	end         []float64
	dense       [5][]float64
	part        quarter
	watch       watcher
	evaluations int
}

// Accuracy is what the adaptive stepper is asked for. The local error of
// component i is kept below Absolute·Scale[i] + Relative·|y_i|.
type Accuracy struct {
	Relative float64   // default 1e-6; at least 1e-14
	Absolute float64   // default Relative
	Scale    []float64 // size of each component; default all 1
	First    float64   // first step; default found by two evaluations
	Longest  float64   // longest step; default the whole span
	Steps    int       // steps allowed, rejected ones included; default 1e6
}

// NewDormandPrince makes a stepper for n equations.
func NewDormandPrince(n int) *DormandPrince {
	n = max(n, 0)
	block := make([]float64, 16*n)
	cut := func() []float64 {
		v := block[:n:n]
		block = block[n:]
		return v
	}
	d := &DormandPrince{start: cut(), z: cut(), end: cut(), watch: watcher{state: cut()}}
	for i := range d.k {
		d.k[i] = cut()
	}
	for i := range d.dense {
		d.dense[i] = cut()
	}
	return d
}

// Coefficients of the pair; rows of the tableau, error weights and the
// continuous extension as in Hairer, Nørsett & Wanner, Solving Ordinary
// Differential Equations I, 2nd ed., II.5 and II.6.
var (
	dpC = [7]float64{0, 1. / 5, 3. / 10, 4. / 5, 8. / 9, 1, 1}
	dpA = [7][6]float64{
		{},
		{1. / 5},
		{3. / 40, 9. / 40},
		{44. / 45, -56. / 15, 32. / 9},
		{19372. / 6561, -25360. / 2187, 64448. / 6561, -212. / 729},
		{9017. / 3168, -355. / 33, 46732. / 5247, 49. / 176, -5103. / 18656},
		{35. / 384, 0, 500. / 1113, 125. / 192, -2187. / 6784, 11. / 84},
	}
	dpE = [7]float64{71. / 57600, 0, -71. / 16695, 71. / 1920, -17253. / 339200, 22. / 525, -1. / 40}
	dpD = [7]float64{
		-12715105075. / 11282082432, 0, 87487479700. / 32700410799, -10690763975. / 1880347072,
		701980252875. / 199316789632, -1453857185. / 822651844, 69997945. / 29380423,
	}
)

// Run integrates from s.From to s.To, in place in y, with the accuracy asked.
// Events are looked for at four places of each step, so that a pair of
// crossings closer than a quarter of a step may be missed: set
// Accuracy.Longest where that matters.
func (d *DormandPrince) Run(f Derivative, y []float64, s Span, a Accuracy) Outcome {
	out := Outcome{Status: BadInput, T: s.From, Event: -1}
	if f == nil || !s.valid(len(d.start), y) || !a.fill(&s, len(y)) {
		return out
	}
	d.evaluations = 0
	d.watch.start(&s, y)
	out.Status = Done
	if s.Times == nil && s.Observe != nil && !s.Observe(s.From, y) {
		out.Status = Stopped
	}
	if out.Status == Done && s.To != s.From {
		d.integrate(f, y, &s, &a, &out)
	}
	out.Evaluations, out.Hits = d.evaluations, d.watch.hits
	return out
}

// fill sets the defaults and refuses what has no sense.
func (a *Accuracy) fill(s *Span, n int) bool {
	if a.Relative == 0 {
		a.Relative = 1e-6
	}
	a.Relative = math.Max(a.Relative, 1e-14)
	if a.Absolute == 0 {
		a.Absolute = a.Relative
	}
	if a.Longest == 0 {
		a.Longest = math.Abs(s.To - s.From)
	}
	if a.Steps == 0 {
		a.Steps = 1e6
	}
	good := finite(a.Relative) && finite(a.Absolute) && a.Absolute >= 0 && a.Longest >= 0 && a.First >= 0
	return good && (a.Scale == nil || len(a.Scale) == n && allFinite(a.Scale))
}

// sizeOf is the error allowed in component i.
func (a *Accuracy) sizeOf(i int, y float64) float64 {
	abs := a.Absolute
	if a.Scale != nil {
		abs *= math.Abs(a.Scale[i])
	}
	return math.Max(abs+a.Relative*math.Abs(y), 1e-300)
}

// Step control: a PI controller (Gustafsson) with the exponents of Hairer,
// Nørsett & Wanner II.4 for this pair.
const (
	dpBeta   = 0.04
	dpAlpha  = 0.2 - 0.75*dpBeta
	dpSafety = 0.9
	dpShrink = 0.2
	dpGrow   = 10.0
)

// integrate takes the steps.
func (d *DormandPrince) integrate(f Derivative, y []float64, s *Span, a *Accuracy, out *Outcome) {
	copy(d.start, y)
	d.slope(f, s.From, d.start, d.k[0])
	if !allFinite(d.k[0]) {
		out.Status = NotFinite
		return
	}
	h := d.firstStep(f, s, a)
	previous, rejected := 1e-4, false
	for tries := 0; out.Status == Done; tries++ {
		rest := s.To - out.T
		if rest == 0 {
			return
		}
		last := math.Abs(h) >= math.Abs(rest)*(1-1e-10)
		if last {
			h = rest
		}
		if out.Status = d.mayTry(tries, out.T, h, a); out.Status != Done {
			return
		}
		e := d.try(f, out.T, h, a)
		if !(e <= 1) {
			h *= shrinkBy(e)
			out.Rejected++
			rejected = true
			continue
		}
		grow := dpSafety * math.Pow(math.Max(e, 1e-10), -dpAlpha) * math.Pow(previous, dpBeta)
		grow = math.Min(dpGrow, math.Max(dpShrink, grow))
		if rejected {
			grow = math.Min(1, grow)
		}
		previous, rejected = math.Max(e, 1e-4), false
		d.accept(y, s, h, last, out)
		h = math.Copysign(math.Min(math.Abs(h)*grow, a.Longest), h)
	}
}

// mayTry guards the budget and the resolution of time.
func (d *DormandPrince) mayTry(tries int, t, h float64, a *Accuracy) Status {
	switch {
	case tries >= a.Steps:
		return BudgetSpent
	case math.Abs(h) < 4*Epsilon*math.Abs(t) || h == 0:
		return StepTooSmall
	}
	return Done
}

// shrinkBy is the factor after a rejected step; NaN means the step left the
// domain of the equations.
func shrinkBy(e float64) float64 {
	if !finite(e) {
		return 0.1
	}
	return math.Max(dpShrink, dpSafety*math.Pow(e, -dpAlpha))
}

// slope evaluates and counts.
func (d *DormandPrince) slope(f Derivative, t float64, y, dy []float64) {
	f(t, y, dy)
	d.evaluations++
}

// try takes one step from start into end and returns the error in units of
// the error allowed.
func (d *DormandPrince) try(f Derivative, t, h float64, a *Accuracy) float64 {
	for stage := 1; stage < 7; stage++ {
		to := d.z
		if stage == 6 {
			to = d.end
		}
		for i, y := range d.start {
			sum := 0.0
			for j := 0; j < stage; j++ {
				sum += dpA[stage][j] * d.k[j][i]
			}
			to[i] = y + h*sum
		}
		d.slope(f, t+dpC[stage]*h, to, d.k[stage])
	}
	return d.errorOf(h, a)
}

// errorOf is the root mean square of the error estimate over the components.
func (d *DormandPrince) errorOf(h float64, a *Accuracy) float64 {
	sum := 0.0
	for i, y0 := range d.start {
		e := 0.0
		for j, w := range dpE {
			e += w * d.k[j][i]
		}
		q := h * e / a.sizeOf(i, math.Max(math.Abs(y0), math.Abs(d.end[i])))
		sum += q * q
	}
	if !allFinite(d.k[6]) || !tame(d.end) {
		return math.NaN()
	}
	return math.Sqrt(sum / math.Max(1, float64(len(d.start))))
}

// accept deals with the events and observers of a step and makes its end the
// next start.
func (d *DormandPrince) accept(y []float64, s *Span, h float64, last bool, out *Outcome) {
	t0 := out.T
	end, event := 1.0, -1
	if !d.prepare(h, s) {
		copy(y, d.start)
		out.Status = NotFinite
		return
	}
	end, event = d.scan(s, t0, h)
	out.T = t0 + end*h
	if last && end == 1 {
		out.T = s.To
	}
	copy(y, d.end)
	if event >= 0 {
		d.inside(end, y)
		out.T = d.watch.hits[len(d.watch.hits)-1].T
		out.Status, out.Event = AtEvent, event
	}
	out.Steps++
	if !d.watch.report(s, d, t0, h, end, y) && out.Status == Done {
		out.Status = Stopped
	}
	copy(d.start, d.end)
	d.k[0], d.k[6] = d.k[6], d.k[0]
}

// scan looks for events quarter by quarter.
func (d *DormandPrince) scan(s *Span, t0, h float64) (end float64, event int) {
	if len(s.Events) == 0 {
		return 1, -1
	}
	for q := 0; q < 4; q++ {
		d.part = quarter{d, 0.25 * float64(q)}
		d.part.inside(1, d.z)
		end, event = d.watch.scan(s, &d.part, t0+d.part.from*h, 0.25*h, d.z)
		if event >= 0 {
			return d.part.from + 0.25*end, event
		}
	}
	return 1, -1
}

// quarter is a part of the step, so that crossings closer together are seen.
type quarter struct {
	d    *DormandPrince
	from float64
}

// inside gives the state at the fraction x of the quarter.
func (q *quarter) inside(x float64, y []float64) { q.d.inside(q.from+0.25*x, y) }
