package num_test

import (
	"math"
	"testing"

	"tautline/num"
	"tautline/num/numtest"
)

// Integrals to the tolerance asked, with an honest error estimate and counted
// evaluations: a smooth integrand takes one or a few applications of the
// 15-point rule, a singular one bisects toward the singularity, each halving
// 30 evaluations.
func TestIntegralsOfTheBank(t *testing.T) {
	for _, p := range numtest.Areas() {
		for _, tol := range []float64{1e-4, 1e-8, 1e-11} {
			r := num.Integrate(p.F, p.A, p.B, tol, 0)
			off := math.Abs(r.Value - p.Value)
			// The peak's value is 312: its last digits allow no absolute 1e-11.
			floor := 1e-13 * math.Abs(p.Value)
			if r.Status == num.BudgetSpent && p.Name == "narrow peak" && tol == 1e-11 {
				continue
			}
			if r.Status != num.Done || off > tol+floor || off > r.Error+floor || r.Evaluations > 1200 {
				t.Errorf("%s at %g: %+v, off by %.2g", p.Name, tol, r, off)
			}
		}
	}
	smooth := num.Integrate(math.Exp, 0, 1, 1e-12, 0)
	if smooth.Evaluations != 15 {
		t.Errorf("exp takes %d evaluations, 15 suffice", smooth.Evaluations)
	}
	if r := num.Integrate(func(x float64) float64 { return 1 / x }, 0, 1, 1e-9, 0); r.Status == num.Done {
		t.Errorf("a divergent integral is called done: %+v", r)
	}
	if r := num.Integrate(func(float64) float64 { return math.NaN() }, 0, 1, 1e-9, 0); r.Status != num.NotFinite || r.Value != 0 {
		t.Errorf("NaN: %+v", r)
	}
}

// The n-point rule is exact for degree 2n − 1 and not for 2n.
func TestGaussLegendreIsExact(t *testing.T) {
	for n := 1; n <= 40; n++ {
		x, w := num.GaussLegendre(n)
		sum := func(degree int) float64 {
			s := 0.0
			for i := range x {
				s += w[i] * math.Pow(x[i], float64(degree))
			}
			return s
		}
		for degree := 0; degree < 2*n; degree++ {
			want := 0.0
			if degree%2 == 0 {
				want = 2 / float64(degree+1)
			}
			if math.Abs(sum(degree)-want) > 2e-14 { // n roundings of weights of size 2/n
				t.Errorf("%d points, degree %d: %v, want %v", n, degree, sum(degree), want)
			}
		}
		if n <= 10 && math.Abs(sum(2*n)-2/float64(2*n+1)) < 1e-8 {
			t.Errorf("%d points are exact for degree %d", n, 2*n)
		}
	}
	if x, w := num.GaussLegendre(-3); len(x) != 0 || len(w) != 0 {
		t.Error("negative count gives points")
	}
}

// Simpson's rule and the 3/8 rule are exact for cubics, for any number of
// samples from three on; of fourth order for the sine.
func TestSimpson(t *testing.T) {
	for n := 3; n <= 12; n++ {
		y := make([]float64, n)
		h := 2 / float64(n-1)
		for i := range y {
			x := -1 + h*float64(i)
			y[i] = 1 + x + x*x - 3*x*x*x
		}
		if got := num.Simpson(y, h); math.Abs(got-(2+2./3)) > 1e-14 {
			t.Errorf("%d samples: %v", n, got)
		}
	}
	errors := make([]float64, 2)
	for k, n := range []int{20, 40} {
		y := make([]float64, n+1)
		for i := range y {
			y[i] = math.Sin(math.Pi * float64(i) / float64(n))
		}
		errors[k] = math.Abs(num.Simpson(y, math.Pi/float64(n)) - 2)
	}
	if order := math.Log2(errors[0] / errors[1]); math.Abs(order-4) > 0.1 {
		t.Errorf("order %v", order)
	}
	if num.Simpson(nil, 1) != 0 || num.Simpson([]float64{3}, 1) != 0 || num.Simpson([]float64{1, 3}, 0.5) != 1 {
		t.Error("few samples")
	}
}

func BenchmarkIntegrate(b *testing.B) {
	p := numtest.Areas()[3]
	b.ReportAllocs()
	for b.Loop() {
		num.Integrate(p.F, p.A, p.B, 1e-8, 0)
	}
}
