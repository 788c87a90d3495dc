package arrow

import (
	"fmt"
	"math"
	"testing"

	"tautline/unit"
)

// checkIndependentModes: the arrow of data/independent.json.
func checkIndependentModes(t *testing.T) []row {
	want, tol := readIndependent(t).expected(t, "arrow_modes")
	a := mustArrow(t, Generic(), Resolution{})
	var rows []row
	for j := range 4 {
		rows = append(rows, rel(fmt.Sprintf("f%d", j+1), want[fmt.Sprintf("f%d", j+1)], a.Frequencies()[j], tol["f_rel"], "Hz", "the case's own"))
	}
	d := a.Design()
	return append(rows,
		rel("mass", want["mass"]*1e3, d.Mass().Grams(), 1e-5, "g", "printed to 1e-7 kg; the grain itself is rounded in the case"),
		rel("centre of mass", want["s_cg"]*1e3, d.Balance().Millimetres(), 2e-6, "mm", "printed digits"),
		rel("inertia about it", want["I_cg"]*1e3, d.Inertia()*1e3, 1e-5, "g m²", "printed digits"),
	)
}

// checkIndependentShot: every quantity the case gives a tolerance for. In the
// case + is the archer's left, the archer right-handed: outward.
func checkIndependentShot(t *testing.T) []row {
	want, tol := readIndependent(t).expected(t, "arrow_shot_grid_button_series")
	a := mustArrow(t, Generic(), Resolution{})
	r := mustShoot(t, Config{}, a, gridDrive(t), gridSetup())
	ours := map[string]float64{
		"vy": -float64(r.Separation.RightSpeed), "psi": -float64(r.Separation.YawRight), "psid": -r.Separation.YawRate,
		"nock_max": float64(r.NockMax), "nock_sep": float64(r.NockLeaves),
		"t_last": float64(r.LastContact), "tail_gap": float64(r.TailGap),
	}
	names := []struct{ key, what, unit string }{
		{"vy", "centre of mass outward", "m/s"}, {"psi", "yaw at separation", "rad"}, {"psid", "yaw rate", "rad/s"},
		{"nock_max", "nock's greatest place", "m"}, {"nock_sep", "nock's place at separation", "m"},
		{"t_last", "last contact with the button", "s"}, {"tail_gap", "tail gap", "m"},
	}
	var rows []row
	for _, n := range names {
		rows = append(rows, row{what: n.what, expected: want[n.key], ours: ours[n.key], tol: tol[n.key], unit: n.unit, why: "the case's own"})
	}
	return append(rows, row{
		what: "button's travel", expected: want["dmax"] * 1e3, ours: r.ButtonTravel.Millimetres() / (40. / 41), tol: 0.02, unit: "mm",
		why: "the case counts wall and spring together and lets the damper set in with a jump; 0.01 mm is 0.01 N of spring",
	})
}

// checkParadox: A7.
func checkParadox(t *testing.T) []row {
	a := mustArrow(t, Generic(), Resolution{})
	r := mustShoot(t, Config{History: true}, a, gridDrive(t), gridSetup())
	d := gridDrive(t)
	rows := []row{within("last contact with the button over time on the string", 0, 1, float64(r.LastContact/r.TimeOnString), "", "the arrow leaves the button before the string (read)")}
	for _, law := range []struct {
		name string
		law  Release
	}{
		{"half sine, κ 0.2", HalfSine{0.2, 0.003}}, {"fading, κ 0.12", Fading{0.12, 0.003}}, {"guided, 2 mm", Guided{0.002, 0.003}},
	} {
		set := gridSetup()
		set.Release = law.law
		h := mustShoot(t, Config{History: true}, a, d, set).History
		rows = append(rows, within("nock aside after 3 mm of travel, "+law.name, 1, 3, nockAfter(d, h, 0.003)*1e3, "mm", "about 2 mm over about 3 mm, ± 50 % (second-hand)"))
	}
	return rows
}

// nockAfter interpolates the nock's place outward at a travel.
func nockAfter(d *Drive, h *History, travel float64) float64 {
	grid := make([]instant, 2001)
	d.sample(grid, 0.018)
	k := 0
	for grid[k].travel < travel {
		k++
	}
	i := 0
	for float64(h.Time[i]) < grid[k].t {
		i++
	}
	f := (grid[k].t - float64(h.Time[i-1])) / float64(h.Time[i]-h.Time[i-1])
	return float64(h.Nock[i-1]) + f*float64(h.Nock[i]-h.Nock[i-1])
}

