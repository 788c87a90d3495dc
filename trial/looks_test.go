package trial

import "testing"

// All looks together have six per cent, the planned one the usual five.
func TestLooksShareTheError(t *testing.T) {
	sum, last := 0.0, 1.0
	for n := 1; n <= 12; n++ {
		a := 1 - LookConfidence(n)
		if sum += a; a > last {
			t.Errorf("look %d has %g, more than the one before", n, a)
		}
		last = a
	}
	if !near(1-LookConfidence(1), 0.05, 1e-12) || !near(1-LookConfidence(2), 0.005, 1e-12) || sum > 0.06 {
		t.Errorf("the looks have %g together", sum)
	}
}
