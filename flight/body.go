package flight

import (
	"math"

	"tautline/unit"
)

// Body is the arrow as the air sees it.
type Body struct {
	Mass     unit.Mass   // usual 14 to 35 g
	Length   unit.Length // nock's groove to the point's tip, usual 0.6 to 0.85 m
	Balance  unit.Length // centre of mass from the nock's groove
	Inertia  float64     // about the centre of mass across the shaft, kg m²
	Diameter unit.Length // of the shaft, usual 4 to 9.3 mm
	Vanes    Vanes       // zero for a bare shaft
	Drag     Drag
	Slopes   Slopes // zero takes EstimatedSlopes
}

// Vanes is the fletching; each vane is taken as a triangle-like shape whose tip
// is half as long as its root.
type Vanes struct {
	Count  int         // usual 3
	Height unit.Length // above the shaft's surface, usual 6 to 12 mm
	Size   unit.Length // along the shaft, usual 30 to 60 mm
	Place  unit.Length // of the middle, from the nock's groove
}

// Drag is the axial drag coefficient on the shaft's frontal area πd²/4 (eq. 6):
// Laminar below the Reynolds number Low, Turbulent above High, both on the
// diameter, a smooth step between.
type Drag struct {
	Laminar, Turbulent float64
	Low, High          float64
}

// ConstantDrag is the same coefficient at every speed.
func ConstantDrag(c float64) Drag { return Drag{Laminar: c, Turbulent: c, Low: 1, High: 2} }

// FletchedDrag rises from 1.56 to 2.6. 1.56 was measured with short vanes at a
// Reynolds number of 1.2e4 in a wind tunnel with magnetic suspension (Ortiz et
// al. 2020, read); 2.6 is the turbulent value at about 2e4 (Miyazaki 2020,
// read). The change was seen near 1.8e4 in free flight and is governed by
// attitude; the span 1.8e4 to 2.2e4 is ours.
func FletchedDrag() Drag { return Drag{1.56, 2.6, 1.8e4, 2.2e4} }

// BareDrag is that without vanes: 1.3 to 2.34. 1.3 is the laminar value of
// Miyazaki (2020, read), and 0.26 less than with short vanes; that the same
// difference holds when turbulent is an estimate.
func BareDrag() Drag { return Drag{1.3, 2.34, 1.8e4, 2.2e4} }

// Coefficient at a Reynolds number on the diameter.
func (d Drag) Coefficient(re float64) float64 {
	x := math.Min(1, math.Max(0, (re-d.Low)/(d.High-d.Low)))
	return d.Laminar + (d.Turbulent-d.Laminar)*x*x*(3-2*x)
}

// Slopes are the side-force coefficients. All are estimates.
type Slopes struct {
	// Crossflow is the drag coefficient of a cylinder square to the flow
	// (C_dc): 1.1 ± 0.2, textbooks' figure for Reynolds numbers of 200 to 2000.
	Crossflow float64
	// Friction is the factor of the laminar crossflow term (4 in eq. 3).
	Friction float64
	// Nose is the normal-force slope of the point on the shaft's frontal area,
	// per radian: 2 by slender-body theory, whatever its shape.
	Nose float64
	// VaneArea is the vanes' normal-force slope times area in m² (C_Nα·S).
	VaneArea float64
}

// EstimatedSlopes are the theoretical values for a body. The vanes' is
// Barrowman's formula for fins on a slender body (1967, recalled) with the
// chord's ratio of one half.
func (b Body) EstimatedSlopes() Slopes {
	s := Slopes{Crossflow: 1.1, Friction: 4, Nose: 2}
	v, d := b.Vanes, float64(b.Diameter)
	if v.Count > 0 && v.Height > 0 && v.Size > 0 {
		h, root := float64(v.Height), float64(v.Size)
		tip := root / 2
		// Mid-chord line of a swept-back vane whose rear edge is upright.
		mid := math.Hypot(h, (root-tip)/2)
		interference := 1 + d/2/(h+d/2)
		slope := 4 * float64(v.Count) * (h / d) * (h / d) / (1 + math.Sqrt(1+(2*mid/(root+tip))*(2*mid/(root+tip))))
		s.VaneArea = interference * slope * math.Pi * d * d / 4
	}
	return s
}

// Validate reports every field outside what the model is meant for.
func (b Body) Validate() error {
	l := float64(b.Length)
	limits := []limit{
		{"Mass", float64(b.Mass), 0.002, 0.2, 1e3, "g", "20 g"},
		mm("Length", b.Length, 0.2, 1.5, "750 mm"),
		mm("Balance", b.Balance, 0.01*l, l, "480 mm"),
		{"Inertia", b.Inertia, 1e-6, 0.1, 1, "kg m²", "0.0013 kg m²"},
		mm("Diameter", b.Diameter, 0.002, 0.02, "5.6 mm"),
		{"Vanes.Count", float64(b.Vanes.Count), 0, 6, 1, "", "3"},
		mm("Vanes.Height", b.Vanes.Height, 0, 0.05, "8 mm"),
		mm("Vanes.Size", b.Vanes.Size, 0, 0.2, "45 mm"),
		mm("Vanes.Place", b.Vanes.Place, 0, l, "52 mm"),
	}
	limits = append(limits, b.Drag.limits()...)
	if s := b.Slopes; s != (Slopes{}) {
		limits = append(limits,
			limit{"Slopes.Crossflow", s.Crossflow, 0, 10, 1, "", "1.1"},
			limit{"Slopes.Friction", s.Friction, 0, 40, 1, "", "4"},
			limit{"Slopes.Nose", s.Nose, 0, 20, 1, "per radian", "2"},
			limit{"Slopes.VaneArea", s.VaneArea, 0, 0.1, 1e6, "mm²", "400 mm²"})
	}
	return checkAll(limits)
}

func (d Drag) limits() []limit {
	return []limit{
		{"Drag.Laminar", d.Laminar, 0, 20, 1, "", "1.56"},
		{"Drag.Turbulent", d.Turbulent, 0, 20, 1, "", "2.6"},
		{"Drag.Low", d.Low, 0, 1e6, 1, "", "18000"},
		{"Drag.High", d.High - d.Low, 1e-3, 1e6, 1, "above Drag.Low", "4000 above it"},
	}
}
