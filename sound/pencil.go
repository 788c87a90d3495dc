package sound

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// The matrix pencil of Hua and Sarkar (IEEE Trans. ASSP 38(5), 1990): a sum
// of damped exponentials, sampled, fills a Hankel matrix whose rows span the
// vectors (1, z, z², …) of its poles z. The span is taken from the largest
// singular values; dropping its last and its first row gives two matrices
// that differ by the poles.

// hankelBasis returns the right singular vectors of the Hankel matrix of y,
// (pencil+1) columns wide, as columns in falling order of singular value.
func hankelBasis(y []float64, pencil int) (*mat.Dense, []float64, error) {
	rows := len(y) - pencil
	if pencil < 2 || rows < 2 {
		return nil, nil, fmt.Errorf("sound: %d samples are too few for a pencil of %d", len(y), pencil)
	}
	h := mat.NewDense(rows, pencil+1, nil)
	for i := range rows {
		h.SetRow(i, y[i:i+pencil+1])
	}
	return rightVectors(h)
}

func rightVectors(h *mat.Dense) (*mat.Dense, []float64, error) {
	var svd mat.SVD
	if !svd.Factorize(h, mat.SVDThinV) {
		return nil, nil, fmt.Errorf("sound: the singular values did not converge")
	}
	var v mat.Dense
	svd.VTo(&v)
	return &v, svd.Values(nil), nil
}

// shiftPoles returns the eigenvalues of the shift that leads from the rows
// upper to the rows lower of the first order columns of v.
func shiftPoles(v *mat.Dense, order int, upper, lower []int) ([]complex128, error) {
	_, columns := v.Dims()
	order = min(order, columns)
	a, b := mat.NewDense(len(upper), order, nil), mat.NewDense(len(lower), order, nil)
	for i := range upper {
		for k := range order {
			a.Set(i, k, v.At(upper[i], k))
			b.Set(i, k, v.At(lower[i], k))
		}
	}
	var shift mat.Dense
	if err := shift.Solve(a, b); err != nil {
		return nil, err
	}
	var eigen mat.Eigen
	if !eigen.Factorize(&shift, mat.EigenNone) {
		return nil, fmt.Errorf("sound: the poles did not converge")
	}
	return eigen.Values(nil), nil
}

func span(from, to int) []int {
	s := make([]int, 0, to-from)
	for i := from; i < to; i++ {
		s = append(s, i)
	}
	return s
}

// RealPoles returns the poles z of a real signal made of damped vibrations:
// y(n) = Σ a_k z_k^n + noise. order counts each vibration twice, as a pair of
// conjugate poles. pencil is the width of the matrix less one, between order
// and len(y)−order; a third to a half of len(y) is least sensitive to noise.
func RealPoles(y []float64, order, pencil int) ([]complex128, error) {
	if err := pencilFits(len(y), order, pencil); err != nil {
		return nil, err
	}
	for n, x := range y {
		if !(math.Abs(x) <= absurd) { // the singular values of such a matrix may never be found
			return nil, &FileError{Code: CodeSamples, Field: "samples", Reason: fmt.Sprintf("the value at sample %d is %g, far beyond full scale", n, x), Hint: "record again"}
		}
	}
	v, _, err := hankelBasis(y, pencil)
	if err != nil {
		return nil, err
	}
	return shiftPoles(v, order, span(0, pencil), span(1, pencil+1))
}

func pencilFits(n, order, pencil int) error {
	if order < 1 || pencil < order || pencil > n-order {
		return &FileError{
			Code: CodeConfig, Field: "pencil",
			Reason: fmt.Sprintf("a pencil of %d does not suit %d samples and %d poles", pencil, n, order),
			Hint:   "take a third of the samples",
		}
	}
	return nil
}

// ComplexPoles is [RealPoles] for a complex signal; order counts every pole
// once.
func ComplexPoles(y []complex128, order, pencil int) ([]complex128, error) {
	if err := pencilFits(len(y), order, pencil); err != nil {
		return nil, err
	}
	// the complex matrix as a real one of twice the size; its span holds
	// every vector twice, its shift has every pole and its conjugate
	rows, w := len(y)-pencil, pencil+1
	h := mat.NewDense(2*rows, 2*w, nil)
	for i := range rows {
		for k := range w {
			re, im := real(y[i+k]), imag(y[i+k])
			h.Set(i, k, re)
			h.Set(i, w+k, -im)
			h.Set(rows+i, k, im)
			h.Set(rows+i, w+k, re)
		}
	}
	v, _, err := rightVectors(h)
	if err != nil {
		return nil, err
	}
	both, err := shiftPoles(v, 2*order, append(span(0, pencil), span(w, w+pencil)...), append(span(1, w), span(w+1, 2*w)...))
	if err != nil {
		return nil, err
	}
	return choosePoles(y, both, order), nil
}

// choosePoles keeps, of conjugate pairs, the ones that the signal contains.
func choosePoles(y []complex128, both []complex128, order int) []complex128 {
	var chosen []complex128
	used := make([]bool, len(both))
	for i, z := range both {
		if used[i] || len(chosen) == order {
			continue
		}
		used[i] = true
		if j := conjugateOf(both, used, z); j >= 0 {
			used[j] = true
		}
		if matched(y, cmplx.Conj(z)) > matched(y, z) {
			z = cmplx.Conj(z)
		}
		chosen = append(chosen, z)
	}
	return chosen
}

// conjugateOf finds the unused value nearest to the conjugate of z.
func conjugateOf(values []complex128, used []bool, z complex128) int {
	best, at := math.Inf(1), -1
	for j, u := range values {
		if d := cmplx.Abs(u - cmplx.Conj(z)); !used[j] && d < best {
			best, at = d, j
		}
	}
	return at
}

// matched is the energy of y along (1, z, z², …).
func matched(y []complex128, z complex128) float64 {
	var dot complex128
	norm, p := 0.0, complex(1, 0)
	for _, v := range y {
		dot += v * cmplx.Conj(p)
		norm += real(p)*real(p) + imag(p)*imag(p)
		p *= z
	}
	return (real(dot)*real(dot) + imag(dot)*imag(dot)) / norm
}
