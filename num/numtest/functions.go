package numtest

import "math"

// Zero is a root-finding problem on a bracket.
type Zero struct {
	Name string
	F    func(float64) float64
	A, B float64
	X    float64 // the only root between A and B
}

// Zeros is the list of roots known in closed form or to all digits.
func Zeros() []Zero {
	return []Zero{
		{"square root of 2", func(x float64) float64 { return x*x - 2 }, 0, 2, math.Sqrt2},
		{"x = cos x (recalled: the Dottie number)", func(x float64) float64 { return math.Cos(x) - x }, 0, 1, 0.7390851332151607},
		{"pi from the sine", math.Sin, 3, 4, math.Pi},
		{"steep exponential", func(x float64) float64 { return math.Exp(20*(x-0.3)) - 1 }, -1, 1, 0.3},
		{"flat quintic", func(x float64) float64 { return math.Pow(x-1, 5) }, 0, 3, 1},
		{"almost a step", func(x float64) float64 { return math.Atan(1e6 * (x - 0.123)) }, -4, 2, 0.123},
		{"free-free beam (recalled: βL of the first mode)", func(x float64) float64 { return math.Cos(x)*math.Cosh(x) - 1 }, 4, 5, 4.730040744862704},
		{"root at an end", func(x float64) float64 { return x }, 0, 1, 0},
		{"a millionth", func(x float64) float64 { return 1/x - 1e6 }, 1e-9, 1, 1e-6},
	}
}

// Area is a definite integral with a known value.
type Area struct {
	Name  string
	F     func(float64) float64
	A, B  float64
	Value float64
}

// Areas is the list of integrals known in closed form.
func Areas() []Area {
	return []Area{
		{"polynomial", func(x float64) float64 { return x * x * x * x }, -1, 2, 33. / 5},
		{"exponential", math.Exp, 0, 1, math.E - 1},
		{"root, vertical slope at 0", math.Sqrt, 0, 1, 2. / 3},
		{"narrow peak", func(x float64) float64 { return 1 / (1e-4 + x*x) }, -1, 1, 200 * math.Atan(100)},
		{"kink", func(x float64) float64 { return math.Abs(x - 0.3) }, 0, 1, 0.29},
		{"ten waves", func(x float64) float64 { return math.Sin(x) * math.Sin(x) }, 0, 10 * math.Pi, 5 * math.Pi},
		{"backward", func(x float64) float64 { return x }, 1, 0, -0.5},
		{"logarithm, infinite at 0", func(x float64) float64 { return math.Log(x) }, 0, 1, -1},
	}
}

// Fitting is a nonlinear least-squares problem with a known minimum.
type Fitting struct {
	Name      string
	Source    string
	Residuals func(p, r []float64)
	Count     int
	Starts    [][]float64
	P         []float64 // the minimum; NaN where not known
	RSS       float64   // at the minimum; NaN where not known
	// Digits of P that can be asked for: what the source supports, or half the
	// 12 digits of the default tolerance where the Jacobian is singular at the
	// minimum.
	Digits float64
}

// Fittings is the list of nonlinear least-squares problems.
func Fittings() []Fitting {
	return []Fitting{lanczos1(), lanczos2(), rosenbrock(), powellSingular(), box3D(), freudensteinRoth()}
}

// lanczosX and lanczosF are the abscissas and the sum of three exponentials
// that makes the data of Lanczos 1 and 2.
func lanczosX(i int) float64 { return float64(i) / 20 }

func lanczosF(x float64) float64 {
	return 0.0951*math.Exp(-x) + 0.8607*math.Exp(-3*x) + 1.5576*math.Exp(-5*x)
}

// lanczos makes the residuals for data rounded to the given significant digits.
func lanczos(digits int) func(p, r []float64) {
	data := make([]float64, 24)
	for i := range data {
		data[i] = round(lanczosF(lanczosX(i)), digits)
	}
	return func(p, r []float64) {
		for i, y := range data {
			x := lanczosX(i)
			r[i] = y - p[0]*math.Exp(-p[1]*x) - p[2]*math.Exp(-p[3]*x) - p[4]*math.Exp(-p[5]*x)
		}
	}
}

