package report

import (
	"fmt"
	"math"

	"tautline/group"
	"tautline/internal/figure"
	"tautline/unit"
	"tautline/workbench"
)

// shaftFace is the face that a bare shaft at 18 m is drawn on.
const shaftFace = "60"

// ShaftFaces draws each shaft of a list on a target face at 18 m, all to one
// scale: where the bare shaft would land against the fletched group in the
// middle, with its doubt. The present arrow, if there is one, comes last.
func ShaftFaces(list workbench.ShaftList, system unit.System) []figure.Face {
	tries := list.Shafts
	if list.Present != nil {
		tries = append(append([]workbench.ShaftTry{}, tries...), *list.Present)
	}
	half := 0.32
	for _, v := range tries {
		s := v.Interval["bare_minus_fletched_18m_right_m"]
		half = max(half, 1.05*math.Abs(s[0]), 1.05*math.Abs(s[1]))
	}
	faces := make([]figure.Face, 0, len(tries))
	for _, v := range tries {
		faces = append(faces, oneShaft(v, half, system))
	}
	return faces
}

// oneShaft draws one.
func oneShaft(v workbench.ShaftTry, half float64, system unit.System) figure.Face {
	impact := system.ImpactStyle()
	s := v.Interval["bare_minus_fletched_18m_right_m"]
	f := figure.Face{
		Title: fmt.Sprintf("Bare shaft of spine %.0f at 18 m", v.Spine),
		Finding: fmt.Sprintf("The bare shaft would land %s of the fletched ones (%s), right positive.",
			side(v.Bare18, impact), impact.Range(unit.Length(s[0]), unit.Length(s[1]))),
		Half: half, Scale: 0.10, Bar: impact.Print(0.10),
		Note: "The bar holds 90 % of the plausible bows, buttons and releases. The face is 60 cm wide.",
		Places: []figure.Place{
			{Name: "fletched arrows", Shape: figure.Dot},
			{Name: "bare shaft", Shape: figure.Diamond, X: v.Bare18, Low: s[0], High: s[1]},
		},
	}
	face, err := group.FaceByKey(shaftFace)
	if err != nil {
		return f // a face without rings is still a picture
	}
	for _, z := range face.Zones[1:] {
		f.Rings = append(f.Rings, float64(z.Radius))
	}
	return f
}

// side says where a place lies.
func side(right float64, style unit.Style[unit.Length]) string {
	word := "right"
	if right < 0 {
		word = "left"
	}
	return style.Print(unit.Length(math.Abs(right))) + " " + word
}
