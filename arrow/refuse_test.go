package arrow

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/unit"
)

// TestRefusals: what cannot be computed is refused, naming field and remedy.
func TestRefusals(t *testing.T) {
	nan := math.NaN()
	good, d := mustArrow(t, Generic(), Resolution{}), gridDrive(t)
	shoot := func(change func(*Setup)) error {
		set := gridSetup()
		change(&set)
		_, err := mustSim(t).Shoot(good, d, set)
		return err
	}
	design := func(change func(*Design)) error {
		x := Generic()
		change(&x)
		_, err := New(x, Resolution{})
		return err
	}
	table := func(change func(*DriveTable)) error {
		x := gridTable(t)
		change(&x)
		_, err := NewDrive(x)
		return err
	}
	for field, err := range map[string]error{
		"Length":          design(func(d *Design) { d.Length = unit.Length(nan) }),
		"Spine":           design(func(d *Design) { d.Spine = 0.54 }),
		"Point.Mass":      design(func(d *Design) { d.Point.Mass = 120 }),
		"Extras[0].Place": design(func(d *Design) { d.Extras = []Lump{{Mass: 0.001, Place: 3}} }),
		"Button.Preload":  shoot(func(s *Setup) { s.Button.Preload = -1 }),
		"CentreShot":      shoot(func(s *Setup) { s.CentreShot = 1 }),
		"Release":         shoot(func(s *Setup) { s.Release = HalfSine{0.2, 0} }),
		"Tips.Stiffness":  shoot(func(s *Setup) { s.Tips.Stiffness = unit.Stiffness(nan) }),
		"Tips.Rigid":      shoot(func(s *Setup) { s.Tips.Rigid, s.Riser = true, &Riser{Inertia: 0.2} }),
		"Drive.TipX":      shoot(func(s *Setup) { s.Riser = &Riser{Inertia: 0.2} }),
		"Button.Place":    shoot(func(s *Setup) { s.Button.Place = 0.3 }),
		"Drive.Time":      table(func(d *DriveTable) { d.Time[5] = 0 }),
		"Drive.Tension":   table(func(d *DriveTable) { d.Tension[7] = unit.Force(nan) }),
		"Drive.Speed":     table(func(d *DriveTable) { d.Speed = d.Speed[:5] }),
	} {
		var input *InputError
		switch {
		case !errors.As(err, &input):
			t.Errorf("%s: got %v, want an InputError", field, err)
		case !strings.Contains(err.Error(), field) || input.Try == "":
			t.Errorf("%s: the error does not name it or what to try: %v", field, err)
		}
	}
	short := Generic()
	short.Length = 0.65
	if _, err := mustSim(t).Shoot(mustArrow(t, short, Resolution{}), d, gridSetup()); err == nil || !strings.Contains(err.Error(), "short of the button") {
		t.Errorf("a shaft that does not reach the button: %v", err)
	}
	if _, err := mustSim(t).Shoot(nil, d, gridSetup()); err == nil {
		t.Error("no arrow was accepted")
	}
	soft := gridSetup()
	soft.Riser, soft.Tips.Stiffness = &Riser{Inertia: 0.2}, 60
	if _, err := mustSim(t).Shoot(good, withTips(t), soft); err == nil {
		t.Error("tips too soft to hold the string were accepted with a turning riser")
	}
}

