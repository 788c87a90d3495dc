package flight

import (
	"math"
	"testing"
)

// The short way to sine and cosine against the library's: a few units in the
// last place, over the angles where it is taken and a little beyond.
func TestSincos(t *testing.T) {
	for x := -0.35; x <= 0.35; x += 1e-5 {
		s, c := sincos(x)
		if ws, wc := math.Sincos(x); math.Abs(s-ws) > 2e-16 || math.Abs(c-wc) > 3e-16 {
			t.Fatalf("sincos(%g) = %.17g, %.17g; math says %.17g, %.17g", x, s, c, ws, wc)
		}
	}
	if s, c := sincos(math.NaN()); s == s || c == c {
		t.Error("NaN has a sine")
	}
}