// TestReleaseLaws: each law pushes outward, ends at its reach, and scales.
func TestReleaseLaws(t *testing.T) {
	for _, law := range []Release{HalfSine{0.2, 0.003}, Fading{0.2, 0.003}, Guided{0.0015, 0.003}} {
		f := Fingers{Travel: 0.001, Rate: 5, Draw: 190}
		if push := law.Push(f); !(push > 0) {
			t.Errorf("%T pushes %g N at 1 mm, want outward", law, push)
		}
		f.Travel = float64(law.Reach()) * 1.0001
		if push := law.Push(f); push != 0 {
			t.Errorf("%T pushes %g N beyond its reach", law, push)
		}
	}
	f := Fingers{Travel: 0.0015, Rate: 5, Draw: 200}
	if got := (HalfSine{0.2, 0.003}).Push(f); math.Abs(got-40) > 1e-12 {
		t.Errorf("half sine peaks at %g N, want κ·F = 40 N", got)
	}
	if got := (Fading{0.2, 0.003}).Push(f); math.Abs(got-20) > 1e-12 {
		t.Errorf("fading gives %g N half way, want κ·F/2 = 20 N", got)
	}
}

// TestButtonLaw: the force law piece by piece, closed form.
func TestButtonLaw(t *testing.T) {
	p := newPlunger(Button{Preload: 1.5, Stiffness: 1000, Damping: 1, Travel: 0.004, Contact: 40000})
	series := 1000. * 40000 / 41000
	knee := 1.5 / 40000
	stop := 0.004 * 41 / 40
	cases := []struct {
		what            string
		pen, rate, want float64
	}{
		{"apart", -1e-4, 1, 0},
		{"wall only", knee / 2, 0, 0.75},
		{"at the preload", knee, 0, 1.5},
		{"spring", knee + 1e-3, 0, 1.5 + series*1e-3},
		{"with damper", knee + 1e-3, 0.5, 1.5 + series*1e-3 + 0.5},
		{"damper half in", knee / 2, 0.5, 0.75 + 0.25},
		{"never pulls", knee / 2, -10, 0},
		{"at the stop", knee + stop, 0, 1.5 + series*stop},
		{"beyond the stop", knee + stop + 1e-4, 0, 1.5 + series*stop + 2},
	}
	for _, c := range cases {
		if got := p.force(c.pen, c.rate); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %g N, want %g", c.what, got, c.want)
		}
	}
	if got := p.travel(knee + stop); math.Abs(got-0.004) > 1e-12 {
		t.Errorf("plunger moved %g m at its stop, want 0.004", got)
	}
	// Two springs one behind the other: the same force in both.
	pen := knee + 2e-3
	d := p.travel(pen)
	if wall, spring := 40000*(pen-d), 1.5+1000*d; math.Abs(wall-spring) > 1e-9 || math.Abs(wall-p.force(pen, 0)) > 1e-9 {
		t.Errorf("wall carries %g N, spring %g N, law says %g N", wall, spring, p.force(pen, 0))
	}
}

// TestBareAndTaped: tape keeps mass and balance, taking vanes off does not.
func TestBareAndTaped(t *testing.T) {
	d := Generic()
	taped, bare := d.BareTaped(), d.Bare()
	if taped.Mass() != d.Mass() || taped.Balance() != d.Balance() || taped.Inertia() != d.Inertia() {
		t.Errorf("taped: %v %v, fletched %v %v", taped.Mass(), taped.Balance(), d.Mass(), d.Balance())
	}
	if lost := d.Mass() - bare.Mass(); math.Abs(float64(lost-d.Fletching.Mass)) > 1e-12 {
		t.Errorf("bare lost %v, vanes weigh %v", lost, d.Fletching.Mass)
	}
	if bare.FOC() <= d.FOC() {
		t.Errorf("without vanes the balance moves forward: FOC %.4f, fletched %.4f", bare.FOC(), d.FOC())
	}
	if len(d.Extras) != 0 {
		t.Error("BareTaped changed its receiver")
	}
	a, b := mustArrow(t, d, Resolution{}), mustArrow(t, taped, Resolution{})
	for j, f := range a.Frequencies() {
		if math.Abs(b.Frequencies()[j]/f-1) > 1e-12 {
			t.Errorf("mode %d: taped %g Hz, fletched %g Hz", j+1, b.Frequencies()[j], f)
		}
	}
}

// TestWithSpine: scaling the frequencies is the same as solving again.
func TestWithSpine(t *testing.T) {
	a := mustArrow(t, Generic(), Resolution{})
	soft, err := a.WithSpine(700 * unit.ThousandthInch)
	if err != nil {
		t.Fatal(err)
	}
	d := Generic()
	d.Spine = 700 * unit.ThousandthInch
	again := mustArrow(t, d, Resolution{})
	drive := gridDrive(t)
	r1, r2 := mustShoot(t, Config{}, soft, drive, gridSetup()), mustShoot(t, Config{}, again, drive, gridSetup())
	if math.Abs(r1.Clear.YawRate-r2.Clear.YawRate) > 1e-6 || math.Abs(r1.ThrustRatio-r2.ThrustRatio) > 1e-9 {
		t.Errorf("scaled: %.9f rad/s, ratio %.9f; solved: %.9f, %.9f", r1.Clear.YawRate, r1.ThrustRatio, r2.Clear.YawRate, r2.ThrustRatio)
	}
	if _, err := a.WithSpine(0); err == nil {
		t.Error("a spine of zero was accepted")
	}
}
