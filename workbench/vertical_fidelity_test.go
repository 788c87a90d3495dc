package workbench

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"tautline/arrow"
)

const verticalGolden = "../docs/theory/vertical_fidelity.md"

// TestGoldenVertical writes the tables of signs and sizes of vertical.md section
// 4 anew, over 200 random set-ups chosen by their inputs alone, with the sideways
// history of the same bow and arrow. Without -update it only looks whether the
// page is there and was written from 200 set-ups or more: the tests beside it
// hold the laws on fewer.
func TestGoldenVertical(t *testing.T) {
	if !*update {
		raw, err := os.ReadFile(verticalGolden)
		if err != nil {
			t.Fatalf("%v; run go test ./workbench -run GoldenVertical -update", err)
		}
		page := string(raw)
		for _, want := range append([]string{"200 random set-ups", "## Signs and sizes", "## The range of the rule", "## What decides", "## Checks of the computation"}, moveNames()...) {
			if !strings.Contains(page, want) {
				t.Errorf("%s lacks %q: run with -update", verticalGolden, want)
			}
		}
		return
	}
	n := tallCount(200)
	var b strings.Builder
	fmt.Fprintf(&b, "# The vertical plane: tables\n\n<!-- Written by `go test ./workbench -run Golden -update`; do not edit. -->\n\n")
	fmt.Fprintf(&b, "%d random set-ups, seed 11, spans as in [vertical.md](vertical.md)'s plan: nock centre 0 to 8 mm, tiller 0 to 6, lower limb 0.98 to 1.06, hook 2 to 12, pressure point ±10, brace 208 to 242, spine 440 to 620, wire 2 to 4 mm past the axis, 0.8 to 16 N/mm, and a sideways set-up of the same bow and arrow. ", n)
	b.WriteString("Chosen by inputs only; \"clean\" by a tail gap above 1 mm at both ends of the change; never by a sensitivity or by where the bare shaft lands. Computed; nothing here was measured. \"Plan\" is the prototype's figure (computed, other aerodynamic slopes, lumped string, sideways histories of other bows).\n\n")
	cases := tallCases(n, 11)
	signTableOf(t, &b, cases)
	decidesTable(t, &b, cases)
	rangeTable(t, &b, cases[:min(80, n)])
	computationTable(t, &b)
	if err := os.WriteFile(verticalGolden, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

func moveNames() (names []string) {
	for _, m := range tallMoves {
		names = append(names, m.name)
	}
	return names
}

// plannedLow is vertical.md section 4's share of set-ups in which the bare shaft
// goes low, with A / B / C, and its d30 in C.
var plannedLow = map[string][2]string{
	"nocking point +2 mm":                 {"69 / 100 / 87", "−10.5 [−12.7, 1.7]"},
	"rest +2 mm, nock not moved":          {"36 / 0 / 17", "+11.0 [−4.5, 13.2]"},
	"rest and nock +2 mm":                 {"88 / 11 / 17", "+0.4 [−0.7, 0.9]"},
	"tiller +2 mm, same brace and square": {"38 / 100 / 90", "−0.45 [−0.6, 0]"},
	"hook 2 mm lower":                     {"12 / 15 / 18", "+2.0 [−1.4, 4.0]"},
	"hand presses 2 mm higher":            {"14 / 92 / 83", "−0.6 [−1.0, 0.7]"},
	"brace +20 mm":                        {"37 / 18 / 18", "+6.8 [−4.7, 12]"},
	"lower limb +1 %":                     {"12 / 57 / 42", "+0.1 [−0.8, 1.5]"},
	"spine +50":                           {"43 / 42 / 37", "+1.7 [−11, 6]"},
	"point +10 gr":                        {"21 / 29 / 32", "+0.7 [−1.5, 2.7]"},
	"rest stiffness x 1.5":                {"27 / 13 / 16", "+0.6 [−0.2, 2.0]"},
	"release +1 % of draw force up":       {"24 / 62 / 57", "−0.06 [−0.3, 0.3]"},
	"hook transfer +0.5 ms":               {"43 / 46 / 43", "+0.3 [−6, 4]"},
}

func field(v []tallStep, of func(tallStep) float64) (out []float64) {
	for _, s := range v {
		out = append(out, of(s))
	}
	return out
}

func threeOf(v []float64) string {
	a, b, c := quantiles(v)
	return fmt.Sprintf("%+.1f [%+.1f, %+.1f]", b, a, c)
}

func cleanOf(v []tallStep) (out []tallStep) {
	for _, s := range v {
		if s.gap > LeastTailGap.Millimetres() {
			out = append(out, s)
		}
	}
	return out
}

// signTableOf is section 4's first table.
func signTableOf(t *testing.T, b *strings.Builder, cases []tallCase) {
	b.WriteString("## Signs and sizes\nA: the rest acts to the end. B: the shaft leaves it at a random 8.5 to 11.5 ms. C: gated by this shot's sideways gap. Median [10, 90 %], cm, for the whole change.\n\n")
	b.WriteString("| change | low % A / B / C | low %, C clean (of) | d18, C | d30, C | d30, C clean | fletched 30 m, C | plan: low % | plan: d30, C |\n|---|---|---|---|---|---|---|---|---|\n")
	for k, m := range tallMoves {
		s := stepsOf(t, cases, m, gates[:]...)
		c := s[2]
		clean := cleanOf(c)
		plan := plannedLow[m.name]
		d30 := func(s tallStep) float64 { return s.d30 }
		fmt.Fprintf(b, "| %s | %.0f / %.0f / %.0f | %.0f (%d) | %s | %s | %s | %s | %s | %s |\n", m.name,
			share(s[0], low), share(s[1], low), share(c, low), share(clean, low), len(clean),
			threeOf(field(c, func(s tallStep) float64 { return s.d18 })), threeOf(field(c, d30)), threeOf(field(clean, d30)),
			threeOf(field(c, func(s tallStep) float64 { return s.fletched })), plan[0], plan[1])
		if k == 0 {
			defer fmt.Fprintf(b, "\nSet-ups shot: %d of %d. One-sided steps of the nocking point disagree in sign in %.0f (A), %.0f (B), %.0f (C) %% of them, in %.0f %% of the clean ones: the V's bottom lies inside, and no line may be drawn across it.\n\n",
				len(c), len(cases), share(s[0], sided), share(s[1], sided), share(c, sided), share(clean, sided))
		}
	}
}

func sided(s tallStep) bool { return s.sided }

// decidesTable sorts the nocking point's obedience by tail gap and wire.
func decidesTable(t *testing.T, b *strings.Builder, cases []tallCase) {
	b.WriteString("## What decides\nShare of set-ups in which raising the nocking point by 2 mm lowers the bare shaft, C.\n\n| tail gap at both ends, mm | set-ups | low % | plan |\n|---|---|---|---|\n")
	c := stepsOf(t, cases, tallMoves[0], arrow.GateAside)[0]
	for _, bin := range []struct {
		low, high float64
		plan      string
	}{{-100, 0, "–"}, {0, 0.3, "22"}, {0.3, 0.6, "50"}, {0.6, 1, "70"}, {1, math.Inf(1), "100"}} {
		var in []tallStep
		for _, s := range c {
			if s.gap > bin.low && s.gap <= bin.high {
				in = append(in, s)
			}
		}
		fmt.Fprintf(b, "| %g to %g | %d | %.0f | %s |\n", bin.low, bin.high, len(in), share(in, low), bin.plan)
	}
	b.WriteString("\n| wire past the axis, mm | set-ups | low % | plan |\n|---|---|---|---|\n")
	for _, bin := range []struct {
		low, high float64
		plan      string
	}{{0.5, 1.5, "100"}, {1.5, 2.75, "99"}, {2.75, 4, "84"}} {
		wired := make([]tallCase, len(cases))
		for i, x := range cases {
			x.wire.Reach = mmOf(bin.low + (bin.high-bin.low)*float64(i)/float64(len(cases)))
			wired[i] = x
		}
		s := stepsOf(t, wired, tallMoves[0], arrow.GateAside)[0]
		fmt.Fprintf(b, "| %g to %g | %d | %.0f | %s |\n", bin.low, bin.high, len(s), share(s, low), bin.plan)
	}
	b.WriteString("\n")
}

// rangeTable scans the nocking point.
func rangeTable(t *testing.T, b *strings.Builder, cases []tallCase) {
	nocks := []float64{-8, -4, 0, 2, 4, 6, 8, 10, 14}
	fmt.Fprintf(b, "## The range of the rule\n%d set-ups, nock centre scanned; median d30 in cm, and the share of set-ups whose curve falls there (±1 mm), %%.\n\n| nock centre, mm |", len(cases))
	type at struct{ y, slope [3]float64 }
	all := make([][]at, len(nocks))
	for k := range nocks {
		all[k] = make([]at, len(cases))
		overCases(t, len(cases), func(i int) {
			var h [3][]heights
			for s := range 3 {
				c := cases[i]
				c.set.Nock = mmOf(nocks[k] + float64(s-1))
				var err error
				if h[s], err = c.shoot(gates[:]...); err != nil {
					all[k][i] = at{y: [3]float64{math.NaN(), math.NaN(), math.NaN()}}
					return
				}
			}
			for g := range 3 {
				all[k][i].y[g], all[k][i].slope[g] = 100*h[1][g].bare30, h[2][g].bare30-h[0][g].bare30
			}
		})
		fmt.Fprintf(b, " %g |", nocks[k])
	}
	b.WriteString("\n|---" + strings.Repeat("|---", len(nocks)) + "|\n")
	for g, name := range []string{"A", "B", "C"} {
		fmt.Fprintf(b, "| %s, d30 |", name)
		for k := range nocks {
			var y []float64
			for _, x := range all[k] {
				if x.y[g] == x.y[g] {
					y = append(y, x.y[g])
				}
			}
			_, mid, _ := quantiles(y)
			fmt.Fprintf(b, " %+.0f |", mid)
		}
		fmt.Fprintf(b, "\n| %s, falls %% |", name)
		for k := range nocks {
			fmt.Fprintf(b, " %.0f |", share(all[k], func(x at) bool { return x.slope[g] < 0 }))
		}
		b.WriteString("\n")
	}
	b.WriteString("\nThe plan's medians: A −62 −47 −23 −17 −22 −28 −34 −41 −52, B +50 +36 +13 +1 −11 −22 −32 −40 −51, C +17 +11 −5 −4 −11 −21 −30 −39 −51.\n\n")
}

// computationTable is how well all this is computed.
func computationTable(t *testing.T, b *strings.Builder) {
	b.WriteString("## Checks of the computation\nClean set-ups, d30 in cm: mean and greatest difference.\n\n| against | mean | greatest | plan |\n|---|---|---|---|\n")
	cases := cleanCases(t, 60, 12)
	row := func(name, plan string, change func(*tallCase)) {
		d := make([]float64, len(cases))
		overCases(t, len(cases), func(i int) {
			c := cases[i]
			change(&c)
			d[i] = 100 * math.Abs(first(cases[i].shoot(arrow.GateAside))-first(c.shoot(arrow.GateAside)))
		})
		sum, worst, n := 0.0, 0.0, 0
		for _, x := range d {
			if x == x {
				sum, worst, n = sum+x, math.Max(worst, x), n+1
			}
		}
		fmt.Fprintf(b, "| %s | %.3f | %.2f | %s |\n", name, sum/float64(n), worst, plan)
	}
	row("steps of 10 µs instead of 50", ".02–.03, .41", func(c *tallCase) { c.cfg.Step, c.step = 10e-6, 10e-6 })
	row("20 modes instead of 14", ".11, 1.3", func(c *tallCase) { c.bending = 18 })
	row("24 links instead of 12", ".85, 4.1", func(c *tallCase) { c.links = 24 })
	b.WriteString("\n")
	slope := make([]float64, len(cases))
	base := make([]float64, len(cases))
	overCases(t, len(cases), func(i int) {
		var y [2][2]float64
		for s, side := range []float64{-1, 1} {
			c := cases[i]
			c.set.Nock += mmOf(side)
			y[s] = [2]float64{c.coupled(false), c.coupled(true)}
		}
		slope[i] = 100 * (y[1][0] - y[0][0] - y[1][1] + y[0][1])
		base[i] = 50 * (y[1][0] + y[0][0] - y[1][1] - y[0][1])
	})
	fmt.Fprintf(b, "Imposed less coupled: height %s cm, effect of 2 mm of nocking point %s cm (plan: +0.2 [−1.3, 2.0], −0.02 [−0.29, 0.09]).\n", threeOf(base), threeOf(slope))
}
