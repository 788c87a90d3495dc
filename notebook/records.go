package notebook

import (
	"encoding/json"

	"tautline/unit"
)

// Record is any of the nouns below.
type Record interface {
	Stamped() Stamp
	// Check gives what cannot stand.
	Check() Problems
	// Refers lists the records this one names.
	Refers() []Reference
}

// Person is someone who writes in the notebook.
type Person struct {
	Stamp
	Name  string `json:"name"`
	Hand  Hand   `json:"hand"`            // which hand draws the string
	Units string `json:"units,omitempty"` // metric (default), imperial or mixed; see unit.System
	Comma bool   `json:"decimal_comma,omitempty"`
	Theme string `json:"theme,omitempty"` // "", light, dark, sun
	// In a club: what the person is there, and that they are no longer let in.
	Role     Role `json:"role,omitempty"`
	Disabled bool `json:"disabled,omitempty"`
	Version  int  `json:"version"` // 1, then one more at each change
}

// System is the units that the person reads; metric unless chosen.
func (p Person) System() unit.System {
	system := unit.Metric()
	switch p.Units {
	case "imperial":
		system = unit.Imperial()
	case "mixed":
		system = unit.Mixed()
	}
	if p.Comma {
		system.Decimal = unit.Comma
	}
	return system
}

// Hand is the hand that draws the string; words mirror for it, data never do.
type Hand string

// The two hands.
const (
	RightHanded Hand = "right"
	LeftHanded  Hand = "left"
)

// Bow is one bow through all its set-ups.
type Bow struct {
	Stamp
	Owner    ID     `json:"owner"`
	Name     string `json:"name"`
	Style    Style  `json:"style"`
	Notes    string `json:"notes,omitempty"`
	Archived bool   `json:"archived,omitempty"`
	Version  int    `json:"version"`
	// Growing says that who shoots it grows, so that the draw length is checked
	// every quarter. It stands on the bow: no age is asked for.
	Growing bool `json:"growing,omitempty"`
}

// Style is the discipline a bow is shot in.
type Style string

// The styles this program is for.
const (
	Recurve Style = "recurve" // Olympic style, with sight
	Barebow Style = "barebow"
)

// SetUp is one immutable state of all settings of a bow. Parent is the set-up
// it was changed from, empty for the first. Where two people changed the same
// set-up without knowing of each other, both stand, and a later one that names
// the other in Settles says what the bow is set to now.
type SetUp struct {
	Stamp
	Bow      ID       `json:"bow"`
	Parent   ID       `json:"parent,omitempty"`
	Settles  []ID     `json:"settles,omitempty"`
	Reason   string   `json:"reason"`
	Settings Settings `json:"settings"`
}

// Session is one visit to the range.
type Session struct {
	Stamp
	Bow   ID     `json:"bow,omitempty"`
	Place string `json:"place,omitempty"`
	Air   string `json:"air,omitempty"` // in words: "18 °C, light wind from the left"
	// The day's air where it was measured.
	Temperature unit.Text[unit.Temperature] `json:"temperature,omitzero"`
	Pressure    unit.Text[unit.Pressure]    `json:"pressure,omitzero"`          // at the range, not reduced to sea level
	Humidity    *float64                    `json:"humidity_percent,omitempty"` // relative, 0 to 100
	Wind        unit.Text[unit.Speed]       `json:"wind,omitzero"`              // its mean speed
	Note        string                      `json:"note,omitempty"`
}

