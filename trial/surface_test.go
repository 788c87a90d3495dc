package trial

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// G7 (computed; data: Myers & Montgomery, as used by Lenth 2009, read): the
// ChemReact surface, to the digits given.
func TestChemReact(t *testing.T) {
	var list []Run
	for _, r := range referenceTable(t, "chemreact.csv") {
		list = append(list, Run{X: []float64{(r["time"] - 85) / 5, (r["temp"] - 175) / 5}, Block: int(r["block"]), Y: r["yield"]})
	}
	s, err := FitSurface(list, SecondOrder, Confidence)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][2]float64{
		"1": {84.095427, 0.079631}, "block 2": {-4.457530, 0.087226}, "x1": {0.932541, 0.057699}, "x2": {0.577712, 0.057699},
		"x1 x2": {0.125, 0.081592}, "x1²": {-1.308555, 0.060064}, "x2²": {-0.933442, 0.060064},
	} {
		found := false
		for _, term := range s.Terms {
			if term.Name == name {
				found = true
				if !near(term.Coef.Value, want[0], 5.1e-7) || !near(term.SE, want[1], 5.1e-7) {
					t.Errorf("%s: %.7f (%.7f), want %v", name, term.Coef.Value, term.SE, want)
				}
			}
		}
		if !found {
			t.Errorf("no term %s", name)
		}
	}
	for name, c := range map[string][3]float64{
		"RSE": {s.RSE, 0.1631846, 5.1e-8}, "R²": {s.R2, 0.9980822, 5.1e-8}, "x1": {s.Stationary[0], 0.3722954, 5.1e-8}, "x2": {s.Stationary[1], 0.3343802, 5.1e-8},
		"λ1": {s.Eigen[0], -0.9233027, 5.1e-8}, "λ2": {s.Eigen[1], -1.3186949, 5.1e-8}, "fitted": {s.Fitted, 84.36561, 5.1e-6},
		"time": {85 + 5*s.Stationary[0], 86.86148, 5.1e-6}, "temp": {175 + 5*s.Stationary[1], 176.67190, 5.1e-6},
		"F": {distuv.F{D1: 2, D2: 7}.Quantile(0.95), 4.7374, 5.1e-5},
	} {
		if !near(c[0], c[1], c[2]) {
			t.Errorf("%s: %.8f, want %.7f", name, c[0], c[1])
		}
	}
	if s.DF != 7 || s.Kind != "maximum" || !s.Inside {
		t.Errorf("df %d, %s, inside %v", s.DF, s.Kind, s.Inside)
	}
	// Box–Hunter region: x1 0.30–0.46, x2 0.22–0.48, area 0.038. The ends given
	// are the outermost points of a 0.02 grid inside it: ours, drawn in to that
	// grid, must be the same. Area to the digits given.
	r, err := s.Region(401)
	in := func(x float64, up bool) float64 {
		if up {
			return 0.02 * math.Ceil(x/0.02)
		}
		return 0.02 * math.Floor(x/0.02)
	}
	if err != nil || !r.Bounded || !near(in(r.Low[0], true), .30, 1e-9) || !near(in(r.High[0], false), .46, 1e-9) ||
		!near(in(r.Low[1], true), .22, 1e-9) || !near(in(r.High[1], false), .48, 1e-9) || !near(r.Area, .038, .00055) {
		t.Errorf("%v %+v", err, r)
	}
}

// The region holds the true stationary point in 95 % of surfaces with known
// variance. 1500 surfaces, standard error 0.6 %.
func TestRegionCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 7))
	covers, n := 0, runs(1500)
	for range n {
		var list []Run
		for i := range 9 {
			x := []float64{float64(i%3 - 1), float64(i/3 - 1)}
			y := 0.3*(x[0]-0.2)*(x[0]-0.2) + 0.2*(x[1]+0.3)*(x[1]+0.3) + 0.1*(x[0]-0.2)*(x[1]+0.3)
			list = append(list, Run{X: x, Y: y + 0.05*rng.NormFloat64(), Var: 0.05 * 0.05})
		}
		s, err := FitSurface(list, SecondOrder, Confidence)
		if err != nil {
			t.Fatal(err)
		}
		if s.InRegion([]float64{0.2, -0.3}) {
			covers++
		}
	}
	within(t, "region covers", covers, n, 0.94, 0.96)
}

