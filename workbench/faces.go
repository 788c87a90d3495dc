package workbench

import (
	"fmt"

	"tautline/group"
	"tautline/notebook"
)

// FaceView is a target face for a page to draw.
type FaceView struct {
	Key    string     `json:"key"`
	Name   string     `json:"name"`
	Spots  int        `json:"spots"` // centres on the sheet; places are measured from their own spot's centre
	Radius float64    `json:"radius_m"`
	Zones  []ZoneView `json:"zones"` // from the innermost outward; none on blank paper
	Rule   string     `json:"line_rule"`
}

// ZoneView is one scoring zone.
type ZoneView struct {
	Label  string  `json:"label"`
	Points int     `json:"points"`
	Radius float64 `json:"radius_m"` // outside edge of its line, which belongs to the zone
	Colour string  `json:"colour"`   // gold, red, blue, black, white
}

// lineRule says how arrows on a line are scored.
const lineRule = "An arrow that touches a line scores the higher zone; the line belongs to the higher zone (the international rule book's chapter on scoring)."

// FaceViews lists the faces known.
func FaceViews() []FaceView {
	var out []FaceView
	for _, f := range group.Faces() {
		v := FaceView{Key: f.Key, Name: f.Name, Spots: f.Spots, Radius: float64(f.Radius()), Zones: []ZoneView{}}
		for _, z := range f.Zones {
			v.Zones = append(v.Zones, ZoneView{z.Label, z.Points, float64(z.Radius), colourOf(z.Points)})
		}
		if len(f.Zones) > 0 {
			v.Rule = lineRule
		}
		out = append(out, v)
	}
	return out
}

// colourOf is the printed colour of a zone: gold 10 and 9, red 8 and 7, blue 6
// and 5, black 4 and 3, white 2 and 1. Five-zone faces score 9, 7, 5, 3, 1 on
// the same colours.
func colourOf(points int) string {
	return []string{"white", "white", "black", "black", "blue", "blue", "red", "red", "gold", "gold"}[max(points-1, 0)]
}

// faceOf finds a face for a field; an empty key is blank paper.
func faceOf(key, field string) (group.Face, error) {
	if key == "" {
		key = blankFace
	}
	f, err := group.FaceByKey(key)
	if err != nil {
		return f, &notebook.Error{Code: notebook.Invalid, Field: field, Message: fmt.Sprintf("%q is not a face known here", key), Hint: "one of " + faceKeys()}
	}
	return f, nil
}

func faceKeys() string {
	out := ""
	for i, f := range group.Faces() {
		if i > 0 {
			out += ", "
		}
		out += f.Key
	}
	return out
}
