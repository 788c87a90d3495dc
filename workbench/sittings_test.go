package workbench

import (
	"testing"
	"time"

	"tautline/notebook"
)

// An evening is one day wherever on Earth it is shot, and two mornings are two.
func TestSittingsAreNoDates(t *testing.T) {
	for hour := range 24 { // at which the first end is shot, in UTC
		var ends []notebook.End
		for day := range 3 {
			for n := range 12 {
				ends = append(ends, notebook.End{Stamp: notebook.Stamp{ID: notebook.NewID(), At: time.Date(2026, 5, 4+day, hour, 20*n, 0, 0, time.UTC)}})
			}
		}
		ends[0], ends[20] = ends[20], ends[0] // sent in another order
		of, names := sittingsOf(ends), map[string]int{}
		for _, e := range ends {
			names[of[e.ID]]++
		}
		if len(names) != 3 {
			t.Errorf("from %d:00 UTC: %v", hour, names)
		}
		for name, n := range names {
			if n != 12 {
				t.Errorf("from %d:00 UTC: %d ends in %s", hour, n, name)
			}
		}
	}
}
