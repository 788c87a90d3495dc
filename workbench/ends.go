package workbench

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"tautline/group"
	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
)

// AssumedShaft is the shaft's diameter where a set-up does not say: a usual
// outdoor shaft (common practice, no source).
const AssumedShaft unit.Length = 0.0055

// ArrowRef says where a shot stands in the notebook.
type ArrowRef struct {
	End    notebook.ID `json:"end_id,omitempty"` // empty for arrows that are in no notebook
	Number int         `json:"end"`              // the end's number as recorded
	Index  int         `json:"index"`            // of the impact within its end, from 0
}

// Volley is all arrows of one kind that one set-up shot at one distance, end
// by end: what a description is about.
type Volley struct {
	SetUp    notebook.ID
	Label    string      // the set-up in words
	Distance unit.Length // 0: not known
	Kind     group.Kind
	Face     group.Face // the face that most of the arrows were shot at
	Shaft    unit.Length
	Shots    []group.Shot // their End counts the volley's own ends from 1
	Refs     []ArrowRef   // beside Shots
	Days     []string     // beside the ends: the sitting each was shot in
	Others   []string     // other faces that some ends were shot at
}

// SetUpFacts is what the arrows need to know of a set-up.
type SetUpFacts struct {
	Label string
	Shaft unit.Length // diameter; 0: AssumedShaft
}

// StandingEnds drops every end that a later one corrects.
func StandingEnds(ends []notebook.End) []notebook.End { return notebook.Standing(ends) }

// volleyKey tells volleys apart.
type volleyKey struct {
	setup notebook.ID
	mm    int64
	kind  group.Kind
}

// Volleys sorts ends by set-up, distance and kind of arrow, in the order in
// which each was first shot. Every record is an end with a centre of its own.
func Volleys(ends []notebook.End, facts map[notebook.ID]SetUpFacts) ([]Volley, error) {
	at := map[volleyKey]int{}
	var list []Volley
	faces := map[volleyKey]map[string]int{}
	standing := StandingEnds(ends)
	sittings := sittingsOf(standing)
	for _, e := range standing {
		for _, kind := range []group.Kind{group.Fletched, group.Bare} {
			shots, refs := shotsOf(e, kind)
			if len(shots) == 0 {
				continue
			}
			key := volleyKey{e.SetUp, int64(math.Round(1e3 * float64(e.Distance.Value))), kind}
			i, known := at[key]
			if !known {
				i = len(list)
				at[key], faces[key] = i, map[string]int{}
				f := facts[e.SetUp]
				list = append(list, Volley{SetUp: e.SetUp, Label: f.Label, Shaft: cmp.Or(f.Shaft, AssumedShaft), Distance: e.Distance.Value, Kind: kind})
			}
			list[i].add(sittings[e.ID], shots, refs)
			faces[key][cmp.Or(e.Face, blankFace)] += len(shots)
		}
	}
	for key, i := range at {
		if err := list[i].settle(faces[key]); err != nil {
			return nil, err
		}
	}
	return list, nil
}

const blankFace = "blank"

// shotsOf reads the arrows of one kind from an end.
func shotsOf(e notebook.End, kind group.Kind) (shots []group.Shot, refs []ArrowRef) {
	for i, p := range e.Impacts {
		if p.Bare != (kind == group.Bare) {
			continue
		}
		s := group.Shot{Arrow: p.Arrow, Kind: kind, Ring: p.Ring, Time: p.At, Setup: string(e.SetUp)}
		if p.Placed() {
			s.Placed, s.Point = true, group.Point{Right: unit.Length(*p.X), Up: unit.Length(*p.Y)}
		}
		shots, refs = append(shots, s), append(refs, ArrowRef{e.ID, e.Number, i})
	}
	return shots, refs
}

// add appends an end of a sitting.
func (v *Volley) add(sitting string, shots []group.Shot, refs []ArrowRef) {
	v.Days = append(v.Days, sitting)
	for i := range shots {
		shots[i].End = len(v.Days)
	}
	v.Shots, v.Refs = append(v.Shots, shots...), append(v.Refs, refs...)
}

// settle chooses the face that most arrows were shot at.
func (v *Volley) settle(faces map[string]int) error {
	keys := sortedBy(faces, func(a, b string) int { return cmp.Or(faces[b]-faces[a], cmp.Compare(a, b)) })
	face, err := faceOf(keys[0], "/face")
	if err != nil {
		return err
	}
	v.Face, v.Others = face, keys[1:]
	return nil
}

