package workbench

import (
	"cmp"
	"io"
	"slices"

	"tautline/group"
	"tautline/unit"
)

// TableAsk says what a table of arrows cannot say itself.
type TableAsk struct {
	Face  string      // a face's key; empty: none, so that nothing is scored
	Shaft unit.Length // diameter; 0: AssumedShaft
}

// ReadVolleys reads a table of arrows that is in no notebook, sorted by set-up
// and kind of arrow in the table's order.
func ReadVolleys(r io.Reader, ask TableAsk) ([]Volley, []string, error) {
	face, err := faceOf(ask.Face, "/face")
	if err != nil {
		return nil, nil, err
	}
	in, err := group.ReadCSV(r)
	if err != nil {
		return nil, nil, understandGroup(err)
	}
	sorter := shotSorter{face: face, shaft: cmp.Or(ask.Shaft, AssumedShaft), at: map[volleyOfTable]int{}, ends: map[endOfVolley]int{}}
	for _, s := range in.Shots {
		sorter.take(s)
	}
	if ask.Face == "" && sorter.useRings() {
		in.Warnings = append(in.Warnings, "the rings are taken for those of the 122 cm face; name another if it was one")
	}
	return sorter.list, in.Warnings, nil
}

// useRings takes the whole 122 cm face where rings are all that is known and
// no face was named.
func (t *shotSorter) useRings() (used bool) {
	whole, err := faceOf("122", "/face")
	if err != nil {
		return false
	}
	for i := range t.list {
		v := &t.list[i]
		if slices.ContainsFunc(v.Shots, func(s group.Shot) bool { return !s.Placed && s.Ring != "M" }) {
			v.Face, used = whole, true
		}
	}
	return used
}

type volleyOfTable struct {
	setup string
	kind  group.Kind
}

type endOfVolley struct{ volley, end int }

// shotSorter sorts shots into volleys.
type shotSorter struct {
	face  group.Face
	shaft unit.Length
	list  []Volley
	at    map[volleyOfTable]int
	ends  map[endOfVolley]int
}

func (t *shotSorter) take(s group.Shot) {
	i, known := t.at[volleyOfTable{s.Setup, s.Kind}]
	if !known {
		i = len(t.list)
		t.at[volleyOfTable{s.Setup, s.Kind}] = i
		t.list = append(t.list, Volley{Label: s.Setup, Kind: s.Kind, Face: t.face, Shaft: t.shaft})
	}
	v := &t.list[i]
	number := s.End
	end, known := t.ends[endOfVolley{i, number}]
	if !known {
		day := ""
		if !s.Time.IsZero() {
			day = s.Time.Format("2006-01-02")
		}
		v.Days = append(v.Days, day)
		end = len(v.Days)
		t.ends[endOfVolley{i, number}] = end
	}
	s.End = end
	v.Shots = append(v.Shots, s)
	v.Refs = append(v.Refs, ArrowRef{Number: number, Index: len(v.Shots) - 1})
}
