package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// A plain ratio of variances that would claim what the verdict does not is named
// as what cries wolf, whichever set-up it favours, and at no other time (G6: with
// a few wild arrows it claims a difference in 20 to 30 % of equal pairs).
func TestPlainRatioThatCriesWolf(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 5))
	seen := map[string]int{}
	for i := range 400 {
		c, err := CompareFixed(shapes["5 % wild"].sample(rng, 2, 12, math.Exp(0.2*float64(i%5-2))), shapes["5 % wild"].sample(rng, 2, 12, 1))
		if err != nil {
			t.Fatal(err)
		}
		open, claims := c.Verdict == CannotTellYet, "nothing"
		if c.FRatio.Low > 1 {
			claims = "B tighter"
		} else if c.FRatio.High < 1 {
			claims = "A tighter"
		}
		if warned := strings.Contains(strings.Join(c.Warnings, " "), "cry wolf"); warned != (open && claims != "nothing") {
			t.Fatalf("%s, the plain ratio claims %s: %q", c.Verdict, claims, c.Warnings)
		}
		if more := strings.Contains(c.Text, "more arrows a set-up would show"); more != (c.More > 0) || more && !open {
			t.Fatalf("%d more: %s", c.More, c.Text)
		}
		seen[fmt.Sprintf("open %v, %s", open, claims)]++
	}
	for _, want := range []string{"open true, A tighter", "open true, B tighter", "open true, nothing", "open false, A tighter", "open false, B tighter"} {
		if seen[want] < 5 {
			t.Errorf("%s was seen %d times: too few to tell", want, seen[want])
		}
	}
}

// Groups without any spread of their distances, or of less than a nanometre, are
// no groups: nothing that is no number comes of them.
func TestComparisonsWithoutSpread(t *testing.T) {
	pair := End{{Right: -0.05}, {Right: 0.05}}
	for says, c := range map[string][2]Sample{
		"equally far": {{pair}, {pair}}, "on one point": {{{{}, {Right: 1e-11}, {Up: 1e-11}}}, {{{}, {Right: 0.1}, {Up: 0.1}}}},
	} {
		if v, err := CompareFixed(c[0], c[1]); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v %s", says, err, v.Text)
		}
	}
	if a, none := ByChance(0.5), ByChance(math.NaN()); !strings.Contains(a, "about 25 of 50 such comparisons") || none != "" {
		t.Errorf("%q and %q", a, none)
	}
}
