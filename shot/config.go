package shot

import (
	"fmt"

	"tautline/unit"
)

// Model chooses how string and limb are described.
type Model int

const (
	// Resolved is the production model: a string with mass and shape on a
	// limb of rigid bars. Within 0.05 m/s of a continuous string on a
	// continuous limb for the bows it was tried on.
	Resolved Model = iota
	// Lumped is the same limb with a straight massless string: a third of
	// the string's mass at the nock and a third at each tip. Quicker; off by
	// up to 0.6 m/s, and the arrow leaves about 10 mm early.
	Lumped
	// PlainNodes is the reference with K string masses on true springs and
	// point masses on the limb. Slow; for checking.
	PlainNodes
	// PlainLumped is the reference with the lumped string.
	PlainLumped
)

func (m Model) String() string {
	switch m {
	case Resolved:
		return "resolved"
	case Lumped:
		return "lumped"
	case PlainNodes:
		return "plain nodes"
	case PlainLumped:
		return "plain lumped"
	}
	return fmt.Sprintf("Model(%d)", int(m))
}

// plain tells whether the model is one of the references.
func (m Model) plain() bool { return m == PlainNodes || m == PlainLumped }

// Config says what is shot and how it is computed. Only ArrowMass must be set.
type Config struct {
	// ArrowMass is the whole arrow, usual 14 to 35 g; 3 to 200 g accepted.
	ArrowMass unit.Mass

	// ClipForce is the pull that the nock holds on to before it lets go of
	// the string, usual 2 to 10 N; default 0, the arrow leaves as soon as the
	// string stops pushing.
	ClipForce unit.Force

	// Model is Resolved unless stated.
	Model Model

	// Links per limb, default 12; 8 to 64 for the production models, 2 to
	// 200 for the references. Used by NewModel and Shoot only: a Simulator
	// takes the limb as its bow.Model has cut it.
	Links int

	// Nodes is the number of string masses per half in Resolved and
	// PlainNodes, default 10 and 8; 1 to 64.
	Nodes int

	// Fraction is the inner share of the half string on which the nodes
	// stand; the rest lies free or around the limb. Default 0.86, less when
	// more of the string lies on the limb at brace. Usual 0.7 to 0.9.
	Fraction float64

	// Softening (η) is the factor on the springs that only keep the
	// string's material evenly spread, in Resolved; default 1/16. Use 1/4
	// where the nock force itself must hold to 0.2 N.
	Softening float64

	// Step is the longest time step; default 50 µs (40 µs for the
	// references), always shortened to what is stable.
	Step unit.Duration

	// After is how long the bow is followed once the arrow has left, 0 to
	// 1 s; default 0. RingTime gives the usual 20 ms.
	After unit.Duration

	// History keeps every step in Result.History.
	History bool
}

// RingTime is the usual span over which the energy left behind is averaged.
const RingTime unit.Duration = 0.020

// maxLinks bounds the production models' limb, so that a set of contact
// points fits in two words.
const (
	maxLinks = 64
	maxNodes = 64
)

func (c Config) withDefaults() Config {
	if c.Links == 0 {
		c.Links = 12
	}
	if c.Nodes == 0 {
		c.Nodes = 10
		if c.Model == PlainNodes {
			c.Nodes = 8
		}
	}
	if c.Model == Lumped || c.Model == PlainLumped {
		c.Nodes = 0
	}
	if c.Fraction == 0 {
		c.Fraction = 0.9
		if c.Model == PlainNodes {
			c.Fraction = 0.85
		}
	}
	if c.Softening == 0 {
		c.Softening = 1.0 / 16
	}
	if c.Step == 0 {
		c.Step = 50e-6
		if c.Model.plain() {
			c.Step = 40e-6
		}
	}
	return c
}

// InputError says which entry of the Config cannot be used, why, and what
// would be accepted.
type InputError struct {
	Field, Problem, Try string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s: %s; try %s", e.Field, e.Problem, e.Try)
}

// Message is the error without its field and its example, for a form.
func (e *InputError) Message() string { return e.Problem }

// Hint says what to enter instead.
func (e *InputError) Hint() string { return "try " + e.Try }

// validate checks a config that has its defaults.
func (c Config) validate() error {
	if c.Model < Resolved || c.Model > PlainLumped {
		return &InputError{"Model", fmt.Sprintf("%d is not a model", int(c.Model)), "shot.Resolved"}
	}
	low, high := 8.0, float64(maxLinks)
	if c.Model.plain() {
		low, high = 2, 200
	}
	return checkSpans([]span{
		{"ArrowMass", c.ArrowMass.Grams(), 3, 200, "g", "22 g"},
		{"ClipForce", c.ClipForce.Newtons(), 0, 100, "N", "5 N"},
		{"Links", float64(c.Links), low, high, "links", "12"},
		{"Nodes", float64(c.Nodes), 0, maxNodes, "nodes", "8"},
		{"Fraction", c.Fraction, 0.1, 0.98, "of the half string", "0.86"},
		{"Softening", c.Softening, 1e-4, 4, "", "0.0625"},
		{"Step", c.Step.Milliseconds(), 1e-5, 0.2, "ms", "0.05 ms"},
		{"After", c.After.Milliseconds(), 0, 1000, "ms", "20 ms"},
	})
}

// span is what one entry may be, in the unit of its message.
type span struct {
	field            string
	value, low, high float64
	unit, try        string
}

func checkSpans(all []span) error {
	for _, r := range all {
		// written so that a NaN is outside
		if !(r.value >= r.low && r.value <= r.high) {
			return &InputError{r.field, fmt.Sprintf("%.6g %s is outside %g to %g", r.value, r.unit, r.low, r.high), r.try}
		}
	}
	return nil
}
