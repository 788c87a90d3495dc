package notebook

import (
	"fmt"

	"tautline/unit"
)

// Check gives every entry of the settings that cannot stand, each with the
// JSON pointer of its field, so that a form shows all of them at once.
func (s Settings) Check() Problems {
	var c checker
	c.draw(s.Draw)
	c.limbs(s.Limbs)
	c.bowstring(s.String)
	c.brace(s.BraceHeight)
	c.arrow(s.Arrow)
	length(&c, "/riser/offset", s.Riser.Offset, unit.Usual[unit.Length]{What: "riser offset", Low: -0.03, High: 0.03, Unit: unit.MM})
	mass(&c, "/riser/mass", s.Riser.Mass, unit.Usual[unit.Mass]{What: "riser mass", Low: 0.5, High: 6, Unit: unit.G})
	turns(&c, "/riser/bolts_upper_turns", s.Riser.BoltsUpper, 0, 12)
	turns(&c, "/riser/bolts_lower_turns", s.Riser.BoltsLower, 0, 12)
	length(&c, "/nocking_point/value", s.NockingPoint.Value, unit.NockingPoint)
	length(&c, "/tiller", s.Tiller, unit.Tiller)
	length(&c, "/centre_shot", s.CentreShot, unit.CentreShot)
	turns(&c, "/button/turns", s.Button.Turns, -60, 60)
	return c.found
}

// checker collects problems.
type checker struct{ found Problems }

func (c *checker) add(field, message, hint string) {
	c.found = append(c.found, Error{Code: Invalid, Field: field, Message: message, Hint: hint})
}

// usual refuses a quantity outside its usual range; the range is wide enough
// for any bow this program is for, so outside means a slip.
func usual[T unit.Quantity](c *checker, field string, t unit.Text[T], r unit.Usual[T]) {
	if t.IsZero() {
		return
	}
	if doubt := r.Doubt(t.Typed); doubt != "" {
		c.add(field, doubt, "")
	}
}

func length(c *checker, field string, t Length, r unit.Usual[unit.Length]) { usual(c, field, t, r) }
func mass(c *checker, field string, t Mass, r unit.Usual[unit.Mass])       { usual(c, field, t, r) }

func turns(c *checker, field string, n *float64, low, high float64) {
	if n != nil && !(*n >= low && *n <= high) {
		c.add(field, fmt.Sprintf("%g turns is outside %g to %g", *n, low, high), "count the turns again")
	}
}

func (c *checker) draw(d Draw) {
	if d.Length.IsZero() {
		c.add("/draw/length", "the draw length is missing", "something like 28.5 in or 72 cm")
	}
	if d.Weight.IsZero() {
		c.add("/draw/weight", "the draw weight on the fingers is missing", "something like 38 lbf")
	}
	length(c, "/draw/length", d.Length, unit.DrawLength)
	usual(c, "/draw/weight", d.Weight, unit.DrawWeight)
	switch d.From {
	case "", FromStandard, FromPivot, FromButton:
	default:
		c.add("/draw/from", fmt.Sprintf("%q is not a place a draw length is measured from", d.From), "standard, pivot or button")
	}
	if len(d.Points) > 24 {
		c.add("/draw/points", "more than 24 draw–force points", "3 to 8 are enough")
	}
	for i, p := range d.Points {
		at := fmt.Sprintf("/draw/points/%d", i)
		if p.At.IsZero() || p.Force.IsZero() {
			c.add(at, "a point needs a draw and a force", "like 50 cm and 24 lbf")
			continue
		}
		length(c, at+"/at", p.At, unit.Usual[unit.Length]{What: "draw", Low: 0.15, High: 0.95, Unit: unit.CM})
		usual(c, at+"/force", p.Force, unit.Usual[unit.Force]{What: "force", Low: 1, High: 72 * unit.PoundForce, Unit: unit.Lbf})
	}
}

func (c *checker) limbs(l Limbs) {
	length(c, "/limbs/bow_length", l.BowLength, unit.Usual[unit.Length]{What: "bow length", Low: 58 * unit.Inch, High: 74 * unit.Inch, Unit: unit.In})
	usual(c, "/limbs/marked_weight", l.MarkedWeight, unit.DrawWeight)
	length(c, "/limbs/range_low", l.RangeLow, unit.BraceHeight)
	length(c, "/limbs/range_high", l.RangeHigh, unit.BraceHeight)
	switch {
	case l.RangeLow.IsZero() != l.RangeHigh.IsZero():
		c.add("/limbs/range_high", "the maker's range needs both of its ends", "like 21 cm and 23 cm")
	case !l.RangeLow.IsZero() && l.RangeHigh.Value <= l.RangeLow.Value:
		c.add("/limbs/range_high", "the upper end of the maker's range is not above the lower", "like 21 cm and 23 cm")
	}
}

func (c *checker) bowstring(s String) {
	switch s.Material {
	case "", "hmpe", "lcp", "polyester":
	default:
		c.add("/string/material", fmt.Sprintf("%q is not a string material known here", s.Material), "hmpe, lcp or polyester")
	}
	if s.Strands != 0 && (s.Strands < 6 || s.Strands > 40) {
		c.add("/string/strands", fmt.Sprintf("%d strands is outside 6 to 40", s.Strands), "count the strands; 16 to 20 are usual")
	}
	length(c, "/string/length", s.Length, unit.StringLength)
	turns(c, "/string/twists", s.Twists, 0, 90)
	mass(c, "/string/mass", s.Mass, unit.StringMass)
	if s.Shots != nil && *s.Shots < 0 {
		c.add("/string/shots_on_it", "a number of shots cannot be negative", "0 for a new string")
	}
}

func (c *checker) brace(b BraceHeight) {
	length(c, "/brace_height/value", b.Value, unit.BraceHeight)
	length(c, "/brace_height/button_behind_pivot", b.ButtonBehind, unit.Usual[unit.Length]{What: "distance from pivot to button", Low: -0.05, High: 0.06, Unit: unit.MM})
	switch b.From {
	case "", EdgePivot:
	case EdgeButton:
		if b.ButtonBehind.IsZero() {
			c.add("/brace_height/button_behind_pivot", "a reading from the button needs the distance from the button to the pivot", "measure it once with the square, like 12 mm")
		}
	default:
		c.add("/brace_height/from", fmt.Sprintf("%q is not a reference for a brace height", b.From), "pivot or button")
	}
}

func (c *checker) arrow(a Arrow) {
	mass(c, "/arrow/mass", a.Mass, unit.ArrowMass)
	usual(c, "/arrow/spine", a.Spine, unit.ShaftSpine)
	length(c, "/arrow/shaft_length", a.Length, unit.ArrowLength)
	mass(c, "/arrow/point_mass", a.PointMass, unit.PointMass)
	length(c, "/arrow/diameter", a.Diameter, unit.ShaftWidth)
	if a.Count < 0 || a.Count > 500 {
		c.add("/arrow/count", fmt.Sprintf("%d arrows is not a set", a.Count), "a set is 6 to 24")
	}
}
