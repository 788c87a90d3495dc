package notebook

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
)

// Fit is a model of a bow fitted to its readings, as the program computed it.
// Old fits are kept; each names the readings it saw.
type Fit struct {
	Stamp
	Bow      ID              `json:"bow"`
	SetUp    ID              `json:"setup"`
	Readings []ID            `json:"readings"` // readings and ends
	Content  json.RawMessage `json:"content"`
	Program  string          `json:"program"`        // version that computed it
	Inputs   string          `json:"inputs"`         // SHA-256 of what it saw
	Seed     uint64          `json:"seed,omitempty"` // if it was drawn with one
}

// Forecast is a prediction sealed before its reading arrives.
type Forecast struct {
	Stamp
	Bow      ID      `json:"bow"`
	SetUp    ID      `json:"setup"`             // the set-up it is about
	From     ID      `json:"from,omitempty"`    // a change's first set-up; empty: the value itself
	Fit      ID      `json:"fit,omitempty"`     // the fit it was made with; empty: unfitted
	Kind     string  `json:"kind"`              // a reading's kind or a quantity's key
	Distance Length  `json:"distance,omitzero"` // for what is seen on a face
	Value    float64 `json:"value"`             // SI
	Low      float64 `json:"low"`               // SI
	High     float64 `json:"high"`              // SI
	Level    float64 `json:"level"`             // share of readings that should fall inside, 0.9
}

// Ruling is a person's word on whether a result still counts, over the
// computed standing. The one received last counts.
type Ruling struct {
	Stamp
	Target ID     `json:"target"` // verdict, reading or end
	Counts bool   `json:"counts"`
	Reason string `json:"reason"`
}

// Check gives what cannot stand.
func (f Fit) Check() Problems {
	c := checker{found: append(Problems(f.check()), refuse(f.Bow.Check("/bow"))...)}
	c.found = append(c.found, refuse(f.SetUp.Check("/setup"))...)
	for i, id := range f.Readings {
		c.found = append(c.found, refuse(id.Check(fmt.Sprintf("/readings/%d", i)))...)
	}
	if !json.Valid(f.Content) {
		c.add("/content", "the fit is empty", "compute it from the bow's page")
	}
	c.text("/program", f.Program)
	return c.found
}

// Check gives what cannot stand.
func (f Forecast) Check() Problems {
	c := checker{found: append(Problems(f.check()), refuse(f.Bow.Check("/bow"))...)}
	c.found = append(c.found, refuse(f.SetUp.Check("/setup"))...)
	c.found = append(c.found, named(f.Kind, "/kind", "what is forecast")...)
	c.named("/from", f.From)
	c.named("/fit", f.Fit)
	usual(&c, "/distance", f.Distance, shootingDistance)
	whole := !math.IsInf(f.Low, 0) && !math.IsInf(f.High, 0) // else JSON cannot hold it
	if !(f.Low <= f.Value && f.Value <= f.High && whole) {
		c.add("/value", "the forecast lies outside its own interval", "low, value and high in this order, in SI units")
	}
	if !(f.Level > 0 && f.Level < 1) {
		c.add("/level", fmt.Sprintf("%g is no share of readings", f.Level), "0.9 for nine of ten")
	}
	return c.found
}

// Check gives what cannot stand.
func (r Ruling) Check() Problems {
	c := checker{found: append(Problems(r.check()), refuse(r.Target.Check("/target"))...)}
	if strings.TrimSpace(r.Reason) == "" {
		c.add("/reason", "the reason is missing", "a few words: what is known that the model does not know")
	}
	c.text("/reason", r.Reason)
	return c.found
}

// Refers lists the records this one names. What a fit saw may be readings or
// ends, and may be taken out of sight later; it is not asked for here.
func (f Fit) Refers() []Reference {
	return f.refer(Reference{"/bow", BowNoun, f.Bow}, Reference{"/setup", SetUpNoun, f.SetUp})
}

// Refers lists the records this one names.
func (f Forecast) Refers() []Reference {
	return f.refer(Reference{"/bow", BowNoun, f.Bow}, Reference{"/setup", SetUpNoun, f.SetUp},
		Reference{"/from", SetUpNoun, f.From}, Reference{"/fit", FitNoun, f.Fit})
}

// Refers lists the records this one names.
func (r Ruling) Refers() []Reference { return r.refer(Reference{"/target", AnyNoun, r.Target}) }
