package num_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tautline/num"
	"tautline/num/numtest"
)

// drawMatrix draws a square matrix with elements between −1 and 1.
func drawMatrix(t *rapid.T, n int) num.Matrix {
	m := num.NewMatrix(n, n)
	for i := range m.Data {
		m.Data[i] = rapid.Float64Range(-1, 1).Draw(t, "a")
	}
	return m
}

// gram is BᵀB + c·I.
func gram(b num.Matrix, c float64) num.Matrix {
	n := b.Rows
	a := num.NewMatrix(n, n)
	for i := range n {
		for j := range n {
			s := 0.0
			for k := range n {
				s += b.At(k, i) * b.At(k, j)
			}
			if i == j {
				s += c
			}
			a.Set(i, j, s)
		}
	}
	return a
}

// residual is the largest |A x − b|.
func residual(a num.Matrix, x, b []float64) float64 {
	worst := 0.0
	for i := range b {
		s := -b[i]
		for j, v := range a.Row(i) {
			s += v * x[j]
		}
		worst = math.Max(worst, math.Abs(s))
	}
	return worst
}

// Every solver of positive definite systems returns x with a residual of
// rounding size: n²·ε·|A|·|x| (backward stability; Higham, Theorem 10.4).
func TestSolversLeaveRoundingResiduals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 14).Draw(t, "n")
		a := gram(drawMatrix(t, n), 1e-3)
		b := make([]float64, n)
		for i := range b {
			b[i] = rapid.Float64Range(-1, 1).Draw(t, "b")
		}
		c, l, u := num.NewCholesky(n), num.NewLDL(n), num.NewLU(n)
		negative, status := l.Factor(a)
		if s := c.Factor(a, 0); s != num.Done || status != num.Done || negative != 0 || u.Factor(a) != num.Done {
			t.Fatalf("%v, %v, %d negative", s, status, negative)
		}
		for name, solve := range map[string]func([]float64) num.Status{"Cholesky": c.Solve, "LDL": l.Solve, "LU": u.Solve} {
			x := copyOf(b)
			if s := solve(x); s != num.Done {
				t.Fatal(name, s)
			}
			tol := 4 * float64(n*n) * num.Epsilon * float64(n+1) * math.Max(1, length(x))
			if r := residual(a, x, b); r > tol {
				t.Fatalf("%s: residual %g, tolerance %g", name, r, tol)
			}
		}
	})
}

// The inertia is that of a diagonal matrix after any congruence, and general
// matrices are solved by LU.
func TestIndefiniteMatrices(t *testing.T) {
	a := num.Matrix{Rows: 3, Cols: 3, Data: []float64{2, 1, 0, 1, -3, 1, 0, 1, -1}}
	l, c := num.NewLDL(3), num.NewCholesky(3)
	if negative, status := l.Factor(a); status != num.Done || negative != 2 {
		t.Errorf("inertia: %d negative, %v", negative, status)
	}
	x := []float64{1, 2, 3}
	if l.Solve(x); residual(a, x, []float64{1, 2, 3}) > 1e-14 {
		t.Errorf("LDL: residual %g", residual(a, x, []float64{1, 2, 3}))
	}
	if status := c.Factor(a, 0); status != num.NotPositive {
		t.Errorf("Cholesky: %v", status)
	}
	shift, status := c.FactorShifted(a)
	// The lowest eigenvalue is −3.6 or so; the shift is the next of 3·10^(k−6).
	if status != num.Done || shift < 3.5 || shift > 36 {
		t.Errorf("shift %v, %v", shift, status)
	}
	if s, status := c.FactorShifted(num.Matrix{Rows: 3, Cols: 3, Data: []float64{2, 0, 0, 0, 2, 0, 0, 0, 2}}); s != 0 || status != num.Done || c.Condition() != 1 {
		t.Errorf("a positive definite matrix is shifted by %v", s)
	}
	swapped := num.Matrix{Rows: 2, Cols: 2, Data: []float64{0, 1, 1, 0}}
	u, y := num.NewLU(2), []float64{3, 5}
	if status := u.Factor(swapped); status != num.Done {
		t.Fatal(status)
	}
	if u.Solve(y); y[0] != 5 || y[1] != 3 {
		t.Errorf("a permutation: %v", y)
	}
	if u.Factor(num.Matrix{Rows: 2, Cols: 2, Data: []float64{1, 2, 2, 4}}) != num.Singular {
		t.Error("a singular matrix is factored")
	}
	if c.Factor(swapped, 0) != num.BadInput || u.Solve([]float64{1}) != num.BadInput {
		t.Error("sizes are not checked")
	}
}

