package group

import (
	"math/rand/v2"
	"testing"
)

// G4 (computed: Beta marginal and Wilks with Bonferroni), to the digits given.
func TestOutlierLimits(t *testing.T) {
	for _, row := range referenceTable(t, "outlier_limits.csv") {
		n := int(row["n"])
		for name, c := range map[string][2]float64{
			"circle 5 %": {CircleLimit(n, 0.05), row["circ_limit_5pct"]}, "circle 1 %": {CircleLimit(n, 0.01), row["circ_limit_1pct"]},
			"Wilks 5 %": {WilksLimit(n, 0.05), row["mahal_limit_5pct"]}, "Wilks 1 %": {WilksLimit(n, 0.01), row["mahal_limit_1pct"]},
		} {
			if !near(c[0], c[1], 5.1e-4) {
				t.Errorf("n %d, %s: %.4f, want %.3f", n, name, c[0], c[1])
			}
		}
	}
}

// A flag on 5 % of good groups at most, whether one end or several, round or
// long; a wild arrow is flagged. 4000 groups, standard error 0.35 %.
func TestOutlierRates(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, c := range []struct {
		name     string
		ends, n  int
		sy, wild float64
		low, top float64
	}{
		// The choice between the two tests costs a little on ellipses: limit 5 % + 1.5 %.
		{"12 arrows", 1, 12, 1, 0, 0.03, 0.06},
		{"6 ends of 3", 6, 3, 1, 0, 0.03, 0.06},
		{"36 arrows 1:2", 1, 36, 2, 0, 0.03, 0.065},
		{"12 arrows, one 6σ out", 1, 12, 1, 6, 0.9, 1},
	} {
		flagged, groups := 0, runs(4000)
		for range groups {
			shots := normalShots(rng, c.ends, c.n, 1, c.sy)
			if c.wild > 0 {
				shots[4].Right, shots[4].Up = 6, 0
			}
			out, err := Outliers(shots, 0.05)
			if err != nil {
				t.Fatal(err)
			}
			if len(out) > 0 && (c.wild == 0 || out[0].Index == 4) {
				flagged++
			}
		}
		if share := float64(flagged) / float64(groups); share < c.low || share > c.top {
			t.Errorf("%s: flagged in %.3f", c.name, share)
		}
	}
}

// The arrow that always flies out is found; good arrows are flagged in 5 % of
// sessions at most, and each arrow's circle covers in 95 %.
func TestArrowOffsets(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 7))
	found, covered, groups := 0, 0, runs(1500)
	for range groups {
		shots := normalShots(rng, 8, 6, 1, 1)
		for i := range shots {
			shots[i].Arrow = string(rune('1' + i%6))
			if shots[i].Arrow == "3" {
				shots[i].Right += 2
			}
		}
		shots = append(shots[:7], shots[8:]...) // one arrow was not shot in one end
		offsets, err := ArrowOffsets(shots)
		if err != nil || len(offsets) != 6 {
			t.Fatalf("%v %v", err, offsets)
		}
		for _, o := range offsets {
			// Offsets sum to zero: arrow 3 is 2·5/6 out, the others −2/6.
			want := Point{-2.0 / 6, 0}
			if o.Arrow == "3" {
				want.Right = 2 * 5.0 / 6
			}
			if (Point{o.Offset.Right - want.Right, o.Offset.Up - want.Up}).Radius() <= o.Radius {
				covered++
			}
			if o.Arrow == "3" && o.Flag {
				found++
			}
		}
	}
	null := 0
	for range groups {
		shots := normalShots(rng, 8, 6, 1, 1)
		for i := range shots {
			shots[i].Arrow = string(rune('1' + i%6))
		}
		offsets, _ := ArrowOffsets(shots)
		for _, o := range offsets {
			if o.Flag {
				null++
				break
			}
		}
	}
	if s := float64(found) / float64(groups); s < 0.9 {
		t.Errorf("the bad arrow is found in %.3f of sessions", s)
	}
	if s := float64(null) / float64(groups); s > 0.065 {
		t.Errorf("a good arrow is flagged in %.3f of sessions", s)
	}
	if s := float64(covered) / float64(6*groups); s < 0.93 || s > 0.97 {
		t.Errorf("an arrow's circle covers in %.3f", s)
	}
}

// A season on one page: 100 000 arrows.
func BenchmarkDescribe(b *testing.B) {
	shots := normalShots(rand.New(rand.NewPCG(1, 1)), 16667, 6, 0.05, 0.06)
	for i := range shots {
		shots[i].Arrow = string(rune('1' + i%6))
	}
	for b.Loop() {
		if _, err := Describe(shots); err != nil {
			b.Fatal(err)
		}
	}
}

func TestDescribeSmallestGroups(t *testing.T) {
	for n := range 5 {
		var shots []Shot
		for range n {
			shots = append(shots, At(1, 0.01, 0.02)) // all on one point
		}
		d, err := Describe(shots)
		if n == 0 {
			if err == nil {
				t.Error("nothing was described")
			}
			continue
		}
		if err != nil || d.Centre.Right.Value != 0.01 || n == 1 && d.Sigma.Known() || len(d.Warnings) == 0 {
			t.Errorf("%d arrows: %v %+v", n, err, d)
		}
	}
	many := normalShots(rand.New(rand.NewPCG(1, 1)), 300, 2, 1, 1)
	for i := range many {
		many[i].Arrow = string(rune(0x4e00 + i))
	}
	if o, err := ArrowOffsets(many); err != nil || o != nil {
		t.Errorf("600 names are no arrow numbers: %v %d", err, len(o))
	}
}