// round keeps the given number of significant digits.
func round(v float64, digits int) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))+1-float64(digits))
	// Divide by the inverse power: it is exact where the unit is not.
	return math.Round(v/unit) / math.Round(1/unit)
}

// lanczosStarts are the two certified starting points (recalled).
func lanczosStarts() [][]float64 {
	return [][]float64{{1.2, 0.3, 5.6, 5.5, 6.5, 7.6}, {0.5, 0.7, 3.6, 4.2, 4, 6.3}}
}

func lanczos1() Fitting {
	return Fitting{
		Name: "Lanczos1", Source: "G8 (read: NIST StRD; data generated)", Residuals: lanczos(14), Count: 24, Starts: lanczosStarts(),
		P: []float64{9.5100000027e-2, unknown, unknown, unknown, unknown, unknown}, RSS: 0, Digits: 7,
	}
}

func lanczos2() Fitting {
	return Fitting{
		Name: "Lanczos2", Source: "G8 (read: NIST StRD; data generated)", Residuals: lanczos(6), Count: 24, Starts: lanczosStarts(),
		P: []float64{9.6251029939e-2, 1.0057332849, 8.6424689056e-1, unknown, unknown, unknown}, RSS: unknown, Digits: 8,
	}
}

// rosenbrock is the curved valley (Moré, Garbow & Hillstrom, ACM TOMS 7, 1981,
// problem 1; recalled; the minimum is exact).
func rosenbrock() Fitting {
	return Fitting{
		Name: "Rosenbrock", Source: "MGH 1", Count: 2, Starts: [][]float64{{-1.2, 1}, {-12, 10}, {100, -100}},
		Residuals: func(p, r []float64) { r[0], r[1] = 10*(p[1]-p[0]*p[0]), 1-p[0] },
		P:         []float64{1, 1}, Digits: 9,
	}
}

// powellSingular has a Jacobian without full rank at its minimum, the origin
// (MGH 13): convergence is only linear, by half a step each time.
func powellSingular() Fitting {
	return Fitting{
		Name: "Powell singular", Source: "MGH 13", Count: 4, Starts: [][]float64{{3, -1, 0, 1}},
		Residuals: func(p, r []float64) {
			r[0], r[1] = p[0]+10*p[1], math.Sqrt(5)*(p[2]-p[3])
			r[2] = (p[1] - 2*p[2]) * (p[1] - 2*p[2])
			r[3] = math.Sqrt(10) * (p[0] - p[3]) * (p[0] - p[3])
		},
		P: []float64{0, 0, 0, 0}, Digits: 6,
	}
}

// box3D has its minimum at (1, 10, 1) (MGH 12).
func box3D() Fitting {
	return Fitting{
		Name: "Box three-dimensional", Source: "MGH 12", Count: 10, Starts: [][]float64{{0, 10, 20}},
		Residuals: func(p, r []float64) {
			for i := range r {
				t := 0.1 * float64(i+1)
				r[i] = math.Exp(-t*p[0]) - math.Exp(-t*p[1]) - p[2]*(math.Exp(-t)-math.Exp(-10*t))
			}
		},
		P: []float64{1, 10, 1}, Digits: 8,
	}
}

// freudensteinRoth has a local minimum with residuals that do not vanish,
// f = 48.98425… at ((53 − 4√22)/3, (2 − √22)/3) (MGH 2; the place in closed
// form); from this start the fit goes there, not to (5, 4). The Jacobian is
// singular there.
func freudensteinRoth() Fitting {
	return Fitting{
		Name: "Freudenstein and Roth", Source: "MGH 2", Count: 2, Starts: [][]float64{{0.5, -2}},
		Residuals: func(p, r []float64) {
			r[0] = -13 + p[0] + ((5-p[1])*p[1]-2)*p[1]
			r[1] = -29 + p[0] + ((p[1]+1)*p[1]-14)*p[1]
		},
		P: []float64{(53 - 4*math.Sqrt(22)) / 3, (2 - math.Sqrt(22)) / 3}, RSS: 48.98425367924, Digits: 6,
	}
}