// The banded and tridiagonal solvers agree with the dense one.
func TestBandedSolvers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, half := rapid.IntRange(1, 12).Draw(t, "n"), rapid.IntRange(0, 3).Draw(t, "half")
		a, band := num.NewMatrix(n, n), make([]float64, n*(half+1))
		for i := range n {
			for j := max(0, i-half); j <= i; j++ {
				v := rapid.Float64Range(-1, 1).Draw(t, "a")
				if i == j {
					v = 8 + v // dominant, hence positive definite
				}
				a.Set(i, j, v)
				a.Set(j, i, v)
				band[i*(half+1)+half-(i-j)] = v
			}
		}
		b := make([]float64, n)
		for i := range b {
			b[i] = rapid.Float64Range(-1, 1).Draw(t, "b")
		}
		c, x := num.NewBandCholesky(n, half), copyOf(b)
		if s := c.Factor(band); s != num.Done {
			t.Fatal(s)
		}
		if c.Solve(x); residual(a, x, b) > 1e-14 {
			t.Fatalf("band: residual %g", residual(a, x, b))
		}
		if half != 1 {
			return
		}
		sub, diag, super := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			diag[i] = a.At(i, i)
			if i > 0 {
				sub[i], super[i-1] = a.At(i, i-1), a.At(i, i-1)
			}
		}
		tri := num.NewTridiagonal(n)
		if s := tri.Factor(sub, diag, super); s != num.Done {
			t.Fatal(s)
		}
		copy(x, b)
		if tri.Solve(x); residual(a, x, b) > 1e-14 {
			t.Fatalf("tridiagonal: residual %g", residual(a, x, b))
		}
	})
	if num.NewTridiagonal(2).Factor([]float64{0, 1}, []float64{1, 1}, []float64{1, 0}) != num.Singular {
		t.Error("a singular tridiagonal matrix is factored")
	}
	if num.NewBandCholesky(1, 0).Factor([]float64{-1}) != num.NotPositive {
		t.Error("a negative band matrix is factored")
	}
}

// The second difference with fixed ends: λ_j = 4 sin²(jπ/(2(n+1))) in closed
// form, here with a mass of 1/4; errors of a few ε of the largest value.
func TestModesOfAString(t *testing.T) {
	const n = 12
	k, m := num.NewMatrix(n, n), num.NewMatrix(n, n)
	for i := range n {
		k.Set(i, i, 2)
		m.Set(i, i, 0.25)
		if i > 0 {
			k.Set(i, i-1, -1)
		}
	}
	values, vectors, status := num.Modes(k, m)
	if status != num.Done {
		t.Fatal(status)
	}
	for j, v := range values {
		s := math.Sin(float64(j+1) * math.Pi / (2 * (n + 1)))
		if want := 16 * s * s; math.Abs(v-want) > 1e-13 {
			t.Errorf("value %d: %v, want %v", j, v, want)
		}
		mass := 0.0
		for i := range n {
			mass += 0.25 * vectors.At(i, j) * vectors.At(i, j)
		}
		if math.Abs(mass-1) > 1e-13 {
			t.Errorf("mode %d has modal mass %v", j, mass)
		}
	}
	if _, _, status := num.Modes(k, num.NewMatrix(n, n)); status != num.NotPositive {
		t.Errorf("no mass: %v", status)
	}
	if _, _, status := num.Modes(k, num.NewMatrix(2, 2)); status != num.BadInput {
		t.Errorf("sizes: %v", status)
	}
}

