//go:build unix

package drill

import (
	"strings"
	"testing"
	"time"
)

// D10's bars find what they are for (bars.md T22, T23).
func TestBarsOfTheBadDay(t *testing.T) {
	many := func(n int, took time.Duration) (out []time.Duration) {
		for range n {
			out = append(out, took)
		}
		return out
	}
	quick, slow := many(990, 5*time.Millisecond), many(20, 400*time.Millisecond)
	for _, c := range []struct {
		name  string
		f     *Figures
		bar   bar
		timed bool
		want  string // "" for none
	}{
		{"a good evening", &Figures{Codes: map[int]int{200: 990}, took: quick}, calmBar, true, ""},
		{"slow answers", &Figures{Codes: map[int]int{200: 1010}, took: append(slow, quick...)}, calmBar, true, "p99 is 400ms"},
		{"slow answers on a shared machine", &Figures{Codes: map[int]int{200: 1010}, took: append(slow, quick...)}, calmBar, false, ""},
		{"one refusal at the usual pace", &Figures{Codes: map[int]int{200: 990, 429: 1}, took: quick, refused: many(1, time.Millisecond)}, calmBar, true, "refused at the usual pace"},
		{"nearly all refused", &Figures{Codes: map[int]int{200: 990, 503: 2000}, took: quick, refused: many(2000, time.Millisecond)}, busyBar, false, "half is refused"},
		{"no answer", &Figures{Codes: map[int]int{503: 2000}, refused: many(2000, time.Millisecond)}, overBar, false, "nothing was answered"},
		{"shed in time", &Figures{Codes: map[int]int{200: 990, 503: 2000}, took: quick, refused: many(2000, time.Millisecond)}, overBar, true, ""},
		{"shed too late", &Figures{Codes: map[int]int{200: 990, 503: 2000}, took: quick, refused: many(2000, 80*time.Millisecond)}, overBar, true, "p99 of refusals"},
		{"one of a few refusals late", &Figures{Codes: map[int]int{200: 990, 503: 75}, took: quick, refused: append(many(74, time.Millisecond), 60*time.Millisecond)}, overBar, true, ""},
		{"two of a few refusals late", &Figures{Codes: map[int]int{200: 990, 503: 75}, took: quick, refused: append(many(73, time.Millisecond), 60*time.Millisecond, 70*time.Millisecond)}, overBar, true, "p99 of refusals"},
		{"never sheds", &Figures{Codes: map[int]int{200: 990}, took: quick}, overBar, true, "nothing was refused"},
	} {
		got := strings.Join(c.bar.faults(c.f, c.timed), "; ")
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
