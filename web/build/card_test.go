package main

import "testing"

// A pencil card's rows are read as they are written: rings, places in the
// person's unit with either decimal mark, a shaft's own number; what cannot be
// read is named and nothing of the row is kept.
func TestPencilRows(t *testing.T) {
	type impact struct {
		Arrow string   `json:"arrow"`
		X     *float64 `json:"x_m"`
		Y     *float64 `json:"y_m"`
		Ring  string   `json:"ring"`
		Bare  bool     `json:"bare"`
	}
	var said struct {
		Rings, Places, Inch, Bare, Few, Wrong, Far struct {
			Impacts []impact `json:"impacts"`
			Wrong   string   `json:"wrong"`
		}
	}
	inNode(t, "shoot/arrowscheck.ts", nil, &said)
	if r := said.Rings.Impacts; len(r) != 5 || r[0].Ring != "9" || r[2].Ring != "X" || r[3].Ring != "M" || r[4].Arrow != "11" || said.Rings.Wrong != "" {
		t.Errorf("rings: %+v", said.Rings)
	}
	if p := said.Places.Impacts; len(p) != 2 || *p[0].X != 0.03 || *p[0].Y != -0.025 || *p[1].X != -0.105 {
		t.Errorf("places: %+v", said.Places)
	}
	if p := said.Inch.Impacts; len(p) != 1 || *p[0].X != 0.0254 || *p[0].Y != -0.0508 {
		t.Errorf("inches: %+v", said.Inch)
	}
	if p := said.Bare.Impacts; len(p) != 6 || p[2].Bare || !p[3].Bare || !p[5].Bare {
		t.Errorf("bare shafts come last: %+v", said.Bare)
	}
	for name, r := range map[string]struct {
		Impacts []impact `json:"impacts"`
		Wrong   string   `json:"wrong"`
	}{"too few of a bare-shaft end": said.Few, "no ring of the face": said.Wrong, "off the butt": said.Far} {
		if r.Wrong == "" || len(r.Impacts) != 0 {
			t.Errorf("%s was taken: %+v", name, r)
		}
	}
}