// A beam of cubic elements, free at both ends, unit length, mass and
// stiffness: two rigid modes and (βL)⁴ with βL = 4.730040744862704 (recalled;
// the root of cos x cosh x = 1 in the bank). 16 elements err by about
// (βh)⁴/720 relative: 1e-5 for the first bending mode.
func TestModesOfAFreeBeam(t *testing.T) {
	const elements = 16
	const n = 2 * (elements + 1)
	k, m := num.NewMatrix(n, n), num.NewMatrix(n, n)
	h := 1.0 / elements
	ke := [4][4]float64{{12, 6 * h, -12, 6 * h}, {6 * h, 4 * h * h, -6 * h, 2 * h * h}, {-12, -6 * h, 12, -6 * h}, {6 * h, 2 * h * h, -6 * h, 4 * h * h}}
	me := [4][4]float64{{156, 22 * h, 54, -13 * h}, {22 * h, 4 * h * h, 13 * h, -3 * h * h}, {54, 13 * h, 156, -22 * h}, {-13 * h, -3 * h * h, -22 * h, 4 * h * h}}
	for e := range elements {
		for i := range 4 {
			for j := range 4 {
				k.Data[(2*e+i)*n+2*e+j] += ke[i][j] / (h * h * h)
				m.Data[(2*e+i)*n+2*e+j] += me[i][j] * h / 420
			}
		}
	}
	values, _, status := num.Modes(k, m)
	if status != num.Done {
		t.Fatal(status)
	}
	beta := num.FindRoot(numtest.Zeros()[6].F, 4, 5, 0, 0).X
	// ε times the largest eigenvalue is the error of the small ones.
	floor := 10 * num.Epsilon * values[n-1]
	if math.Abs(values[0]) > floor || math.Abs(values[1]) > floor {
		t.Errorf("rigid modes %v, floor %g", values[:2], floor)
	}
	if want := math.Pow(beta, 4); math.Abs(values[2]/want-1) > 1.1e-5 || math.Abs(beta-4.730040744862704) > 1e-14 {
		t.Errorf("first bending mode %v, want %v", values[2], want)
	}
}

// Workspaces do not allocate.
func TestSolversDoNotAllocate(t *testing.T) {
	const n = 13
	a, b := num.NewMatrix(n, n), make([]float64, n)
	for i := range n {
		a.Set(i, i, 2)
		if i > 0 {
			a.Set(i, i-1, -1)
		}
	}
	c, q, tri := num.NewCholesky(n), num.NewQR(n, n), num.NewTridiagonal(n)
	x := make([]float64, n)
	if k := testing.AllocsPerRun(10, func() {
		c.Factor(a, 0)
		c.Solve(b)
		q.Factor(a)
		q.Solve(b, x)
		tri.Factor(b, a.Row(0), b)
		tri.Solve(x)
	}); k != 0 {
		t.Errorf("%v allocations", k)
	}
}

func BenchmarkCholesky13(b *testing.B) {
	const n = 13
	a, x := num.NewMatrix(n, n), make([]float64, n)
	for i := range n {
		a.Set(i, i, 2)
		if i > 0 {
			a.Set(i, i-1, -1)
		}
	}
	c := num.NewCholesky(n)
	b.ReportAllocs()
	for b.Loop() {
		c.Factor(a, 0)
		c.Solve(x)
	}
}

func BenchmarkTridiagonal12(b *testing.B) {
	const n = 12
	sub, diag, x := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		sub[i], diag[i] = -1, 2.5
	}
	t := num.NewTridiagonal(n)
	b.ReportAllocs()
	for b.Loop() {
		t.Factor(sub, diag, sub)
		t.Solve(x)
	}
}

func BenchmarkModes34(b *testing.B) {
	const n = 34
	k, m := num.NewMatrix(n, n), num.NewMatrix(n, n)
	for i := range n {
		k.Set(i, i, 2)
		m.Set(i, i, 1)
		if i > 0 {
			k.Set(i, i-1, -1)
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		num.Modes(k, m)
	}
}
