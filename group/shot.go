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

// placed returns the shots that have a place, which are not to be changed; it
// refuses numbers that are not.
func placed(shots []Shot) ([]Shot, error) {
	n := 0
	for i := range shots {
		s := &shots[i]
		if !s.Placed {
			continue
		}
		if r := float64(s.Radius()); !(r <= farthest) {
			return nil, bad(shotField(i), "give both coordinates, such as 3.2 cm and -1.5 cm", "the place is not a number, or beyond any field")
		}
		n++
	}
	return only(shots, n, func(s *Shot) bool { return s.Placed }), nil
}

// only gives the n shots that are meant: the list itself where all are.
func only(shots []Shot, n int, meant func(*Shot) bool) []Shot {
	if n == len(shots) {
		return shots
	}
	list := make([]Shot, 0, n)
	for i := range shots {
		if meant(&shots[i]) {
			list = append(list, shots[i])
		}
	}
	return list
}

// farthest is a place that no arrow reaches, in metres: squares of it stay
// numbers.
const farthest = 1e4

// byEnd splits shots into ends, in order of the ends' numbers. Shots of an end
// that stand together are not copied.
func byEnd(shots []Shot) [][]Shot {
	at := map[int]int{}
	var ends [][]Shot
	for i, j := 0, 0; i < len(shots); i = j {
		for j = i + 1; j < len(shots) && shots[j].End == shots[i].End; j++ {
		}
		end := shots[i].End
		if k, known := at[end]; known {
			ends[k] = append(ends[k], shots[i:j]...)
		} else {
			at[end], ends = len(ends), append(ends, shots[i:j:j])
		}
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
