package bow

import (
	"context"
	"math"
	"testing"

	"tautline/unit"
)

// The freedom of a fit is what its ensemble draws from: the spread of draw
// weight over moves drawn from the precision is the reading's own doubt, since
// nothing else in the family says anything about it, and no move is the fit.
func TestFreedomHoldsWhatTheReadingsSay(t *testing.T) {
	k := Known{BowLength: 70 * unit.Inch, DrawWeight: 180, Draw: 0.692, Brace: 0.222}
	f, err := Scale(context.Background(), k)
	if err != nil {
		t.Fatal(err)
	}
	free, err := f.Freedom()
	if err != nil {
		t.Fatal(err)
	}
	same, square, err := f.Moved(make([]float64, len(free.Names)))
	if err != nil || same != f.Design || square != unit.Length(f.at[parBrace]) {
		t.Errorf("no move gives %+v, %v, %v", same, square, err)
	}
	// Without points or a string length only the draw weight is told, so the
	// precision is the family's plus one outer product: its determinant grows
	// by 1 + gᵀSg/d², the matrix determinant lemma, and along a change of
	// stiffness alone the weight's own doubt remains.
	heavier := make([]float64, len(free.Names))
	heavier[parStiffness] = 0.01
	d, _, err := f.Moved(heavier)
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := m.Draw(k.Brace)
	if err != nil {
		t.Fatal(err)
	}
	slope := float64(c.DrawWeight()-f.Curve.DrawWeight()) / 0.01
	doubt := float64(0.015 * k.DrawWeight)
	if want, got := slope/doubt, math.Sqrt(free.Precision.At(parStiffness, parStiffness)); math.Abs(got/want-1) > 0.01 {
		t.Errorf("stiffness is told to %.4g per unit, the draw weight alone tells %.4g", got, want)
	}
	for j, sd := range free.Spread {
		if sd > 0 && free.Precision.At(j, j) < 0.999/(sd*sd) {
			t.Errorf("%s is less sure than the family's spread", free.Names[j])
		}
	}
	if _, _, err := f.Moved([]float64{1}); err == nil {
		t.Error("one move for twelve parameters was taken")
	}
}
