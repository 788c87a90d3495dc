package notebook

import (
	"fmt"
	"math"
	"time"

	"tautline/unit"
)

// End is the arrows of one end, shot with one set-up at one face.
type End struct {
	Stamp
	Bow      ID       `json:"bow"`
	SetUp    ID       `json:"setup"`
	Session  ID       `json:"session,omitempty"`
	Trial    ID       `json:"trial,omitempty"`
	Stop     *int     `json:"stop,omitempty"`   // index in the trial's plan, from 0
	Number   int      `json:"number,omitempty"` // 1 for the first end of the session or the stop
	Distance Length   `json:"distance,omitzero"`
	Face     string   `json:"face,omitempty"` // its key in package group; "" or "blank": no printed face
	Impacts  []Impact `json:"impacts"`
	Corrects ID       `json:"corrects,omitempty"` // the end this one replaces
	Note     string   `json:"note,omitempty"`
}

// Impact is where one arrow struck: a place on the face, a ring as it was
// called, or both. X is right and Y up as seen from the shooting line, for
// every archer, in metres from the face's centre.
type Impact struct {
	Arrow string    `json:"arrow,omitempty"` // number on the shaft
	X     *float64  `json:"x_m,omitempty"`
	Y     *float64  `json:"y_m,omitempty"`
	Ring  string    `json:"ring,omitempty"` // "X", "10" … "1", "M" for a miss
	Bare  bool      `json:"bare,omitempty"` // shot without fletching
	At    time.Time `json:"at,omitzero"`
}

// Placed reports whether the arrow's place on the face is known.
func (i Impact) Placed() bool { return i.X != nil && i.Y != nil }

// Limits of an end. The farthest place is as wide as a butt and its net.
const (
	mostImpacts  = 144
	farthestOut  = 3.0 // m from the centre
	longestArrow = 12  // letters of a shaft's number
)

var shootingDistance = unit.Usual[unit.Length]{What: "distance", Low: 2, High: 120, Unit: unit.M}

// Check gives what cannot stand.
func (e End) Check() Problems {
	c := checker{found: append(Problems(e.check()), refuse(e.Bow.Check("/bow"))...)}
	c.found = append(c.found, refuse(e.SetUp.Check("/setup"))...)
	c.named("/session", e.Session)
	c.named("/trial", e.Trial)
	c.named("/corrects", e.Corrects)
	c.stop(e.Stop)
	c.text("/face", e.Face)
	c.text("/note", e.Note)
	usual(&c, "/distance", e.Distance, shootingDistance)
	if e.Corrects == e.ID && e.ID != "" {
		c.add("/corrects", "an end cannot correct itself", "give it a new id and name the wrong one in corrects")
	}
	if e.Number < 0 || e.Number > 1000 {
		c.add("/number", fmt.Sprintf("there is no end %d", e.Number), "1 for the first")
	}
	if len(e.Impacts) == 0 || len(e.Impacts) > mostImpacts {
		c.add("/impacts", fmt.Sprintf("an end of %d arrows cannot be kept", len(e.Impacts)), fmt.Sprintf("1 to %d; begin another end for more", mostImpacts))
		return c.found
	}
	for i, at := range e.Impacts {
		c.impact(fmt.Sprintf("/impacts/%d", i), at)
	}
	return c.found
}

func (c *checker) impact(field string, i Impact) {
	if len(i.Arrow) > longestArrow {
		c.add(field+"/arrow", "the arrow's number is too long", fmt.Sprintf("at most %d letters, as on the shaft", longestArrow))
	}
	c.text(field+"/arrow", i.Arrow)
	switch {
	case (i.X == nil) != (i.Y == nil):
		c.add(field, "a place needs both of its sides", "x_m to the right and y_m up from the face's centre, in metres")
	case i.X == nil && i.Ring == "":
		c.add(field, "the arrow has neither a place nor a ring", "give x_m and y_m, or ring; M is a miss")
	case i.X != nil && !(math.Hypot(*i.X, *i.Y) <= farthestOut):
		c.add(field, fmt.Sprintf("the arrow is more than %g m from the face's centre", farthestOut), "x_m and y_m are in metres; for a miss that was not found give the ring M")
	}
	if i.Ring != "" {
		c.found = append(c.found, one(i.Ring, field+"/ring", "X", "10", "9", "8", "7", "6", "5", "4", "3", "2", "1", "M")...)
	}
}

// Refers lists the records this one names.
func (e End) Refers() []Reference {
	return e.refer(Reference{"/bow", BowNoun, e.Bow}, Reference{"/setup", SetUpNoun, e.SetUp}, Reference{"/session", SessionNoun, e.Session},
		Reference{"/trial", TrialNoun, e.Trial}, Reference{"/corrects", EndNoun, e.Corrects})
}