// TestAlwaysFinite: whatever passes validation gives finite numbers.
func TestAlwaysFinite(t *testing.T) {
	d, s := withTips(t), mustSim(t)
	f := func(rt *rapid.T, name string, low, high float64) float64 {
		return rapid.Float64Range(low, high).Draw(rt, name)
	}
	rapid.Check(t, func(rt *rapid.T) {
		a, err := New(Design{
			Length: unit.Length(f(rt, "length", 0.70, 1.0)), Spine: unit.Spine(f(rt, "spine", 200, 2500)) * unit.ThousandthInch,
			LinearDensity: f(rt, "density", 0.005, 0.04), Diameter: 0.006, Nock: unit.Mass(f(rt, "nock", 0, 0.003)),
			Point:     Point{Mass: unit.Mass(f(rt, "point", 0, 0.03)), Behind: 0.01, Size: 0.05},
			Fletching: Fletching{Mass: 0.0005, Place: 0.05, Size: 0.045, Height: 0.008, Count: rapid.IntRange(1, 4).Draw(rt, "vanes")},
			Damping:   f(rt, "damping", 0, 0.05),
		}, Resolution{Elements: 16, Bending: 8})
		if err != nil {
			rt.Fatal(err)
		}
		set := randomSetup(rt)
		set.Button.Contact = unit.Stiffness(f(rt, "contact", 1e3, 2e5))
		set.Button.Damping = f(rt, "button damping", 0, 10)
		set.String = StringSide{Carried: unit.Mass(f(rt, "carried", 0, 0.01)), Damping: f(rt, "string damping", 0, 10)}
		if rapid.Bool().Draw(rt, "guided") {
			set.Release = Guided{unit.Length(f(rt, "aside", -0.004, 0.004)), 0.003}
		}
		r, err := s.Shoot(a, d, set)
		var gone *CollapseError
		switch {
		case errors.As(err, &gone) && gone.Ratio > 1.5:
			return
		case err != nil:
			rt.Fatal(err)
		}
		for _, v := range []float64{
			float64(r.Clear.Right), float64(r.Clear.RightSpeed), float64(r.Clear.YawRight), r.Clear.YawRate, float64(r.TailGap),
			float64(r.VaneRiserGap), float64(r.NockMax), float64(r.ButtonPeak), r.ThrustRatio, float64(r.RiserYawExit), r.Ringing[0].Amplitude,
		} {
			if math.IsNaN(v) || math.Abs(v) > 1e3 {
				rt.Fatalf("%+v", r)
			}
		}
	})
}

// TestHistory: the recorded steps agree with the result.
func TestHistory(t *testing.T) {
	a, d := mustArrow(t, Generic(), Resolution{}), gridDrive(t)
	r := mustShoot(t, Config{History: true}, a, d, gridSetup())
	h := r.History
	if h.Time[0] != 0 || math.Abs(float64(h.Time[h.Separation]-r.TimeOnString)) > 1e-12 || h.Time[len(h.Time)-1] != r.Clear.Time {
		t.Errorf("times %v, %v at separation, %v at the end; result %v, %v", h.Time[0], h.Time[h.Separation], h.Time[len(h.Time)-1], r.TimeOnString, r.Clear.Time)
	}
	peak, nock := unit.Force(0), unit.Length(-1)
	for i, p := range h.Push {
		peak = max(peak, p)
		if i <= h.Separation {
			nock = max(nock, h.Nock[i])
		}
	}
	if peak != r.ButtonPeak || math.Abs(float64(nock-r.NockMax)) > 1e-9 {
		t.Errorf("history: %v, nock %v; result: %v, %v", peak, nock, r.ButtonPeak, r.NockMax)
	}
	if got := a.Deflection(h.Amplitudes[h.Separation], 0); math.Abs(float64(got-r.NockLeaves)) > 1e-12 {
		t.Errorf("deflection at the nock %v, result %v", got, r.NockLeaves)
	}
	// At release the shaft lies straight from nock to button.
	if got := a.Deflection(h.Amplitudes[0], 0.692); math.Abs(float64(got-0.0005)) > 1e-9 {
		t.Errorf("shaft starts %v from the string plane at the button, want 0.5 mm", got)
	}
}

// TestYawInertia: a rod through the grip and a weight off it.
func TestYawInertia(t *testing.T) {
	if got := YawInertia(Rod{Mass: 0.3, From: -0.3, To: 0.3}, Rod{Mass: 0.1, From: 0.75, To: 0.75}, Rod{Mass: 0.05, From: -0.2, To: -0.2, Aside: 0.15}); math.Abs(got-(0.3*0.09/3+0.1*0.5625+0.05*(0.04+0.0225))) > 1e-12 {
		t.Errorf("got %g", got)
	}
}
