package arrow

import (
	"fmt"
	"math"
	"testing"

	"tautline/num"
	"tautline/unit"
)

// checkSpine: A1.
func checkSpine(t *testing.T) []row {
	var rows []row
	table := []struct{ inch, ei float64 }{
		{.300, 8.4876}, {.400, 6.3657}, {.500, 5.0925}, {.550, 4.6296}, {.600, 4.2438},
		{.670, 3.8004}, {.720, 3.5365}, {.850, 2.9956}, {1.000, 2.5463},
	}
	for _, c := range table {
		rows = append(rows, rel(fmt.Sprintf("EI, spine %.3f in", c.inch), c.ei, Stiffness(unit.Spine(c.inch*0.0254)), 5e-5, "N m²",
			"the table uses 8.62985 N (880 g), we 1.94 lbf: 3.5e-5; rounding 1.5e-5"))
	}
	rows = append(rows, rel("modern over older deflection", 1.21151, float64(OlderSpine(1)), 5e-6, "", "rounding"))
	// Aluminium tubes by their size code, E = 71.0 GPa.
	tubes := []struct {
		d, w int
		inch float64
	}{
		{17, 14, .980}, {17, 16, .878}, {18, 16, .732}, {19, 16, .617}, {20, 16, .524},
		{21, 14, .504}, {22, 13, .466}, {22, 19, .336}, {23, 14, .380},
	}
	for _, c := range tubes {
		outer, wall := float64(c.d)/64*0.0254, float64(c.w)/1000*0.0254
		inner := outer - 2*wall
		ei := 71e9 * math.Pi / 64 * (math.Pow(outer, 4) - math.Pow(inner, 4))
		rows = append(rows, row{
			what: fmt.Sprintf("tube %d%d, deflection", c.d, c.w), expected: c.inch, ours: Stiffness(0.0254) / ei,
			tol: 0.001, unit: "in", why: "printed to 0.001 in; 1714 and 2114 are cut there, not rounded",
		})
	}
	return rows
}

// plainShaft is a uniform tube with point masses at its ends and no rotary
// inertia.
func plainShaft(length, spine, density, nock, point float64) Design {
	return Design{
		Length: unit.Length(length), Spine: unit.Spine(spine), LinearDensity: density, Diameter: 0.006,
		Nock: unit.Mass(nock), Point: Point{Mass: unit.Mass(point)},
	}
}

// checkUniform: A2.
func checkUniform(t *testing.T) []row {
	a := mustArrow(t, plainShaft(0.7, 0.0127, 0.016, 0, 0), Resolution{})
	var rows []row
	f := a.Frequencies()
	for j, squared := range []float64{22.3733, 61.6728, 120.9034} {
		want := squared / (2 * math.Pi * 0.49) * math.Sqrt(Stiffness(0.0127)/0.016)
		rows = append(rows, rel(fmt.Sprintf("f%d", j+1), want, f[j], 5e-4, "Hz", "model.md section 9"))
	}
	nodes := [][]float64{{.2242, .7758}, {.1321, .5, .8679}}
	for j, want := range nodes {
		got := a.Nodes(j + 1)
		if len(got) != len(want) {
			t.Fatalf("mode %d has %d nodes, want %d", j+1, len(got), len(want))
		}
		for i, w := range want {
			rows = append(rows, row{
				what: fmt.Sprintf("mode %d node %d, x/L", j+1, i+1), expected: w, ours: float64(got[i]) / 0.7,
				tol: 1e-4, why: "rounding to 1e-4, interpolation between nodes",
			})
		}
	}
	return rows
}

// betaL turns a frequency into the beam parameter βL.
func betaL(f, length, ei, density float64) float64 {
	return length * math.Pow(4*math.Pi*math.Pi*f*f*density/ei, 0.25)
}

// checkEndMass: A4, every row of the table.
func checkEndMass(t *testing.T) []row {
	var rows []row
	const why = "1e-4, to which roots and a finite-element solve agree in the source"
	for _, c := range readTable(t, "data/beam_end_mass.csv") {
		const l, density, spine = 0.7, 0.01, 0.0127
		d := plainShaft(l, spine, density, c["mu_nock"]*density*l, c["mu_point"]*density*l)
		a := mustArrow(t, d, Resolution{})
		name := fmt.Sprintf("μ %g / %g", c["mu_nock"], c["mu_point"])
		for j, f := range a.Frequencies()[:3] {
			rows = append(rows, rel(fmt.Sprintf("%s, βL%d", name, j+1), c[fmt.Sprintf("betaL%d", j+1)], betaL(f, l, Stiffness(spine), density), 1e-4, "", why))
		}
		for j := 1; j <= 2; j++ {
			for i, s := range a.Nodes(j) {
				rows = append(rows, row{
					what:     fmt.Sprintf("%s, mode %d node %d, x/L", name, j, i+1),
					expected: c[fmt.Sprintf("mode%d_node%d_x_over_L", j, i+1)], ours: float64(s) / l, tol: 1e-4, why: "rounding to 1e-4",
				})
			}
		}
	}
	return rows
}

