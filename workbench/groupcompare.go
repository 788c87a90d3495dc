package workbench

import (
	"fmt"
	"math"

	"tautline/group"
	"tautline/notebook"
	"tautline/trial"
)

// CompareAsk says how two set-ups are compared.
type CompareAsk struct {
	// Looking: ends were shot in pairs and looked at as they came. Otherwise
	// the number of arrows was fixed beforehand.
	Looking bool
	// Measure of an end's spread when looking; default the spatial median.
	Measure trial.SpreadMeasure
}

// CompareView is a comparison as numbers.
type CompareView struct {
	Verdict  trial.Winner `json:"verdict"` // "A tighter", "B tighter", "cannot tell yet"
	Text     string       `json:"text"`
	Ratio    Ranged       `json:"sigma_ratio"` // A over B; the interval inverts the verdict's own test
	P        *float64     `json:"p_value"`     // null when looking as you go
	Evidence *float64     `json:"evidence"`    // against equal spreads: 1 none, 20 decides when looking
	// Needed is the arrows a set-up that would show a difference as large as
	// the one seen, four times in five; null where no number is sensible.
	Needed      *int     `json:"arrows_needed"`
	More        *int     `json:"arrows_more"` // of them still to shoot; null where no number is sensible
	ArrowsA     int      `json:"n_arrows_a"`
	ArrowsB     int      `json:"n_arrows_b"`
	Pairs       int      `json:"pairs,omitempty"` // looking as you go
	Plain       Ranged   `json:"sigma_ratio_f"`   // s_A/s_B with the F interval: for circular normal groups only
	ATighter    *float64 `json:"probability_a_tighter"`
	Method      string   `json:"method"`
	CanSee      string   `json:"can_see"`
	Assumptions []string `json:"assumptions"`
	Warnings    []string `json:"warnings"`
	WouldChange []string `json:"would_change"`
	// History is the evidence and the ratio after each pair, looking as you go.
	History []CompareStep `json:"history"`
}

// CompareStep is where a comparison stood after a pair of ends.
type CompareStep struct {
	Pairs    int     `json:"pairs"`
	Evidence float64 `json:"evidence"`
	Ratio    Ranged  `json:"sigma_ratio"`
}

// CompareVolleys compares two set-ups by the arrows whose places are known.
func CompareVolleys(a, b Volley, ask CompareAsk) (CompareView, error) {
	if err := comparable(a, b); err != nil {
		return CompareView{}, err
	}
	var out CompareView
	var err error
	if rings(a) && rings(b) {
		return compareRings(a, b)
	}
	if ask.Looking {
		out, err = comparePairs(pairsOf(a.Sample(), b.Sample()), ask.Measure)
		if left := len(a.Sample()) - len(b.Sample()); left != 0 && err == nil {
			out.Warnings = append(out.Warnings, fmt.Sprintf("%s without a partner: left out", counted(max(left, -left), "end is", "ends are")))
		}
	} else {
		out, err = compareFixed(a.Sample(), b.Sample())
	}
	if err != nil {
		return CompareView{}, understandGroup(err)
	}
	for _, v := range []Volley{a, b} {
		placed, _ := v.Placed()
		if n := len(v.Shots) - len(placed); n > 0 {
			out.Warnings = append(out.Warnings, fmt.Sprintf("%s of %s left out: only a ring is known", counted(n, "arrow", "arrows"), v.name()))
		}
	}
	out.Warnings = append(out.Warnings, oddArrows(a, b)...)
	return out, nil
}

// oddArrows warns of numbered arrows that always fly out: they widen the group
// they are in, whatever the set-up does.
func oddArrows(volleys ...Volley) (out []string) {
	for i, v := range volleys {
		offsets, err := group.ArrowOffsets(v.Shots)
		if err != nil {
			continue // no arrow is numbered twice
		}
		for _, o := range offsets {
			if o.Flag {
				out = append(out, fmt.Sprintf("arrow %s of %s always flies out and widens that group: shoot both set-ups with the same arrows, or leave it out of both", o.Arrow, []string{"A", "B"}[i]))
			}
		}
	}
	return out
}

// name is a set-up in a sentence.
func (v Volley) name() string {
	if v.Label != "" {
		return "“" + v.Label + "”"
	}
	return "the set-up"
}

// comparable refuses groups that differ in more than the set-up.
func comparable(a, b Volley) error {
	if a.Distance != b.Distance && a.Distance > 0 && b.Distance > 0 {
		return &notebook.Error{Code: notebook.Invalid, Field: "/b/distance", Message: fmt.Sprintf("A was shot at %g m and B at %g m", float64(a.Distance), float64(b.Distance)),
			Hint: "compare ends of one distance"}
	}
	if a.Kind != b.Kind {
		return &notebook.Error{Code: notebook.Invalid, Field: "/b/kind", Message: "one group is of bare shafts, the other of fletched arrows", Hint: "compare like with like; a bare-shaft trial compares the two for you"}
	}
	return nil
}

func compareFixed(a, b trial.Sample) (CompareView, error) {
	c, err := trial.CompareFixed(a, b)
	if err != nil {
		return CompareView{}, err
	}
	return viewCompare(c), nil
}

// pairsOf puts the k-th end of A beside the k-th of B; ends of one arrow have
// no spread.
func pairsOf(a, b trial.Sample) (pairs []trial.Pair) {
	for i := range min(len(a), len(b)) {
		if len(a[i]) > 1 && len(b[i]) > 1 {
			pairs = append(pairs, trial.Pair{A: a[i], B: b[i]})
		}
	}
	return pairs
}

// seedOfFutures starts the simulated futures behind "N more arrows".
const seedOfFutures = 20260307

func comparePairs(pairs []trial.Pair, measure trial.SpreadMeasure) (CompareView, error) {
	c, err := trial.ComparePairs(pairs, measure, seedOfFutures)
	if err != nil {
		return CompareView{}, err
	}
	out := viewCompare(c)
	out.Pairs = len(pairs)
	steps, err := trial.FollowPairs(pairs, measure)
	if err != nil {
		return CompareView{}, err
	}
	for _, s := range steps {
		out.History = append(out.History, CompareStep{s.Pairs, s.Evidence, ranged(s.Ratio)})
	}
	return out, nil
}

func viewCompare(c trial.Comparison) CompareView {
	out := CompareView{
		Verdict: c.Verdict, Text: c.Text, Ratio: ranged(c.Ratio), P: finite(c.P), Evidence: finite(c.Evidence), ArrowsA: c.ArrowsA, ArrowsB: c.ArrowsB,
		Plain: ranged(c.FRatio), ATighter: finite(c.ProbATight), Method: c.Method, CanSee: trial.CanSeeText(min(c.ArrowsA, c.ArrowsB), 0),
		Assumptions: append([]string{}, c.Assumptions...), Warnings: append([]string{}, c.Warnings...), WouldChange: append([]string{}, c.WouldChange...),
		History: []CompareStep{},
	}
	have := min(c.ArrowsA, c.ArrowsB)
	switch {
	case c.Verdict != trial.CannotTellYet:
		out.More = new(int)
		out.Needed = neededFor(c.Ratio.Value)
	case c.More > 0:
		needed := have + c.More
		out.More, out.Needed = &c.More, &needed
	}
	return out
}

// neededFor is the arrows a set-up that show a ratio as large as the one seen.
func neededFor(ratio float64) *int {
	seen := math.Abs(math.Log(ratio))
	n, err := trial.ArrowsNeeded(trial.SizeQuestion{Reduction: 1 - math.Exp(-seen), Power: 0.8})
	if err != nil {
		return nil
	}
	return &n
}
