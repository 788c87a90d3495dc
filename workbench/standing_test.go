package workbench

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
)

func heron(t testing.TB) notebook.Settings {
	t.Helper()
	return with(t, example(t, "heron-70"), "string.length", "1690 mm", "string.shots_on_it", "4000", "sight_extension", "17 cm", "tab", "leather")
}

// with changes entries: key, text, key, text …
func with(t testing.TB, s notebook.Settings, changes ...string) notebook.Settings {
	t.Helper()
	for i := 0; i < len(changes); i += 2 {
		var err error
		if s, err = s.With(changes[i], changes[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// heronSlopes are shared: each entry takes a quarter of a second.
var heronSlopes = sync.OnceValue(func() *Slopes {
	return NewSlopes(heron(outside{}), arrow.RightHanded, 30, 70)
})

// outside lets the shared slopes read the example outside a test.
type outside struct{ testing.TB }

func (outside) Helper()           {}
func (outside) Fatal(args ...any) { panic(fmt.Sprint(args...)) }

var (
	buttonVerdict = Result{ID: "b", Noun: notebook.VerdictNoun, Label: "button", Of: at(OfBare, 30), By: "button.turns", Half: 0.5, Unit: "turns"}
	bareReading   = Result{ID: "r", Noun: notebook.ReadingNoun, Label: "bare shaft", Of: at(OfBare, 30), Half: 0.025, Unit: "m"}
	speedReading  = Result{ID: "s", Noun: notebook.ReadingNoun, Label: "speed", Of: Quantity{Kind: OfSpeed}, Half: 0.4, Unit: "m/s"}
	braceReading  = Result{ID: "h", Noun: notebook.ReadingNoun, Label: "brace height", Of: Quantity{Kind: "brace_height"}, Half: 0.001, Unit: "m"}
	heightAt70    = Result{ID: "e", Noun: notebook.EndNoun, Label: "height at 70 m", Of: at(OfUp, 70), Half: 0.06, Unit: "m"}
)

func stand(t testing.TB, r Result, chain ...notebook.Settings) Standing {
	t.Helper()
	return standBy(t, heronSlopes(), r, chain...)
}

func standBy(t testing.TB, by *Slopes, r Result, chain ...notebook.Settings) Standing {
	t.Helper()
	s, err := Stand(context.Background(), r, chain, by)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// secant shoots both ends of a change, without slopes: the check on them.
func secant(t *testing.T, q Quantity, from, to notebook.Settings) float64 {
	t.Helper()
	a, err := Probe(context.Background(), from, arrow.RightHanded, 30, 70)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Probe(context.Background(), to, arrow.RightHanded, 30, 70)
	if err != nil {
		t.Fatal(err)
	}
	return b.of[q][0] - a.of[q][0]
}

// The four cases of the plan, for a button that was decided with bare shafts
// at 30 m and is known to half a turn.
func TestStandingOfAButtonVerdict(t *testing.T) {
	base := heron(t)
	// What a turn is worth on this bow, shot from both sides of it: the bare
	// shaft moves some 4 cm at 30 m.
	turn := secant(t, at(OfBare, 30), with(t, base, "button", "2"), with(t, base, "button", "3"))
	if turn > -0.03 || turn < -0.06 {
		t.Fatalf("a turn moves the bare shaft %.3f m; the arithmetic below is for −3 to −6 cm", turn)
	}

	t.Run("a large brace change makes it stale", func(t *testing.T) {
		high := with(t, base, "brace_height", "239 mm") // +15 mm
		s := stand(t, buttonVerdict, base, high)
		// arithmetic: the two shots lie so far apart at 30 m; in turns that is
		// more than the half turn the verdict was known to
		shift := -secant(t, at(OfBare, 30), base, high) / turn
		if math.Abs(shift) <= buttonVerdict.Half {
			t.Fatalf("15 mm of brace height are worth %.2f turns only", shift)
		}
		if s.State != Stale || math.Abs(s.Net.Value-shift) > 0.3*math.Abs(shift) {
			t.Errorf("%s, moved %.2f turns; two shots say %.2f", s.State, s.Net.Value, shift)
		}
		if s.Likely <= 0.5 || s.Far < s.Likely {
			t.Errorf("likely %.2f, far %.2f turns", s.Likely, s.Far)
		}
	})
	t.Run("a small one leaves it fresh", func(t *testing.T) {
		s := stand(t, buttonVerdict, base, with(t, base, "brace_height", "224.5 mm")) // +0.5 mm
		// far: |slope| ≤ about 6.5 m per m of brace at 30 m; (0.5 + 0.5 mm
		// again) × 6.5 = 6.5 mm; floor 5 mm + 0.5 × 1 mm; 12 mm / 38 mm a turn
		// = 0.32 turns, inside the half turn
		step, ok, err := heronSlopes().of(context.Background(), "brace_height.value", 0.0005, at(OfBare, 30))
		if err != nil || !ok {
			t.Fatal(err)
		}
		far := (far(step.size) + far(step.first)*0.0005 + 0.005 + 0.5*0.001) / math.Abs(perTurn(t))
		if s.State != Fresh || math.Abs(s.Far-far) > 1e-9 || far > 0.5 {
			t.Errorf("%s, far %.3f turns; the arithmetic says %.3f", s.State, s.Far, far)
		}
	})
	t.Run("a changed sight pin does not touch it", func(t *testing.T) {
		moved := with(t, base, "sight_extension", "20 cm")
		if s := stand(t, buttonVerdict, base, moved); s.State != Fresh || len(s.Causes) > 0 || s.Far != 0 {
			t.Errorf("%+v", s)
		}
		// but where the group stood against that pin nobody knows any more
		if s := stand(t, heightAt70, base, moved); s.State != Drifted || !s.Unknown {
			t.Errorf("the height at 70 m is %s", s.State)
		}
	})
	t.Run("a new string of the same length is to be checked", func(t *testing.T) {
		fresh := with(t, base, "string.shots_on_it", "0")
		s := stand(t, buttonVerdict, base, fresh)
		// the model sees the same string: no predicted move; what it lacks may
		// be 3 cm at 30 m, and 3 cm / 3.8 cm a turn = 0.79 turns
		if want := 0.03 / math.Abs(perTurn(t)); s.State != Drifted || s.Likely != 0 || math.Abs(s.Far-want) > 1e-9 {
			t.Errorf("%s, likely %.2f, far %.3f turns; wanted %.3f", s.State, s.Likely, s.Far, want)
		}
		// the old string put back on: three tenths of it, 0.24 turns
		if s := stand(t, buttonVerdict, base, fresh, base); s.State != Fresh || s.Far <= 0 {
			t.Errorf("with the old string back it is %s (far %.2f)", s.State, s.Far)
		}
	})
	t.Run("its own later move is said, not counted", func(t *testing.T) {
		if s := stand(t, buttonVerdict, base, with(t, base, "button", "4")); s.State != Fresh || s.NotSet != "4" {
			t.Errorf("%s, not set: %q", s.State, s.NotSet)
		}
	})
}

// perTurn is what a turn of the button moves the bare shaft at 30 m.
func perTurn(t *testing.T) float64 {
	t.Helper()
	own, err := heronSlopes().perUnit(context.Background(), "button.turns", at(OfBare, 30))
	if err != nil {
		t.Fatal(err)
	}
	return own
}

// A reading of a setting itself moves as the setting was moved.
func TestStandingOfASquareReading(t *testing.T) {
	base := heron(t)
	s := stand(t, braceReading, base, with(t, base, "brace_height", "229 mm"))
	// 229 − 224 = 5 mm, known to ±1 mm
	if s.State != Stale || math.Abs(s.Net.Value-0.005) > 1e-12 {
		t.Errorf("%s, %+v", s.State, s.Net)
	}
	// a new string: no move predicted, 3 mm not excluded
	if s := stand(t, braceReading, base, with(t, base, "string.shots_on_it", "0")); s.State != Drifted || s.Far != 0.003 {
		t.Errorf("%s, far %g", s.State, s.Far)
	}
}

func TestNoChangeLeavesEverythingFresh(t *testing.T) { noChangeIsFresh(t, heronSlopes()) }

func noChangeIsFresh(t *testing.T, by *Slopes) {
	base := heron(t)
	words := with(t, base, "notes", "seen again", "string.shots_on_it", "4600", "limbs.range_high", "24.5 cm", "brace_height", "22.40 cm")
	for _, r := range []Result{buttonVerdict, bareReading, speedReading, braceReading, heightAt70} {
		for _, chain := range [][]notebook.Settings{{base}, {base, base, base}, {base, words}} {
			if s := standBy(t, by, r, chain...); s.State != Fresh || s.Far != 0 || len(s.Causes) != 0 {
				t.Errorf("%s: %s, %+v", r.Label, s.State, s.Causes)
			}
		}
	}
}

// wander moves one entry of the set-up, further from where it was in home.
func wander(t *testing.T, r *rand.Rand, home, now notebook.Settings) notebook.Settings {
	t.Helper()
	away := func(key string, from, at, step float64, text string) notebook.Settings {
		sign := 1.0
		if at < from || at == from && r.IntN(2) == 0 {
			sign = -1
		}
		return with(t, now, key, fmt.Sprintf(text, at+sign*step*(0.1+r.Float64())))
	}
	switch r.IntN(8) {
	case 0:
		return away("brace_height", home.BraceHeight.Value.Value.Millimetres(), now.BraceHeight.Value.Value.Millimetres(), 4, "%.3f mm")
	case 1:
		return away("button", *home.Button.Turns, *now.Button.Turns, 1, "%.3f")
	case 2:
		return away("centre_shot", home.CentreShot.Value.Millimetres(), now.CentreShot.Value.Millimetres(), 0.5, "%.3f mm")
	case 3:
		return away("nocking_point", home.NockingPoint.Value.Value.Millimetres(), now.NockingPoint.Value.Value.Millimetres(), 1, "%.3f mm")
	case 4:
		return away("tiller", home.Tiller.Value.Millimetres(), now.Tiller.Value.Millimetres(), 1, "%.3f mm")
	case 5:
		return away("spine", home.Arrow.Spine.Value.Thousandths(), now.Arrow.Spine.Value.Thousandths(), 15, "%.2f")
	case 6:
		return with(t, now, "string.shots_on_it", fmt.Sprint(max(0, *now.String.Shots-1000)))
	}
	return with(t, now, "tab", now.Tab+"+")
}

var rank = map[State]int{Fresh: 0, Drifted: 1, Stale: 2}

// More change never makes a result fresher: random chains that only move away,
// and random detours that are put back.
func TestMoreChangeNeverFreshens(t *testing.T) { neverFreshens(t, heronSlopes(), 40) }

func neverFreshens(t *testing.T, by *Slopes, chains uint64) {
	base := heron(t)
	results := []Result{buttonVerdict, bareReading, speedReading, braceReading, heightAt70}
	seen := map[State]int{}
	for seed := range chains {
		r := rand.New(rand.NewPCG(seed, 6))
		chain := []notebook.Settings{base}
		last := make([]Standing, len(results))
		for i := range results {
			last[i] = standBy(t, by, results[i], chain...)
		}
		for range 6 {
			chain = append(chain, wander(t, r, base, chain[len(chain)-1]))
			for i := range results {
				s := standBy(t, by, results[i], chain...)
				seen[s.State]++
				if worse(last[i], s) {
					t.Fatalf("seed %d, %s: from %s (%.4g, %.4g) to %s (%.4g, %.4g)", seed, results[i].Label, last[i].State, last[i].Likely, last[i].Far, s.State, s.Likely, s.Far)
				}
				// the same end, reached without the detour, is no worse
				if direct := standBy(t, by, results[i], base, chain[len(chain)-1]); worse(direct, s) {
					t.Fatalf("seed %d, %s: a detour made it fresher", seed, results[i].Label)
				}
				last[i] = s
			}
		}
	}
	for _, s := range []State{Fresh, Drifted, Stale} {
		if seen[s] < int(chains)/2 {
			t.Errorf("only %d results were %s: the chains test too little", seen[s], s)
		}
	}
}

// worse tells that b, after more change, stands better than a.
func worse(a, b Standing) bool {
	const same = 1e-9
	return rank[b.State] < rank[a.State] || b.Likely < a.Likely*(1-same)-same || b.Far < a.Far*(1-same)-same
}

// Two changes that are predicted to cancel do not bring a result back.
func TestChangesThatCancelAreAForecast(t *testing.T) {
	base := heron(t)
	both := with(t, base, "brace_height", "236 mm", "button", "3.8")
	s := stand(t, bareReading, base, both)
	alone := stand(t, bareReading, base, with(t, base, "brace_height", "236 mm"))
	if math.Abs(s.Net.Value) >= math.Abs(alone.Net.Value) || s.State != Stale || s.Far <= alone.Far {
		t.Errorf("net %.3f (alone %.3f), %s", s.Net.Value, alone.Net.Value, s.State)
	}
	if !strings.Contains(s.Sentence, "Take it again") {
		t.Error(s.Sentence)
	}
}
