package workbench

import (
	"math"
	"testing"
)

// A height read before the nocking point moved by 2 mm must not pass for
// fresh: the vertical plane's own ensembles have 7 to 13 cm at 30 m for it
// (docs/theory/vertical.md). The sight moves no bare shaft, and another arrow
// is not bounded at all.
func TestHeightsHaveFloors(t *testing.T) {
	at30, at18 := Quantity{Kind: OfBareUp, Distance: 30}, Quantity{Kind: OfBareUp, Distance: 18}
	if f := floorOf("nocking_point.value", at30); f.once+f.per*0.002 < 0.07 {
		t.Errorf("2 mm of nocking point may do only %.3f m at 30 m", f.once+f.per*0.002)
	}
	if near, far := floorOf("rest.height", at18), floorOf("rest.height", at30); near.per >= far.per {
		t.Errorf("the floor is %.1f at 18 m and %.1f at 30 m", near.per, far.per)
	}
	if f := floorOf("sight_extension", at30); f != (floor{}) {
		t.Errorf("the sight moves a bare shaft: %+v", f)
	}
	if f := floorOf("arrow.spine", at30); !math.IsInf(f.once, 1) {
		t.Errorf("another shaft is bounded: %+v", f)
	}
}