// checkWorkedShaft: A4, the tube 1714.
func checkWorkedShaft(t *testing.T) []row {
	const ei, density, l = 2.5965, 0.020063, 0.70
	spine := Stiffness(1) / ei
	var rows []row
	const why = "rounding of EI and of the frequencies, 1e-4 relative"
	bare := mustArrow(t, plainShaft(l, spine, density, 0, 0), Resolution{})
	for j, want := range []float64{82.67, 227.88, 446.74} {
		rows = append(rows, rel(fmt.Sprintf("bare f%d", j+1), want, bare.Frequencies()[j], 1e-4, "Hz", why))
	}
	loaded := mustArrow(t, plainShaft(l, spine, density, 0.0006, 0.0065), Resolution{})
	for j, want := range []float64{59.14, 179.81, 370.69} {
		rows = append(rows, rel(fmt.Sprintf("6.5 g point, 0.6 g nock, f%d", j+1), want, loaded.Frequencies()[j], 1e-4, "Hz", why))
	}
	return rows
}

// checkColumns: A5.
func checkColumns(t *testing.T) []row {
	rows := []row{rel("own weight, clamped-free, qL³/EI", 7.8373, selfBuckling(t), 1e-4, "", "rounding; 32 elements")}
	for _, c := range []struct{ ratio, load float64 }{
		{1, 9.8696}, {.75, 11.2640}, {.5, 13.0619}, {.4, 13.9284}, {.25, 15.4251}, {0, 18.5687},
	} {
		rows = append(rows, rel(fmt.Sprintf("pinned, P_point/P_nock %.2f, P_nock L²/EI", c.ratio), c.load, pinnedLoad(t, c.ratio), 1e-4, "", "rounding; 32 elements"))
	}
	// 0.600 in, 0.70 m, ratio 0.4: shaft 12 g, point 8 g.
	a := mustArrow(t, plainShaft(0.7, 0.6*0.0254, 0.012/0.7, 0, 0.008), Resolution{})
	return append(rows, rel("spine 0.600 in, 0.70 m, ratio 0.4: nock force", 120.6, float64(a.BucklingForce()), 1e-3, "N", "rounding"))
}

// pinnedLoad is P_nock L²/EI of a shaft whose point has the share ratio of the
// whole mass.
func pinnedLoad(t *testing.T, ratio float64) float64 {
	d := plainShaft(0.7, 0.0127, 1e-2, 0, 0)
	if ratio < 1 {
		d.Point.Mass = unit.Mass(ratio / (1 - ratio) * 7e-3)
	} else {
		d.LinearDensity, d.Point.Mass = 1e-9, 7e-3
	}
	b := newBeam(d, 32)
	p, err := b.bucklingForce(b.stiffness(), b.geometric())
	if err != nil {
		t.Fatal(err)
	}
	return p * 0.49 / b.ei
}

// selfBuckling is qL³/EI of a shaft standing on its nock.
func selfBuckling(t *testing.T) float64 {
	b := newBeam(plainShaft(0.7, 0.0127, 0.01, 0, 0), 32)
	n := b.size() - 2
	k, g := num.NewMatrix(n, n), num.NewMatrix(n, n)
	bk, bg := b.stiffness(), b.geometric()
	for i := range n {
		for j := range n {
			k.Set(i, j, bk.At(i+2, j+2))
			g.Set(i, j, bg.At(i+2, j+2))
		}
	}
	// Largest λ of G v = λ K v is the reciprocal of the critical acceleration.
	values, _, status := num.Modes(g, k)
	if err := status.Err("self-buckling"); err != nil {
		t.Fatal(err)
	}
	return b.mu / values[n-1] * math.Pow(b.length, 3) / b.ei
}

// checkPark: A6.
func checkPark(t *testing.T) []row {
	d := plainShaft(0.7, 0.6*0.0254, 0.011/0.7, 0.001, 0.0071)
	a := mustArrow(t, d, Resolution{})
	f, nodes := a.Frequencies(), a.Nodes(1)
	return []row{
		rel("worked arrow f1", 78.98, f[0], 2e-4, "Hz", "rounding of the inputs (shaft, point, nock mass recalled)"),
		rel("worked arrow f2", 247.19, f[1], 2e-4, "Hz", "as above; Park's 210–220 Hz is not asked of a uniform beam"),
		{what: "worked arrow, node from the nock", expected: 141, ours: nodes[0].Millimetres(), tol: 0.6, unit: "mm", why: "rounding"},
		{what: "worked arrow, node from the point", expected: 55, ours: 700 - nodes[1].Millimetres(), tol: 0.6, unit: "mm", why: "rounding"},
		within("mode 1 of a target arrow", 80*.9, 90*1.1, f[0], "Hz", "Park's 80–90 Hz, ± 10 %"),
		within("its node from the nock", 150*.9, 150*1.1, nodes[0].Millimetres(), "mm", "Park's about 150 mm, ± 10 %"),
		within("its node from the point", 50*.9, 50*1.1, 700-nodes[1].Millimetres(), "mm", "Park's about 50 mm, ± 10 %"),
	}
}
