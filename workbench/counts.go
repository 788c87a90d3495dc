package workbench

import (
	"cmp"
	"slices"
	"time"

	"tautline/notebook"
)

// Counts are the shots that a bow's string and arrows have seen, as far as
// they were noted: what was not noted is not in them.
type Counts struct {
	String StringCount
	Arrows []ArrowCount
}

// StringCount is the present string's.
type StringCount struct {
	Since time.Time // the set-up that put it on
	Said  int       // on it when it was last written down
	Noted int       // shot since, from ends and readings
}

// ArrowCount is one shaft's, by the number on it.
type ArrowCount struct {
	Arrow string
	Shots int
	Bare  int // of these, without fletching
	Last  time.Time
}

// Counts adds up ends and noted arrows.
func (b BowRecords) Counts() Counts {
	var out Counts
	out.String = b.stringCount()
	byArrow := map[string]*ArrowCount{}
	for _, e := range b.validEnds() {
		for _, i := range e.Impacts {
			if i.Arrow == "" {
				continue
			}
			c := byArrow[i.Arrow]
			if c == nil {
				c = &ArrowCount{Arrow: i.Arrow}
				byArrow[i.Arrow] = c
			}
			c.Shots++
			if i.Bare {
				c.Bare++
			}
			if e.At.After(c.Last) {
				c.Last = e.At
			}
		}
	}
	for _, c := range byArrow {
		out.Arrows = append(out.Arrows, *c)
	}
	slices.SortFunc(out.Arrows, func(a, c ArrowCount) int {
		return cmp.Or(cmp.Compare(len(a.Arrow), len(c.Arrow)), cmp.Compare(a.Arrow, c.Arrow))
	})
	return out
}

// stringCount begins at the last set-up that put a string on, and again where
// a later set-up says how much is on it.
func (b BowRecords) stringCount() (out StringCount) {
	if len(b.SetUps) == 0 {
		return out
	}
	on, said := 0, -1
	for i := 1; i < len(b.SetUps); i++ {
		if otherString(b.SetUps[i-1].Settings, b.SetUps[i].Settings) {
			on, said = i, -1
		}
	}
	for i := on; i < len(b.SetUps); i++ {
		n := b.SetUps[i].Settings.String.Shots
		if n != nil && (said < 0 || *n != *b.SetUps[said].Settings.String.Shots) {
			said, out.Said = i, *n
		}
	}
	out.Since = b.SetUps[on].At
	out.Noted = b.shotsSince(b.SetUps[max(on, said)].At)
	return out
}

// otherString tells whether a set-up put another string on.
func otherString(a, b notebook.Settings) bool {
	for _, d := range differences(a, b) {
		switch d.Key {
		case "string.length", "string.strands", "string.material", "string.shots_on_it":
			return true
		}
	}
	return false
}

// shotsSince counts the arrows of ends, and those noted as a number.
func (b BowRecords) shotsSince(t time.Time) (n int) {
	for _, e := range b.validEnds() {
		if !e.At.Before(t) {
			n += len(e.Impacts)
		}
	}
	for _, r := range b.valid() {
		if r.Kind == notebook.ReadArrows && !r.At.Before(t) {
			n += int(r.Value)
		}
	}
	return n
}