func sortedBy[V any](m map[string]V, compare func(a, b string) int) (keys []string) {
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, compare)
	return keys
}

// Placed are the arrows whose place is known, with their references.
func (v Volley) Placed() (shots []group.Shot, refs []ArrowRef) {
	if !slices.ContainsFunc(v.Shots, func(s group.Shot) bool { return !s.Placed }) {
		return v.Shots, v.Refs
	}
	for i, s := range v.Shots {
		if s.Placed {
			shots, refs = append(shots, s), append(refs, v.Refs[i])
		}
	}
	return shots, refs
}

// Sample gives the placed arrows end by end, for a comparison.
func (v Volley) Sample() trial.Sample {
	var out trial.Sample
	last := 0
	for _, s := range v.Shots {
		if !s.Placed {
			continue
		}
		if s.End != last || len(out) == 0 {
			out, last = append(out, nil), s.End
		}
		end := &out[len(out)-1]
		*end = append(*end, trial.Point{Right: s.Right, Up: s.Up})
	}
	return out
}

// CheckFace demands that a face is known and that the rings called are printed
// on it.
func CheckFace(e notebook.End) error {
	var found notebook.Problems
	face, err := faceOf(e.Face, "/face")
	if err != nil {
		return err
	}
	for i, p := range e.Impacts {
		if p.Ring == "" {
			continue
		}
		field := fmt.Sprintf("/impacts/%d/ring", i)
		if len(face.Zones) == 0 {
			found = append(found, notebook.Error{Code: notebook.Invalid, Field: field, Message: "blank paper has no rings", Hint: "leave the ring out, or choose the face that was shot at"})
			continue
		}
		if _, ok := face.ZoneByLabel(p.Ring); !ok {
			found = append(found, notebook.Error{Code: notebook.Invalid, Field: field, Message: fmt.Sprintf("the face %s has no ring %s", face.Name, p.Ring), Hint: "it has " + zoneList(face)})
		}
	}
	return found.OrNil()
}

func zoneList(f group.Face) string {
	out := ""
	for _, z := range f.Zones {
		out += z.Label + ", "
	}
	return out + "and M for a miss"
}

// Score gives the ring and the points of every arrow of an end: as called, or
// by the face's line rule where only the place is known. Arrows on blank paper
// have neither.
func Score(e notebook.End, shaft unit.Length) (rings []string, points int, scored bool) {
	face, err := faceOf(e.Face, "/face")
	if err != nil || len(face.Zones) == 0 {
		return make([]string, len(e.Impacts)), 0, false
	}
	for _, p := range e.Impacts {
		var zone group.Zone
		if p.Ring != "" {
			zone, _ = face.ZoneByLabel(p.Ring)
		} else {
			zone = face.Score(group.Point{Right: unit.Length(*p.X), Up: unit.Length(*p.Y)}, cmp.Or(shaft, AssumedShaft))
		}
		rings, points = append(rings, zone.Label), points+zone.Points
	}
	return rings, points, true
}

// EndsFromShots makes ends of shots read from a table, without an identity:
// what a person may keep as they stand. Shots of one set-up and end number
// share an end, in the table's order.
func EndsFromShots(shots []group.Shot) []notebook.End {
	type key struct {
		setup string
		end   int
	}
	at := map[key]int{}
	var ends []notebook.End
	for _, s := range shots {
		k := key{s.Setup, s.End}
		i, known := at[k]
		if !known {
			i = len(ends)
			at[k] = i
			ends = append(ends, notebook.End{Number: s.End, Note: s.Setup})
		}
		p := notebook.Impact{Arrow: s.Arrow, Ring: s.Ring, Bare: s.Kind == group.Bare, At: s.Time}
		if s.Placed {
			x, y := float64(s.Right), float64(s.Up)
			p.X, p.Y = &x, &y
		}
		ends[i].Impacts = append(ends[i].Impacts, p)
	}
	return ends
}

// FactsOf reads what the arrows need to know of a set-up.
func FactsOf(s notebook.SetUp) SetUpFacts {
	label := s.Reason
	if !s.At.IsZero() {
		label = strings.TrimSuffix(s.At.UTC().Format("2006-01-02")+": "+s.Reason, ": ")
	}
	return SetUpFacts{Label: label, Shaft: s.Settings.Arrow.Diameter.Value}
}
