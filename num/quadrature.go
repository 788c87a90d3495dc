package num

import "math"

// Integral is the answer of Integrate.
type Integral struct {
	Status      Status
	Value       float64
	Error       float64 // estimate, usually far above the true error
	Evaluations int
}

// Nodes and weights of the 7-point Gauss and 15-point Kronrod rules on
// [−1, 1], from the centre outward (Kronrod 1965; values as in QUADPACK).
var (
	kronrodX = [8]float64{
		0, 0.207784955007898467600689403773245, 0.405845151377397166906606412076961,
		0.586087235467691130294144691693841, 0.741531185599394439863864773280788,
		0.864864423359769072789712788640926, 0.949107912342758524526189684047851,
		0.991455371120812639206854697526329,
	}
	kronrodW = [8]float64{
		0.209482141084727828012999174891714, 0.204432940075298892414161999234649,
		0.190350578064785409913256402421014, 0.169004726639267902826583426598550,
		0.140653259715525918745189590510238, 0.104790010322250183839876322541518,
		0.063092092629978553290700663189204, 0.022935322010529224963732008058970,
	}
	gaussW = [4]float64{
		0.417959183673469387755102040816327, 0.381830050505118944950369775488975,
		0.279705391489276667901467771423780, 0.129484966168869693270611432679082,
	}
)

// maxPieces bounds the subdivision of Integrate.
const maxPieces = 200

// Integrate computes the integral of f from a to b until the estimated error
// is below absolute + relative·|value|: adaptive Gauss–Kronrod 7/15 bisecting
// the worst piece. BudgetSpent returns the best value with its estimate. It
// allocates one small block.
func Integrate(f func(float64) float64, a, b, absolute, relative float64) Integral {
	if f == nil || !finite(b-a) || !(absolute >= 0) || !(relative >= 0) {
		return Integral{Status: BadInput}
	}
	pieces := make([]piece, 1, 16)
	pieces[0] = kronrod(f, a, b)
	for {
		sum := Integral{Status: Done, Evaluations: 15 * (2*len(pieces) - 1)}
		worst := 0
		for i, p := range pieces {
			sum.Value += p.value
			sum.Error += p.err
			if p.err > pieces[worst].err {
				worst = i
			}
		}
		w := pieces[worst]
		mid := 0.5 * (w.a + w.b)
		switch {
		case !finite(sum.Value) || !finite(sum.Error):
			return Integral{Status: NotFinite, Evaluations: sum.Evaluations}
		case sum.Error <= absolute+relative*math.Abs(sum.Value):
			return sum
		case len(pieces) == maxPieces || mid == w.a || mid == w.b:
			sum.Status = BudgetSpent
			return sum
		}
		pieces[worst] = kronrod(f, w.a, mid)
		pieces = append(pieces, kronrod(f, mid, w.b))
	}
}

// piece is one interval of Integrate.
type piece struct{ a, b, value, err float64 }

// kronrod applies both rules to one interval; their difference estimates the
// error, sharpened as in QUADPACK.
func kronrod(f func(float64) float64, a, b float64) piece {
	mid, half := 0.5*(a+b), 0.5*(b-a)
	centre := f(mid)
	fine, coarse := kronrodW[0]*centre, gaussW[0]*centre
	size := kronrodW[0] * math.Abs(centre)
	var values [15]float64
	for i := 1; i < 8; i++ {
		left, right := f(mid-half*kronrodX[i]), f(mid+half*kronrodX[i])
		values[2*i-1], values[2*i] = left, right
		fine += kronrodW[i] * (left + right)
		size += kronrodW[i] * (math.Abs(left) + math.Abs(right))
		if i%2 == 0 {
			coarse += gaussW[i/2] * (left + right)
		}
	}
	values[0] = centre
	spread := spreadAbout(0.5*fine, &values)
	err := math.Abs(fine - coarse)
	if spread > 0 && err > 0 {
		err = spread * math.Min(1, math.Pow(200*err/spread, 1.5))
	}
	err = math.Max(err, 50*Epsilon*size)
	return piece{a, b, half * fine, math.Abs(half) * err}
}

// spreadAbout is the Kronrod integral of |f − mean| on [−1, 1].
func spreadAbout(mean float64, values *[15]float64) float64 {
	sum := kronrodW[0] * math.Abs(values[0]-mean)
	for i := 1; i < 8; i++ {
		sum += kronrodW[i] * (math.Abs(values[2*i-1]-mean) + math.Abs(values[2*i]-mean))
	}
	return sum
}

// GaussLegendre returns the nodes on [−1, 1], increasing, and the weights of
// the n-point rule, exact for polynomials of degree 2n − 1: Newton's method
// on the Legendre polynomial. n < 1 gives none.
func GaussLegendre(n int) (x, w []float64) {
	n = max(n, 0)
	x, w = make([]float64, n), make([]float64, n)
	for i := range (n + 1) / 2 {
		z := math.Cos(math.Pi * (float64(i) + 0.75) / (float64(n) + 0.5))
		slope := 0.0
		for range 20 {
			var p float64
			p, slope = legendre(n, z)
			step := p / slope
			z -= step
			if math.Abs(step) < Epsilon {
				break
			}
		}
		if 2*i+1 == n {
			z = 0
		}
		_, slope = legendre(n, z)
		x[i], x[n-1-i] = -z, z
		w[i] = 2 / ((1 - z*z) * slope * slope)
		w[n-1-i] = w[i]
	}
	return x, w
}

// legendre evaluates the Legendre polynomial of degree n and its slope.
func legendre(n int, z float64) (p, slope float64) {
	p, before := 1.0, 0.0
	for k := 1; k <= n; k++ {
		p, before = ((2*float64(k)-1)*z*p-(float64(k)-1)*before)/float64(k), p
	}
	return p, float64(n) * (z*p - before) / (z*z - 1)
}

// Simpson integrates equally spaced samples with spacing h by Simpson's rule;
// with an odd number of intervals the last three use the 3/8 rule. Fewer than
// two samples give 0.
func Simpson(y []float64, h float64) float64 {
	n := len(y) - 1
	switch {
	case n < 1:
		return 0
	case n == 1:
		return 0.5 * h * (y[0] + y[1])
	}
	sum := 0.0
	if n%2 == 1 {
		sum = 3. / 8 * (y[n-3] + 3*(y[n-2]+y[n-1]) + y[n])
		n -= 3
	}
	for i := 0; i+2 <= n; i += 2 {
		sum += (y[i] + 4*y[i+1] + y[i+2]) / 3
	}
	return h * sum
}
