package workbench

import (
	"slices"
	"time"

	"tautline/notebook"
)

// sittingGap is how long nothing was shot between two sittings. A night at home
// is longer, a club's day from morning to evening has no such gap (our choice).
const sittingGap = 6 * time.Hour

// sittingsOf names the sitting of every end, by its first end's time. What is
// shot on one day belongs together; a date cannot say so, since in UTC an evening
// by the Pacific has two.
func sittingsOf(ends []notebook.End) map[notebook.ID]string {
	inOrder := slices.SortedFunc(slices.Values(ends), func(a, b notebook.End) int { return a.At.Compare(b.At) })
	out, name := map[notebook.ID]string{}, ""
	for i, e := range inOrder {
		if i == 0 || e.At.Sub(inOrder[i-1].At) > sittingGap {
			name = e.At.UTC().Format(time.RFC3339)
		}
		out[e.ID] = name
	}
	return out
}
