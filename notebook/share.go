package notebook

import "fmt"

// Share lets another person see an archer's bows, or work on them. It ends
// when it is retracted.
type Share struct {
	Stamp
	Archer ID    `json:"archer"`        // whose bows
	Bow    ID    `json:"bow,omitempty"` // one of them; empty: all, later ones too
	With   ID    `json:"with"`
	May    Grant `json:"may"`
}

// Grant is what a share allows.
type Grant string

// The grants.
const (
	MayRead Grant = "read"
	MayWork Grant = "work" // read, and write readings, set-ups and trials
)

// Role is what a person is in a club. A person's own notebook needs none.
type Role string

// The roles. What someone sees of others' bows is decided by shares alone, but
// for the owner of the notebook, who sees all and lets people in.
const (
	OwnerRole  Role = "owner"
	CoachRole  Role = "coach"
	ArcherRole Role = "archer"
	ViewerRole Role = "viewer" // sees what is shared, writes nothing
)

// Check gives what cannot stand.
func (s Share) Check() Problems {
	c := checker{found: append(Problems(s.check()), refuse(s.Archer.Check("/archer"))...)}
	c.found = append(c.found, refuse(s.With.Check("/with"))...)
	c.named("/bow", s.Bow)
	c.found = append(c.found, one(string(s.May), "/may", string(MayRead), string(MayWork))...)
	if s.With == s.Archer && s.With != "" {
		c.add("/with", "an archer needs no share of their own bows", fmt.Sprintf("name the person who may %s them", s.May))
	}
	return c.found
}

// Refers lists the records this one names.
func (s Share) Refers() []Reference {
	return s.refer(Reference{"/archer", PersonNoun, s.Archer}, Reference{"/bow", BowNoun, s.Bow}, Reference{"/with", PersonNoun, s.With})
}
