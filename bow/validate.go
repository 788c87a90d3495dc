package bow

import (
	"errors"
	"fmt"
	"math"

	"tautline/unit"
)

// InputError says which input cannot be used, why, and what would be accepted.
// Field is a dotted name such as "Limb.Thickness[2]".
type InputError struct {
	Field, Problem, Try string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s: %s; try %s", e.Field, e.Problem, e.Try)
}

// Message is what is wrong, without the field and the advice.
func (e *InputError) Message() string { return e.Problem }

// Hint is what to try, with a good example.
func (e *InputError) Hint() string { return "try " + e.Try }

// limit is the span of values the solvers are meant for: far wider than any
// real bow, narrow enough to catch a value typed in the wrong unit.
type limit struct {
	field     string
	value     float64
	low, high float64
	scale     float64 // from SI to the unit of the message
	unit, try string
}

func (l limit) check() error {
	if l.value >= l.low && l.value <= l.high {
		return nil
	}
	return &InputError{
		Field:   l.field,
		Problem: fmt.Sprintf("%.6g %s is outside %.6g to %.6g", l.value*l.scale, l.unit, l.low*l.scale, l.high*l.scale),
		Try:     l.try,
	}
}

// Validate reports every field that lies outside what the model is meant for,
// all joined in one error of InputErrors. A NaN is outside everything.
func (d Design) Validate() error {
	var errs []error
	for _, l := range d.limits() {
		errs = append(errs, l.check())
	}
	if d.FullDraw <= d.Riser.PocketX {
		errs = append(errs, &InputError{"FullDraw", "the nock at full draw is not behind the limb pockets", "692 mm from the pivot for a 29 in draw"})
	}
	return errors.Join(errs...)
}

func (d Design) limits() []limit {
	r, s := d.Riser, d.String
	ls := []limit{
		mm("Riser.PocketX", r.PocketX, -0.15, 0.25, "50 mm"),
		mm("Riser.PocketY", r.PocketY, 0.05, 0.6, "295 mm"),
		deg("Riser.PocketAngle", r.PocketAngle, -0.4, 0.9, "10 degrees"),
		{"Riser.Mass", float64(r.Mass), 0.1, 20, 1, "kg", "2.8 kg"},
		{"Riser.HandStiffness", float64(r.HandStiffness), 0, 1e6, 1, "N/m", "4000 N/m"},
		{"Riser.HandDamping", r.HandDamping, 0, 1e5, 1, "N s/m", "60 N s/m"},
		{"String.EA", float64(s.EA), 1e3, 1e10, 1, "N", "198000 N"},
		gram("String.Mass", s.Mass, 0, 0.1, "7 g"),
		gram("String.NockMass", s.NockMass, 0, 0.1, "1.3 g"),
		{"String.Damping", float64(s.Damping), 0, 1e-2, 1e3, "ms", "0.01 ms"},
		mm("FullDraw", d.FullDraw, 0.2, 1.2, "692 mm from the pivot for a 29 in draw"),
	}
	return append(ls, d.Limb.limits()...)
}

func (l Limb) limits() []limit {
	ls := []limit{
		mm("Limb.Length", l.Length, 0.1, 1.5, "589 mm"),
		{"Limb.Modulus", float64(l.Modulus), 1e8, 1e12, 1e-9, "GPa", "30 GPa"},
		{"Limb.StiffnessScale", l.StiffnessScale, 1e-3, 1e3, 1, "", "1"},
		{"Limb.Density", l.Density, 100, 2e4, 1, "kg/m³", "1350 kg/m³"},
		deg("Limb.Preset", l.Preset, -0.8, 0.8, "-2 degrees"),
		{"Limb.InnerFraction", l.InnerFraction, 0.02, 0.98, 1, "", "0.28"},
		deg("Limb.Recurve", l.Recurve, -0.3, 2.2, "57 degrees"),
		{"Limb.RecurvePower", l.RecurvePower, 0, 6, 1, "", "1"},
		gram("Limb.TipMass", l.TipMass, 0, 0.2, "5.5 g"),
		{"Limb.JointDamping", float64(l.JointDamping), 0, 1e-2, 1e3, "ms", "0.04 ms"},
		{"Limb.MassDamping", l.MassDamping, 0, 1e3, 1, "1/s", "3 1/s"},
	}
	for k := range Knots {
		ls = append(ls,
			mm(fmt.Sprintf("Limb.Width[%d]", k), l.Width[k], 0.001, 0.2, "44 mm at the root, 14 mm at the tip"),
			mm(fmt.Sprintf("Limb.Thickness[%d]", k), l.Thickness[k], 0.0005, 0.05, "7.9 mm at the root, 5.3 mm at the tip"))
	}
	return ls
}

// Validate checks that a chain written out from arrays holds together: lengths
// of slices, positive links and springs, contact points in order with the tip
// last.
func (c *Chain) Validate() error {
	n := c.N
	for _, s := range []struct {
		name       string
		have, want int
	}{
		{"S", len(c.S), n + 1}, {"Len", len(c.Len), n}, {"Natural", len(c.Natural), n}, {"Beta", len(c.Beta), n}, {"K", len(c.K), n},
		{"NodeMass", len(c.NodeMass), n}, {"P", len(c.P), n}, {"Q", len(c.Q), n}, {"R", len(c.R), n},
	} {
		if n < 1 || s.have != s.want {
			return &InputError{"Chain." + s.name, fmt.Sprintf("%d numbers for %d links", s.have, n), fmt.Sprintf("%d numbers", s.want)}
		}
	}
	for i := range n {
		if !(c.Len[i] > 0) || !(c.K[i] > 0) {
			return &InputError{fmt.Sprintf("Chain.Len[%d], K[%d]", i, i), "a link without length or a joint without stiffness", "positive numbers"}
		}
	}
	return c.validateContacts()
}

func (c *Chain) validateContacts() error {
	last := Contact{Link: c.N - 1, F: 1}
	if m := len(c.Contacts); m == 0 || c.Contacts[m-1] != last {
		return &InputError{"Chain.Contacts", "the last contact point is not the tip", fmt.Sprintf("%+v at the end", last)}
	}
	for j := 1; j < len(c.Contacts); j++ {
		if c.Contacts[j].Link < c.Contacts[j-1].Link {
			return &InputError{fmt.Sprintf("Chain.Contacts[%d]", j), "contact points are not in order from the root", "the order of the links"}
		}
	}
	return nil
}

func mm(field string, v unit.Length, low, high float64, try string) limit {
	return limit{field, float64(v), low, high, 1e3, "mm", try}
}

func gram(field string, v unit.Mass, low, high float64, try string) limit {
	return limit{field, float64(v), low, high, 1e3, "g", try}
}

func deg(field string, v unit.Angle, low, high float64, try string) limit {
	return limit{field, float64(v), low, high, 180 / math.Pi, "degrees", try}
}