func TestSurfaceErrors(t *testing.T) {
	corner := []Run{{X: []float64{-1, -1}, Y: 1}, {X: []float64{1, -1}, Y: 2}, {X: []float64{-1, 1}, Y: 3}, {X: []float64{1, 1}, Y: 4}}
	if _, err := FitSurface(corner, SecondOrder, Confidence); err == nil {
		t.Error("four corners fixed a second-order surface")
	}
	s, err := FitSurface(corner, FirstOrder, Confidence)
	if err != nil || s.DF != 0 || !math.IsInf(s.Terms[1].Coef.High, 1) || !math.IsInf(s.Terms[1].Coef.Low, -1) {
		t.Errorf("four corners have no doubt: %v %+v", err, s.Terms)
	}
	for name, list := range map[string][]Run{
		"none": nil, "ragged": {{X: []float64{1}}, {X: []float64{1, 1}}}, "not a number": {{X: []float64{1}, Y: math.NaN()}},
		"some variances": {{X: []float64{1}, Var: 1}, {X: []float64{-1}}},
	} {
		if _, err := FitSurface(list, FirstOrder, Confidence); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// G8, NIST StRD (read, recalled and computed as marked there): the least
// squares below everything here, by LRE = −lg relative error.
func TestLeastSquaresOnStRD(t *testing.T) {
	delta := referenceTable(t, "wampler_delta.csv")
	ones := []float64{1, 1, 1, 1, 1, 1}
	w3se := []float64{2152.32624678, 2363.5517347, 779.343524332, 101.47550755, 5.64566512171, 0.112324854679}
	for _, c := range []struct {
		name    string
		want    []float64
		f       float64
		se      float64 // factor on the W3 standard errors
		digits  float64
		seDigit float64
	}{
		{"Wampler1 (read)", ones, 0, 0, 7, 0},
		{"Wampler2 (recalled)", []float64{1, .1, .01, .001, .0001, .00001}, 0, 0, 7, 0},
		{"Wampler3 (computed)", ones, 1, 1, 7, 8},
		{"Wampler4 (computed)", ones, 100, 100, 6, 8},
		{"Wampler5 (computed)", ones, 10000, 10000, 4, 8},
	} {
		var x, y, v []float64
		for _, row := range delta {
			sum := 0.0
			for k, b := range c.want {
				sum += b * math.Pow(row["x"], float64(k))
			}
			x, y, v = append(x, row["x"]), append(y, sum+c.f*row["delta"]), append(v, 1)
		}
		f, ok := leastSquares(powers(x, 5), y, v)
		if !ok {
			t.Fatalf("%s: refused", c.name)
		}
		rse := math.Sqrt(f.rss / float64(f.df))
		for k, b := range c.want {
			if d := -math.Log10(math.Abs(f.coef[k]-b)/b + 1e-16); d < c.digits {
				t.Errorf("%s: B%d has %.1f digits", c.name, k, d)
			}
			if se := rse * math.Sqrt(f.cov.At(k, k)); c.se > 0 && -math.Log10(math.Abs(se/(c.se*w3se[k])-1)+1e-16) < c.seDigit {
				t.Errorf("%s: s.e. of B%d %.12g, want %.12g", c.name, k, se, c.se*w3se[k])
			}
		}
	}
	// NoInt1 and NoInt2 (computed).
	var x, y, v []float64
	for i := range 11 {
		x, y, v = append(x, 60+float64(i)), append(y, 130+float64(i)), append(v, 1)
	}
	f, _ := leastSquares([][]float64{x}, y, v)
	if rse := math.Sqrt(f.rss / float64(f.df)); !near(f.coef[0], 2.07438016528926, 1e-13) || !near(rse, 3.56753034006338, 1e-12) || !near(rse*math.Sqrt(f.cov.At(0, 0)), 0.0165289256198347, 1e-14) {
		t.Errorf("NoInt1: %v, RSD %g", f.coef, rse)
	}
	f, _ = leastSquares([][]float64{{4, 5, 6}}, []float64{3, 4, 4}, []float64{1, 1, 1})
	if rse := math.Sqrt(f.rss / 2); !near(f.coef[0], 0.727272727272727, 1e-14) || !near(rse, 0.369274472937998, 1e-13) {
		t.Errorf("NoInt2: %v, RSD %g", f.coef, rse)
	}
}
