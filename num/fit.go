package num

import "math"

// FitProblem is a nonlinear least-squares problem: find p that minimises the
// sum of squares of the residuals.
type FitProblem struct {
	// Residuals fills r (length Count) from the parameters p; it must not keep
	// or change p. Residuals in units of their standard deviations make the
	// covariance of the fit that of the parameters. NaN means that p is outside
	// the model's domain; the fit goes around it.
	Residuals func(p, r []float64)
	Count     int
	// Jacobian, if given, fills j (Count by len(p)) with ∂r/∂p; else central
	// differences are used.
	Jacobian func(p []float64, j Matrix)
	// Differences sets the steps of the differences.
	Differences Differences
}

// FitControl limits a fit. The zero value is good for most.
type FitControl struct {
	// Tolerance: the fit is done when a step promises and brings a relative
	// decrease of the sum of squares below it, or changes the parameters
	// relatively by less than it. Default 1e-12.
	Tolerance float64
	// Evaluations of the residuals allowed, those for differences included.
	// Default 200·(n+1).
	Evaluations int
	// Continue is called after each accepted step with the sum of squares;
	// false stops the fit with the best parameters so far.
	Continue func(iteration int, p []float64, rss float64) bool
}

// Fit is the answer of LevenbergMarquardt.
type Fit struct {
	Status      Status
	P           []float64 // the best parameters found
	Residual    []float64 // at P
	RSS         float64   // sum of squares at P
	Covariance  Matrix    // (JᵀJ)⁻¹ at P: of the parameters, if residuals are in standard deviations
	StdErr      []float64 // √diagonal × residual standard deviation, for residuals of unknown scale
	Condition   float64   // of J with columns scaled to length one
	Rank        int       // parameters the data determine, given the accuracy of the Jacobian
	Weakest     []float64 // the change of P that the data see least
	Freedom     int       // Count − Rank
	Gradient    float64   // largest cosine between the residuals and a column of J: 0 at a minimum
	Iterations  int       // accepted steps
	Evaluations int       // of the residuals, those for differences included
	Jacobians   int
}

// ResidualSD is √(RSS/Freedom): near one if residuals are in standard
// deviations and the model is right; 0 without freedom left.
func (f *Fit) ResidualSD() float64 {
	if f.Freedom <= 0 {
		return 0
	}
	return math.Sqrt(f.RSS / float64(f.Freedom))
}

// LevenbergMarquardt fits from the start p0: Gauss–Newton steps confined to a
// trust region that is scaled by the columns of the Jacobian (Moré, The
// Levenberg–Marquardt algorithm: implementation and theory, Lecture Notes in
// Mathematics 630, 1978, the method of MINPACK). Parameters are unbounded: map
// a bounded one (logarithm) before. Dependent parameters do not harm the fit
// but give Rank < len(p) and status Singular.
func LevenbergMarquardt(problem FitProblem, p0 []float64, control FitControl) Fit {
	l := newLM(problem, p0, control)
	if l == nil {
		return Fit{Status: BadInput, P: append([]float64(nil), p0...)}
	}
	l.fit.Status = l.run()
	l.finish()
	return l.fit
}

// lm is the workspace of one fit.
type lm struct {
	problem FitProblem
	control FitControl
	fit     Fit
	m, n    int
	jac     Matrix
	full    *QR       // of the Jacobian
	damped  *QR       // of R over √λ·D
	stack   Matrix    // R over √λ·D
	target  []float64 // −Qᵀr, padded with zeros
	rhs     []float64 // scratch
	step    []float64
	trial   []float64
	res     []float64 // at trial
	d       []float64 // scale of each parameter: the largest column length seen
	slope   []float64 // D(D·step)/|D·step|
	lambda  float64
	radius  float64 // of the trust region, in the norm of D
	first   float64 // sum of squares at the start
	scratch []float64
}

// newLM checks the input and allocates; nil for bad input.
func newLM(problem FitProblem, p0 []float64, control FitControl) *lm {
	m, n := problem.Count, len(p0)
	if problem.Residuals == nil || m < 1 || n < 1 || m < n || !allFinite(p0) || !problem.Differences.valid(n) {
		return nil
	}
	if !(control.Tolerance > 0) {
		control.Tolerance = 1e-12
	}
	if control.Evaluations <= 0 {
		control.Evaluations = 200 * (n + 1)
	}
	l := &lm{problem: problem, control: control, m: m, n: n, jac: NewMatrix(m, n), full: NewQR(m, n), damped: NewQR(2*n, n), stack: NewMatrix(2*n, n)}
	for _, v := range []*[]float64{&l.step, &l.trial, &l.d, &l.slope} {
		*v = make([]float64, n)
	}
	l.target, l.rhs = make([]float64, 2*n), make([]float64, max(m, 2*n))
	l.res, l.scratch = make([]float64, m), make([]float64, 2*m)
	l.fit = Fit{P: append([]float64(nil), p0...), Residual: make([]float64, m)}
	return l
}

