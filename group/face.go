package group

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Point is a place on the face, from its centre.
type Point struct {
	Right unit.Length // as seen from the shooting line
	Up    unit.Length
}

// Radius is the distance from the centre.
func (p Point) Radius() unit.Length {
	return unit.Length(math.Hypot(float64(p.Right), float64(p.Up)))
}

// Zone is one scoring zone of a face: everything inside Radius that is not in
// a smaller zone.
type Zone struct {
	Radius unit.Length // outside edge of its line, which belongs to the zone
	Points int
	Label  string // "X", "10" … "1"
}

// Face is a target face. Zones are ordered from the innermost outward; a face
// without zones is blank paper.
type Face struct {
	Key   string // "122", "80/6", "40x3", "blank"
	Name  string
	Zones []Zone
	Spots int // scoring centres on the sheet: 1, or 3 on triple faces; a Point is measured from its own spot's centre
}

// Miss is the zone of an arrow that hits no other.
var Miss = Zone{Radius: unit.Length(math.Inf(1)), Points: 0, Label: "M"}

// Radius is the outside of the outermost zone; 0 on blank paper.
func (f Face) Radius() unit.Length {
	if len(f.Zones) == 0 {
		return 0
	}
	return f.Zones[len(f.Zones)-1].Radius
}

// RingWidth is the width of the outermost ring; 0 on blank paper.
func (f Face) RingWidth() unit.Length {
	if n := len(f.Zones); n > 1 {
		return f.Zones[n-1].Radius - f.Zones[n-2].Radius
	}
	return f.Radius()
}

// Score returns the zone of an arrow whose axis meets the face at p. A shaft
// that touches a line scores the higher zone, and the line belongs to the
// higher zone, so an arrow scores a zone if its centre lies within the zone's
// radius plus the shaft's.
func (f Face) Score(p Point, shaft unit.Length) Zone {
	r := p.Radius() - shaft/2
	for _, z := range f.Zones {
		// A tenth of a micrometre forgives rounding of a measured touch.
		if r <= z.Radius+1e-7 {
			return z
		}
	}
	return Miss
}

// Best is the highest number of points an arrow can score.
func (f Face) Best() int {
	best := 0
	for _, z := range f.Zones {
		best = max(best, z.Points)
	}
	return best
}

// ZoneByLabel finds a zone by what is written on a score sheet: "X", "10" …
// "1", "M" or "0" for a miss.
func (f Face) ZoneByLabel(label string) (Zone, bool) {
	if label == "M" || label == "m" || label == "0" {
		return Miss, true
	}
	for _, z := range f.Zones {
		if z.Label == label || z.Label == "X" && label == "x" {
			return z, true
		}
	}
	return Zone{}, false
}

// Faces lists the faces known here. Dimensions and the line rule: the
// international rule book's chapter on target faces (122 cm rings G9, read on
// a secondary page and recomputed; 80, 60, 40 cm and the inner ten recalled).
// Reduced faces carry the inner rings of the whole face.
func Faces() []Face {
	return []Face{
		tenRing("122", "122 cm", 1.22, 1, 1), tenRing("122/6", "122 cm, rings 5 to 10", 1.22, 5, 1),
		tenRing("80", "80 cm", 0.80, 1, 1), tenRing("80/6", "80 cm, rings 5 to 10", 0.80, 5, 1), tenRing("80/5", "80 cm, rings 6 to 10", 0.80, 6, 1),
		tenRing("60", "60 cm", 0.60, 1, 1), tenRing("60x3", "60 cm triple, rings 6 to 10", 0.60, 6, 3),
		tenRing("40", "40 cm", 0.40, 1, 1), tenRing("40x3", "40 cm triple, rings 6 to 10", 0.40, 6, 3),
		fiveZone("122/colours", "122 cm, five zones", 1.22),
		{Key: "blank", Name: "blank paper", Spots: 1},
	}
}

// FaceByKey finds one of Faces.
func FaceByKey(key string) (Face, error) {
	var known []string
	for _, f := range Faces() {
		if f.Key == key {
			return f, nil
		}
		known = append(known, f.Key)
	}
	return Face{}, bad("face", fmt.Sprintf("choose one of %v", known), "%q is not a face known here", key)
}

// tenRing builds a face of ten rings of equal width and an inner ten of half
// the ten's radius, down to the lowest ring carried.
func tenRing(key, name string, diameter float64, lowest, spots int) Face {
	w := diameter / 20
	f := Face{Key: key, Name: name, Spots: spots, Zones: []Zone{{unit.Length(w / 2), 10, "X"}}}
	for p := 10; p >= lowest; p-- {
		f.Zones = append(f.Zones, Zone{unit.Length(w * float64(11-p)), p, fmt.Sprint(p)})
	}
	return f
}

// fiveZone is the same print scored by colours: 9, 7, 5, 3, 1.
func fiveZone(key, name string, diameter float64) Face {
	f := Face{Key: key, Name: name, Spots: 1}
	for i := 1; i <= 5; i++ {
		points := 11 - 2*i
		f.Zones = append(f.Zones, Zone{unit.Length(diameter / 10 * float64(i)), points, fmt.Sprint(points)})
	}
	return f
}
