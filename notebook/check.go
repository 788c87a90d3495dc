package notebook

import (
	"fmt"
	"slices"
	"strings"

	"tautline/unit"
)

// Ranges of what the unit package does not name. They hold any bow this
// program is for and catch a slip of unit or digit (common practice, no
// source).
var (
	riserLength  = unit.Usual[unit.Length]{What: "riser length", Low: 17 * unit.Inch, High: 29 * unit.Inch, Unit: unit.In}
	riserOffset  = unit.Usual[unit.Length]{What: "riser offset", Low: -0.03, High: 0.03, Unit: unit.MM}
	riserMass    = unit.Usual[unit.Mass]{What: "riser mass", Low: 0.4, High: 6, Unit: unit.G}
	rodLength    = unit.Usual[unit.Length]{What: "stabiliser length", Low: 0.02, High: 1.1, Unit: unit.CM}
	rodMass      = unit.Usual[unit.Mass]{What: "stabiliser mass", Low: 0.01, High: 1.5, Unit: unit.G}
	bowLength    = unit.Usual[unit.Length]{What: "bow length", Low: 48 * unit.Inch, High: 74 * unit.Inch, Unit: unit.In}
	pivotButton  = unit.Usual[unit.Length]{What: "distance from pivot to button", Low: -0.05, High: 0.06, Unit: unit.MM}
	drawReading  = unit.Usual[unit.Length]{What: "draw", Low: 0.15, High: 0.95, Unit: unit.CM}
	forceReading = unit.Usual[unit.Force]{What: "force", Low: 1, High: 72 * unit.PoundForce, Unit: unit.Lbf}
	nockingMass  = unit.Usual[unit.Mass]{What: "mass at the nocking point", Low: 0.00005, High: 0.004, Unit: unit.G}
	nockMass     = unit.Usual[unit.Mass]{What: "nock mass", Low: 0.0001, High: 0.003, Unit: unit.G}
	fletchMass   = unit.Usual[unit.Mass]{What: "fletching mass", Low: 0.0001, High: 0.006, Unit: unit.G}
	clickerPlace = unit.Usual[unit.Length]{What: "clicker", Low: -0.05, High: 0.2, Unit: unit.MM}
	sightReach   = unit.Usual[unit.Length]{What: "sight extension", Low: 0, High: 0.5, Unit: unit.CM}
	crawlDepth   = unit.Usual[unit.Length]{What: "crawl", Low: 0, High: 0.09, Unit: unit.MM}
	restHeight   = unit.Usual[unit.Length]{What: "rest height", Low: -0.01, High: 0.09, Unit: unit.MM}
	hookBelow    = unit.Usual[unit.Length]{What: "hook below the nocking point", Low: -0.01, High: 0.06, Unit: unit.MM}
	pressing     = unit.Usual[unit.Length]{What: "pressure point", Low: -0.04, High: 0.04, Unit: unit.MM}
	balanceAhead = unit.Usual[unit.Length]{What: "balance point ahead of the pivot", Low: -0.1, High: 0.5, Unit: unit.CM}
	wireReach    = unit.Usual[unit.Length]{What: "reach of the rest's wire", Low: -0.01, High: 0.02, Unit: unit.MM}
)

// Check gives every entry of the settings that cannot stand, each with the
// JSON pointer of its field, so that a form shows all of them at once.
func (s Settings) Check() Problems { return s.CheckBut() }

// CheckBut is Check of settings of which the entries at these JSON pointers
// are there but could not be read: they are at fault already, and nothing is
// called missing for their sake.
func (s Settings) CheckBut(unread ...string) Problems {
	c := checker{unread: unread}
	c.riser(s.Riser)
	c.limbs(s.Limbs)
	c.bowstring(s.String)
	c.draw(s.Draw)
	c.brace(s.BraceHeight)
	usual(&c, "/nocking_point/value", s.NockingPoint.Value, unit.NockingPoint)
	usual(&c, "/tiller", s.Tiller, unit.Tiller)
	usual(&c, "/centre_shot", s.CentreShot, unit.CentreShot)
	turns(&c, "/button/turns", s.Button.Turns, -60, 60)
	usual(&c, "/rest/height", s.Rest.Height, restHeight)
	usual(&c, "/rest/wire_reach", s.Rest.Reach, wireReach)
	switch s.Rest.Powder {
	case "", PowderClean, PowderMarked:
	default:
		c.add("/rest/powder_mark", fmt.Sprintf("%q is not an outcome of a powder check", s.Rest.Powder), "clean or marked; empty when nobody looked")
	}
	usual(&c, "/hook_below", s.HookBelow, hookBelow)
	usual(&c, "/pressure_point", s.PressurePoint, pressing)
	usual(&c, "/clicker", s.Clicker, clickerPlace)
	usual(&c, "/sight_extension", s.SightExt, sightReach)
	usual(&c, "/crawl", s.Crawl, crawlDepth)
	c.arrow(s.Arrow)
	texts := flat(s)
	for _, key := range append(Keys(), listKeys...) {
		c.found = append(c.found, short(texts[key].text, "/"+strings.ReplaceAll(key, ".", "/"))...)
	}
	return c.found
}

// checker collects problems.
type checker struct {
	found  Problems
	unread []string
}

// unseen tells that what stands at a pointer, or around it, could not be read.
func (c *checker) unseen(field string) bool {
	return slices.ContainsFunc(c.unread, func(at string) bool { return field == at || strings.HasPrefix(field, at+"/") })
}

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
		message, hint, _ := strings.Cut(doubt, "; ")
		c.add(field, message, hint)
	}
}

