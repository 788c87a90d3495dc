package numtest

import (
	"encoding/csv"
	"errors"
	"io/fs"
	"math"
	"os"
	"strconv"
	"testing"
)

// The disturbance of Wampler3 to 5 is that of the reference (G8, read).
func TestWamplerDeltaIsTheReference(t *testing.T) {
	f, err := os.Open("../../../shared/reference/data/wampler_delta.csv")
	if errors.Is(err, fs.ErrNotExist) {
		t.Skip("the reference values are not beside the checkout")
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) != len(wamplerDelta)+1 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, row := range rows[1:] {
		if v, err := strconv.ParseFloat(row[1], 64); err != nil || v != wamplerDelta[i] {
			t.Errorf("x = %s: %s, here %v (%v)", row[0], row[1], wamplerDelta[i], err)
		}
	}
}

func TestLRE(t *testing.T) {
	for _, c := range []struct{ got, want, lre float64 }{
		{1.001, 1, 3}, {1, 1, 15}, {math.NaN(), 1, 0}, {-1, 1, 0}, {1e-4, 0, 4}, {2000.2, 2000, 4},
	} {
		if l := LRE(c.got, c.want); math.Abs(l-c.lre) > 1e-9 {
			t.Errorf("LRE(%v, %v) = %v, want %v", c.got, c.want, l, c.lre)
		}
	}
	if WorstLRE([]float64{1, 1.01}, []float64{1, 1}) > 2.01 || WorstLRE(nil, []float64{1}) != 0 {
		t.Error("WorstLRE is not the worst")
	}
}

// Every certified minimum has a residual sum that its own residuals give, and
// every orbit's period and end come from its own start: a typing error in the
// bank would break these.
func TestBankAgreesWithItself(t *testing.T) {
	for _, z := range Zeros() {
		if v := z.F(z.X); math.Abs(v) > 1e-6*math.Max(1, math.Abs(z.F(z.B))) {
			t.Errorf("%s: f(%v) = %v", z.Name, z.X, v)
		}
		if fa, fb := z.F(z.A), z.F(z.B); fa*fb > 0 {
			t.Errorf("%s: no change of sign: %v, %v", z.Name, fa, fb)
		}
	}
	for _, p := range Fittings() {
		r := make([]float64, p.Count)
		known := true
		for _, v := range p.P {
			known = known && !math.IsNaN(v)
		}
		if !known {
			continue
		}
		p.Residuals(p.P, r)
		sum := 0.0
		for _, v := range r {
			sum += v * v
		}
		if math.Abs(sum-p.RSS) > 1e-12*(1+p.RSS) {
			t.Errorf("%s: RSS %.14g at the minimum, told %.14g", p.Name, sum, p.RSS)
		}
	}
	for _, c := range Comparisons() {
		if len(c.Groups) < 2 || !(c.F > 0) {
			t.Errorf("%s: %d groups, F %v", c.Name, len(c.Groups), c.F)
		}
	}
}
