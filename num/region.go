package num

import "math"

// descend tries steps in a shrinking trust region until one is accepted. Done
// means converged, whether the last step was accepted or not.
func (l *lm) descend() (status Status, accepted bool) {
	if l.fit.Iterations == 0 {
		l.radius = 100 * l.scaledNorm(l.fit.P)
		if l.radius == 0 {
			l.radius = 100
		}
	}
	for {
		if l.fit.Evaluations >= l.control.Evaluations {
			return BudgetSpent, false
		}
		length := l.confine()
		predicted := l.predicted(length) / l.fit.RSS
		if !finite(predicted) || !(predicted > 0) {
			// No descent is left that rounding does not hide.
			return Done, false
		}
		rss := l.evaluate(l.trial, l.res)
		actual := 1 - rss/l.fit.RSS
		gain := actual / predicted
		if l.fit.Iterations == 0 {
			l.radius = math.Min(l.radius, length)
		}
		l.resize(gain, actual, predicted, length)
		if accepted = gain >= 1e-4; accepted {
			copy(l.fit.P, l.trial)
			copy(l.fit.Residual, l.res)
			l.fit.RSS = rss
		}
		if l.converged(actual, predicted, gain) {
			return Done, accepted
		}
		if accepted {
			return NotRun, true
		}
	}
}

// resize adapts the trust region to the gain of a step.
func (l *lm) resize(gain, actual, predicted, length float64) {
	if !(gain > 0.25) {
		shrink := 0.5
		if actual < 0 {
			// The slope along the step, from the parts of the prediction.
			slope := -(predicted - l.lambda*length*length/l.fit.RSS)
			shrink = 0.5 * slope / (slope + 0.5*math.Max(actual, -100))
		}
		shrink = math.Max(shrink, 0.1)
		l.radius = shrink * math.Min(l.radius, length/0.1)
		l.lambda /= shrink
		return
	}
	if l.lambda == 0 || gain >= 0.75 {
		l.radius = 2 * length
		l.lambda *= 0.5
	}
}

// converged applies the two tests of FitControl.Tolerance.
func (l *lm) converged(actual, predicted, gain float64) bool {
	tol := l.control.Tolerance
	if math.Abs(actual) <= tol && predicted <= tol && gain <= 2 {
		return true
	}
	// Below the resolution of the parameters nothing can be gained.
	return l.radius <= math.Max(tol, Epsilon)*l.scaledNorm(l.fit.P)
}

// scaledNorm is |D v|.
func (l *lm) scaledNorm(v []float64) float64 {
	sum := 0.0
	for j, x := range v {
		sum += (l.d[j] * x) * (l.d[j] * x)
	}
	return math.Sqrt(sum)
}

// confine finds the damping λ whose step has the length of the trust region
// to within a tenth (zero if the undamped step fits), sets the trial
// parameters and returns the step's length. Newton's method on 1/length,
// safeguarded by a bracket (Moré 1978, section 5).
func (l *lm) confine() float64 {
	guess := l.lambda
	l.lambda = 0
	length := l.solve()
	excess := length - l.radius
	if excess <= 0.1*l.radius {
		return l.propose(length)
	}
	low, high := 0.0, l.steepest()/l.radius
	if l.damped.rank == l.n {
		low = l.newton(excess, length)
	}
	if high == 0 {
		high = math.SmallestNonzeroFloat64 / math.Min(l.radius, 0.1)
	}
	l.lambda = math.Min(math.Max(guess, low), high)
	if l.lambda == 0 {
		l.lambda = math.Max(1e-3*high, math.Sqrt(low*high))
	}
	for range 10 {
		before := excess
		length = l.solve()
		excess = length - l.radius
		if math.Abs(excess) <= 0.1*l.radius || low == 0 && excess <= before && before < 0 {
			break
		}
		correction := l.newton(excess, length)
		if excess > 0 {
			low = math.Max(low, l.lambda)
		} else {
			high = math.Min(high, l.lambda)
		}
		l.lambda = math.Max(low, l.lambda+correction)
	}
	return l.propose(length)
}

// solve computes the step for the present damping and returns its length.
func (l *lm) solve() float64 {
	root := math.Sqrt(l.lambda)
	for j := range l.n {
		row := l.stack.Row(l.n + j)
		for k := range row {
			row[k] = 0
		}
		row[j] = root * l.d[j]
	}
	l.damped.Factor(l.stack)
	copy(l.rhs, l.target)
	l.damped.Solve(l.rhs[:2*l.n], l.step)
	return l.scaledNorm(l.step)
}

// newton is the correction of λ that the slope of the length suggests.
func (l *lm) newton(excess, length float64) float64 {
	for j, s := range l.step {
		l.slope[j] = l.d[j] * l.d[j] * s / length
	}
	z := l.rhs[:l.n]
	for k, j := range l.damped.perm {
		z[k] = l.slope[j] / l.damped.scale[j]
	}
	l.damped.forward(z)
	size := norm(z)
	return excess / l.radius / size / size
}

// steepest is |D⁻¹Jᵀr|, the upper limit of λ times the radius.
func (l *lm) steepest() float64 {
	sum := 0.0
	for j := range l.n {
		g := 0.0
		for i := range l.n {
			g += l.stack.At(i, j) * l.target[i]
		}
		sum += (g / l.d[j]) * (g / l.d[j])
	}
	return math.Sqrt(sum)
}

// propose sets the trial parameters.
func (l *lm) propose(length float64) float64 {
	for j, s := range l.step {
		l.trial[j] = l.fit.P[j] + s
	}
	return length
}

// predicted is |r|² − |r + J s|² = |J s|² + 2λ|D s|², which does not suffer
// from cancellation.
func (l *lm) predicted(length float64) float64 {
	sum := 2 * l.lambda * length * length
	for i := range l.n {
		v := dot(l.stack.Row(i), l.step)
		sum += v * v
	}
	return sum
}