func turns(c *checker, field string, n *float64, low, high float64) {
	if n != nil && !(*n >= low && *n <= high) {
		c.add(field, fmt.Sprintf("%g turns is outside %g to %g", *n, low, high), "count the turns again")
	}
}

func (c *checker) riser(r Riser) {
	usual(c, "/riser/length", r.Length, riserLength)
	usual(c, "/riser/offset", r.Offset, riserOffset)
	usual(c, "/riser/mass", r.Mass, riserMass)
	turns(c, "/riser/bolts_upper_turns", r.BoltsUpper, 0, 12)
	turns(c, "/riser/bolts_lower_turns", r.BoltsLower, 0, 12)
	if i := r.PitchInertia; i != nil && !(*i >= 0.01 && *i <= 3) {
		c.add("/riser/pitch_inertia_kgm2", fmt.Sprintf("%g kg m² is outside 0.01 to 3", *i), "0.25 for a riser with a long rod and two side rods")
	}
	usual(c, "/riser/balance_ahead", r.BalanceAhead, balanceAhead)
	if len(r.Rods) > 12 {
		c.add("/riser/rods", "more than 12 stabilisers", "one entry for each rod; weights count to their rod")
	}
	for i, rod := range r.Rods {
		at := fmt.Sprintf("/riser/rods/%d", i)
		usual(c, at+"/length", rod.Length, rodLength)
		usual(c, at+"/mass", rod.Mass, rodMass)
	}
}

func (c *checker) draw(d Draw) {
	if d.Length.IsZero() && !c.unseen("/draw/length") {
		c.add("/draw/length", "the draw length is missing", "something like 28.5 in or 72 cm")
	}
	if d.Weight.IsZero() && !c.unseen("/draw/weight") {
		c.add("/draw/weight", "the draw weight on the fingers is missing", "something like 38 lbf")
	}
	usual(c, "/draw/length", d.Length, unit.DrawLength)
	usual(c, "/draw/weight", d.Weight, unit.DrawWeight)
	usual(c, "/draw/at_brace_height", d.AtBrace, unit.BraceHeight)
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
		noDraw, noForce := p.At.IsZero() && !c.unseen(at+"/at"), p.Force.IsZero() && !c.unseen(at+"/force")
		if noDraw || noForce {
			c.add(at, "a point needs a draw and a force", "like 50 cm and 24 lbf")
			continue
		}
		usual(c, at+"/at", p.At, drawReading)
		usual(c, at+"/force", p.Force, forceReading)
	}
}

func (c *checker) limbs(l Limbs) {
	usual(c, "/limbs/bow_length", l.BowLength, bowLength)
	usual(c, "/limbs/marked_weight", l.MarkedWeight, unit.DrawWeight)
	usual(c, "/limbs/range_low", l.RangeLow, unit.BraceHeight)
	usual(c, "/limbs/range_high", l.RangeHigh, unit.BraceHeight)
	switch {
	case c.unseen("/limbs/range_low") || c.unseen("/limbs/range_high"):
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
	usual(c, "/string/length", s.Length, unit.StringLength)
	turns(c, "/string/twists", s.Twists, 0, 90)
	usual(c, "/string/mass", s.Mass, unit.StringMass)
	usual(c, "/string/nocking_mass", s.NockMass, nockingMass)
	if s.Shots != nil && *s.Shots < 0 {
		c.add("/string/shots_on_it", "a number of shots cannot be negative", "0 for a new string")
	}
}

func (c *checker) brace(b BraceHeight) {
	usual(c, "/brace_height/value", b.Value, unit.BraceHeight)
	usual(c, "/brace_height/button_behind_pivot", b.ButtonBehind, pivotButton)
	switch b.From {
	case "", EdgePivot:
	case EdgeButton:
		if b.ButtonBehind.IsZero() && !c.unseen("/brace_height/button_behind_pivot") {
			c.add("/brace_height/button_behind_pivot", "a reading from the button needs the distance from the button to the pivot", "measure it once with the square, like 12 mm")
		}
	default:
		c.add("/brace_height/from", fmt.Sprintf("%q is not a reference for a brace height", b.From), "pivot or button")
	}
}

func (c *checker) arrow(a Arrow) {
	before := len(c.found)
	usual(c, "/arrow/mass", a.Mass, unit.ArrowMass)
	usual(c, "/arrow/spine", a.Spine, unit.ShaftSpine)
	usual(c, "/arrow/shaft_length", a.Length, unit.ArrowLength)
	usual(c, "/arrow/point_mass", a.PointMass, unit.PointMass)
	usual(c, "/arrow/diameter", a.Diameter, unit.ShaftWidth)
	usual(c, "/arrow/nock_mass", a.NockMass, nockMass)
	usual(c, "/arrow/fletching_mass", a.FletchMass, fletchMass)
	usual(c, "/arrow/minimum_mass", a.MinimumMass, unit.ArrowMass)
	parts := a.PointMass.Value + a.NockMass.Value + a.FletchMass.Value
	if len(c.found) == before && !a.Mass.IsZero() && a.PointMass.Value > 0 && parts >= a.Mass.Value {
		c.add("/arrow/mass", fmt.Sprintf("the whole arrow, %s, weighs no more than its point, nock and fletching together", a.Mass), "weigh one complete arrow, and its parts, in grains (gr) or grams (g)")
	}
	if a.ID != "" {
		c.found = append(c.found, refuse(a.ID.Check("/arrow/id"))...)
	}
	if a.Count < 0 || a.Count > 500 {
		c.add("/arrow/count", fmt.Sprintf("%d arrows is not a set", a.Count), "a set is 6 to 24")
	}
}
