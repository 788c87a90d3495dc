package group

import (
	"slices"
	"time"

	"tautline/unit"
)

// Kind tells fletched arrows from bare shafts.
type Kind string

const (
	Fletched Kind = "fletched" // default
	Bare     Kind = "bare"
)

// Shot is one arrow on the face: a place, or only a ring.
type Shot struct {
	End   int    // 1, 2 …; arrows of one end share a centre
	Arrow string // number on the shaft; empty: not known
	Kind  Kind
	Point // valid if Placed
	// Placed says that Right and Up are known. Otherwise Ring is.
	Placed bool
	Ring   string    // "X", "10" … "1", "M"; empty: not scored
	Setup  string    // which set-up shot it; empty: the only one
	Time   time.Time // zero: not known
}

// At is a placed shot, for building groups in code.
func At(end int, right, up unit.Length) Shot {
	return Shot{End: end, Kind: Fletched, Point: Point{right, up}, Placed: true}
}

// placed returns the shots that have a place; it refuses numbers that are not.
func placed(shots []Shot) ([]Shot, error) {
	var list []Shot
	for i, s := range shots {
		if !s.Placed {
			continue
		}
		if r := float64(s.Radius()); !(r <= farthest) {
			return nil, bad(shotField(i), "give both coordinates, such as 3.2 cm and -1.5 cm", "the place is not a number, or beyond any field")
		}
		list = append(list, s)
	}
	return list, nil
}

// farthest is a place that no arrow reaches, in metres: squares of it stay
// numbers.
const farthest = 1e4

// byEnd splits shots into ends, in order of the ends' numbers.
func byEnd(shots []Shot) [][]Shot {
	at := map[int]int{}
	var ends [][]Shot
	for _, s := range shots {
		i, known := at[s.End]
		if !known {
			i = len(ends)
			at[s.End] = i
			ends = append(ends, nil)
		}
		ends[i] = append(ends[i], s)
	}
	slices.SortStableFunc(ends, func(a, b []Shot) int { return a[0].End - b[0].End })
	return ends
}

// Centre is the mean place of the shots.
func Centre(shots []Shot) Point {
	var c Point
	n := unit.Length(len(shots))
	for _, s := range shots {
		c.Right += s.Right / n
		c.Up += s.Up / n
	}
	return c
}