// Recording is one sound file, kept by its content's hash.
type Recording struct {
	Stamp
	Hash    string `json:"hash"` // SHA-256 in hex
	Bytes   int64  `json:"bytes"`
	Media   string `json:"media,omitempty"` // as sent; the content decides
	Name    string `json:"name,omitempty"`  // the file's name where it came from
	Bow     ID     `json:"bow,omitempty"`
	Trial   ID     `json:"trial,omitempty"`
	SetUp   ID     `json:"setup,omitempty"` // in force when it was made
	Stop    *int   `json:"stop,omitempty"`  // nil: one recording for the whole trial
	Phone   string `json:"phone,omitempty"`
	Where   string `json:"where,omitempty"`           // where the phone lay
	Place   string `json:"place,omitempty"`           // hall, field, lane
	Treated bool   `json:"auto_gain,omitempty"`       // automatic gain, noise suppression or echo cancelling was on
	ToBale  Length `json:"distance_to_bale,omitzero"` // archer to bale
	Started string `json:"started_at_stop,omitempty"` // free words
	Taps    []Tap  `json:"taps,omitempty"`            // when which stop began
}

// Tap says at which second of a recording a stop began.
type Tap struct {
	Stop int     `json:"stop"`
	At   float64 `json:"at_s"`
}

// Reading is one measurement. Value is SI; Text and Unit are as typed.
type Reading struct {
	Stamp
	Bow        ID      `json:"bow"`
	SetUp      ID      `json:"setup"`
	Session    ID      `json:"session,omitempty"`
	Trial      ID      `json:"trial,omitempty"`
	Stop       *int    `json:"stop,omitempty"` // index in the trial's plan, from 0
	Kind       Kind    `json:"kind"`
	Value      float64 `json:"value"` // SI; see Kinds for the unit
	Text       string  `json:"text"`
	Unit       string  `json:"unit,omitempty"`
	Edge       Edge    `json:"edge,omitempty"`
	Instrument string  `json:"instrument,omitempty"`
	Repeat     int     `json:"repeat,omitempty"` // 1 for the first of several
	Arrows     int     `json:"arrows,omitempty"`
	Distance   Length  `json:"distance,omitzero"`    // archer to target, of an offset, a group's centre or a sight mark
	DrawLength Length  `json:"draw_length,omitzero"` // where a draw force was read, quoted as the set-up quotes its own
	Shaft      Arrow   `json:"shaft,omitzero"`       // the arrow shot, where it was not the set-up's; what is left out is as there
	Doubt      float64 `json:"doubt,omitempty"`      // one standard deviation of Value, in its unit, if the person knows it
	Corrects   ID      `json:"corrects,omitempty"`   // the reading this one replaces
	Note       string  `json:"note,omitempty"`
}

// Trial is a planned set of readings that answers one question. Plan is the
// plan as package trial wrote it, with its version inside.
type Trial struct {
	Stamp
	Bow   ID              `json:"bow"`
	SetUp ID              `json:"setup"` // in force when it began
	What  string          `json:"what"`  // "brace height"
	Plan  json.RawMessage `json:"plan"`
}

// TrialEvent is a step in a trial's life; the latest one says where it stands.
type TrialEvent struct {
	Stamp
	Trial ID     `json:"trial"`
	What  Event  `json:"what"`
	Stop  *int   `json:"stop,omitempty"`
	Note  string `json:"note,omitempty"`
}

// Event is what happened to a trial.
type Event string

// The events.
const (
	Reached   Event = "reached" // the bow is set to this stop
	Paused    Event = "paused"
	Finished  Event = "finished"
	Abandoned Event = "abandoned"
)

// Verdict is a trial's answer, with what it was computed from.
type Verdict struct {
	Stamp
	Trial   ID              `json:"trial"`
	Content json.RawMessage `json:"content"`
	Program string          `json:"program"`          // version that computed it
	Seed    uint64          `json:"seed,omitempty"`   // of its resampling, if it was drawn with one
	Inputs  string          `json:"inputs"`           // SHA-256 of the readings it saw
	Chosen  ID              `json:"chosen,omitempty"` // the set-up made from it
}

// Retraction takes a record out of sight without destroying it. Retracting a
// retraction brings the record back.
type Retraction struct {
	Stamp
	Target ID     `json:"target"`
	Reason string `json:"reason,omitempty"`
}
