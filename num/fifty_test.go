package num

import (
	"math"
	"testing"
)

func TestInFifty(t *testing.T) {
	for p, want := range map[float64]string{
		0: "fewer than 1 of 50", 0.0099: "fewer than 1 of 50", 0.01: "about 1 of 50", 0.029: "about 1 of 50", 0.031: "about 2 of 50",
		0.5: "about 25 of 50", 0.82: "about 41 of 50", 0.99: "about 49 of 50", 0.991: "more than 49 of 50", 1: "more than 49 of 50",
		-0.1: "", 1.1: "", math.Inf(1): "",
	} {
		if got := InFifty(p); got != want {
			t.Errorf("%g: %q, want %q", p, got, want)
		}
	}
	if got := InFifty(math.NaN()); got != "" {
		t.Errorf("no number: %q", got)
	}
}