// evaluate fills r at p and returns the sum of squares; infinite outside the
// domain.
func (l *lm) evaluate(p, r []float64) float64 {
	l.problem.Residuals(p, r)
	l.fit.Evaluations++
	if sum := sumSquares(r); finite(sum) {
		return sum
	}
	return math.Inf(1)
}

// run iterates until a status is reached.
func (l *lm) run() Status {
	l.fit.RSS = l.evaluate(l.fit.P, l.fit.Residual)
	l.first = l.fit.RSS
	if !finite(l.fit.RSS) {
		return NotFinite
	}
	for {
		if status := l.linearise(); status != Done {
			return status
		}
		if l.vanished() || l.fit.Gradient < Epsilon {
			return Done
		}
		status, accepted := l.descend()
		if !accepted {
			return status
		}
		l.fit.Iterations++
		if c := l.control.Continue; c != nil && !c(l.fit.Iterations, l.fit.P, l.fit.RSS) {
			l.linearise()
			return Stopped
		}
		if status == Done {
			return l.linearise()
		}
	}
}

// vanished reports residuals that have shrunk by a factor of 1e16: what is
// left of them is rounding.
func (l *lm) vanished() bool { return l.fit.RSS <= 1e-32*l.first }

// linearise computes the Jacobian, its factors, the scales and the gradient's
// cosine at P.
func (l *lm) linearise() Status {
	if status := l.jacobian(); status != Done {
		return status
	}
	l.fit.Jacobians++
	l.fit.Gradient = 0
	length := norm(l.fit.Residual)
	for j := range l.n {
		column := columnNorm(l.jac, j)
		l.d[j] = math.Max(l.d[j], column)
		if l.d[j] == 0 {
			l.d[j] = 1
		}
		sum := 0.0
		for i, r := range l.fit.Residual {
			sum += r * l.jac.At(i, j)
		}
		if column > 0 && length > 0 {
			if cosine := math.Abs(sum) / column / length; finite(cosine) {
				l.fit.Gradient = math.Max(l.fit.Gradient, cosine)
			}
		}
	}
	l.reduce()
	return Done
}

// jacobian fills jac.
func (l *lm) jacobian() Status {
	status := Done
	if l.problem.Jacobian != nil {
		l.problem.Jacobian(l.fit.P, l.jac)
	} else {
		var used int
		used, status = Jacobian(l.problem.Residuals, l.fit.P, l.problem.Differences, l.jac, l.scratch)
		l.fit.Evaluations += used
	}
	if status == Done && !allFinite(l.jac.Data) {
		return NotFinite
	}
	return status
}

// reduce replaces the m equations J s = −r by the n equations R s = −Qᵀr,
// which give the same steps for every damping.
func (l *lm) reduce() {
	l.full.Factor(l.jac)
	for i, r := range l.fit.Residual {
		l.rhs[i] = -r
	}
	l.full.applyQT(l.rhs[:l.m])
	copy(l.target[:l.n], l.rhs)
	for i := range l.n {
		row := l.stack.Row(i)
		for k, j := range l.full.perm {
			row[j] = 0
			if k >= i {
				row[j] = l.full.r(i, k) * l.full.scale[j]
			}
		}
	}
}

// jacobianNoise is the relative error of the Jacobian's columns: Noise^(2/3)
// for differences, with a margin of ten.
func (l *lm) jacobianNoise() float64 {
	if l.problem.Jacobian != nil {
		return float64(l.m) * Epsilon
	}
	noise := math.Cbrt(math.Max(l.problem.Differences.Noise, Epsilon))
	return 10 * noise * noise
}

// finish computes the covariance and what else the last Jacobian tells.
func (l *lm) finish() {
	f, q := &l.fit, l.full
	f.Covariance, f.StdErr = NewMatrix(l.n, l.n), make([]float64, l.n)
	f.Freedom = l.m - l.n
	if f.Jacobians == 0 {
		f.Condition = math.Inf(1)
		return
	}
	q.factor(l.jac, l.jacobianNoise())
	f.Rank, f.Freedom = q.rank, l.m-q.rank
	q.InverseNormal(f.Covariance)
	f.Condition, f.Weakest = q.Condition()
	sd := f.ResidualSD()
	for j := range f.StdErr {
		f.StdErr[j] = sd * math.Sqrt(f.Covariance.At(j, j))
	}
	switch {
	case f.Status != Done:
	case f.Rank < l.n:
		f.Status = Singular
	case !allFinite(f.Covariance.Data) || !allFinite(f.StdErr):
		f.Status = NotFinite
	}
}
