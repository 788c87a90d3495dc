package notebook

import (
	"fmt"
)

// Onsets is a recording's shots as a person corrected them. What the program
// found is computed anew from the sound, so both versions are kept; of several
// corrections of one recording the one received last counts.
type Onsets struct {
	Stamp
	Recording   ID                `json:"recording"`
	Corrections []OnsetCorrection `json:"corrections"`
	Ties        []Tie             `json:"ties,omitempty"`
	Note        string            `json:"note,omitempty"`
}

// OnsetCorrection puts one shot right. Times are seconds from the recording's
// start.
type OnsetCorrection struct {
	Auto     *float64 `json:"auto_release_s,omitempty"` // the found release it is about; nil: a shot that was missed
	Release  *float64 `json:"release_s,omitempty"`      // where the release is; nil: as found
	Impact   *float64 `json:"impact_s,omitempty"`       // where the impact is; nil: as found
	NoShot   bool     `json:"no_shot,omitempty"`        // strike the found shot out
	NoImpact bool     `json:"no_impact,omitempty"`      // no impact is heard, whatever was found
	Clicker  *float64 `json:"clicker_s,omitempty"`      // where the clicker falls; nil: as found
	NoClick  bool     `json:"no_clicker,omitempty"`     // no clicker is heard, whatever was found
}

// Tie says what a heard shot belongs to.
type Tie struct {
	Release float64 `json:"release_s"`         // the shot, by its release
	Arrow   string  `json:"arrow,omitempty"`   // number on the shaft
	Ring    string  `json:"ring,omitempty"`    // as called
	Reading ID      `json:"reading,omitempty"` // such as its speed
	End     ID      `json:"end,omitempty"`     // the end it was shot in
	Stop    *int    `json:"stop,omitempty"`    // index in the trial's plan
}

// Limits of a recording's corrections.
const (
	mostOnsets    = 5000
	longestRecord = 7200.0 // s
)

// Check gives what cannot stand.
func (o Onsets) Check() Problems {
	c := checker{found: append(Problems(o.check()), refuse(o.Recording.Check("/recording"))...)}
	c.text("/note", o.Note)
	if len(o.Corrections) > mostOnsets || len(o.Ties) > mostOnsets {
		c.add("/corrections", "too many corrections for one recording", fmt.Sprintf("at most %d", mostOnsets))
		return c.found
	}
	for i, k := range o.Corrections {
		field := fmt.Sprintf("/corrections/%d", i)
		if k.Auto == nil && k.Release == nil {
			c.add(field, "it names neither a found release nor a new one", "auto_release_s for a shot that was found, release_s for one that was missed")
		}
		c.second(field+"/auto_release_s", k.Auto)
		c.second(field+"/release_s", k.Release)
		c.second(field+"/impact_s", k.Impact)
		c.second(field+"/clicker_s", k.Clicker)
		switch {
		case k.NoShot && k.Auto == nil && k.Release != nil:
			c.add(field, "it strikes out a shot without naming it", "auto_release_s of the shot that was found")
		case k.Release != nil && k.Impact != nil && *k.Impact <= *k.Release:
			c.add(field+"/impact_s", "the impact is not after the release", "seconds from the recording's start, such as 12.41 after 12.305")
		case k.Release != nil && k.Clicker != nil && *k.Clicker >= *k.Release:
			c.add(field+"/clicker_s", "the clicker does not fall before the release", "seconds from the recording's start, such as 12.1 before 12.305")
		}
	}
	for i, tie := range o.Ties {
		c.tie(fmt.Sprintf("/ties/%d", i), tie)
	}
	return c.found
}

func (c *checker) tie(field string, t Tie) {
	c.second(field+"/release_s", &t.Release)
	c.named(field+"/reading", t.Reading)
	c.named(field+"/end", t.End)
	c.text(field+"/arrow", t.Arrow)
	if len(t.Arrow) > longestArrow {
		c.add(field+"/arrow", "the arrow's number is too long", fmt.Sprintf("at most %d letters, as on the shaft", longestArrow))
	}
	if t.Ring != "" {
		c.found = append(c.found, one(t.Ring, field+"/ring", "X", "10", "9", "8", "7", "6", "5", "4", "3", "2", "1", "M")...)
	}
}

func (c *checker) second(field string, t *float64) {
	if t != nil && !(*t >= 0 && *t <= longestRecord) {
		c.add(field, "this is no moment of a recording", fmt.Sprintf("seconds from its start, 0 to %g", longestRecord))
	}
}

// Refers lists the records this one names.
func (o Onsets) Refers() []Reference {
	out := o.refer(Reference{"/recording", RecordingNoun, o.Recording})
	for i, t := range o.Ties {
		at := fmt.Sprintf("/ties/%d", i)
		out = append(out, o.refer(Reference{at + "/reading", ReadingNoun, t.Reading}, Reference{at + "/end", EndNoun, t.End})[1:]...)
	}
	return out
}
