package notebook

import (
	"encoding/json"
	"fmt"
	"strings"
	"unicode/utf8"

	"tautline/unit"
)

// maxText bounds free text.
const maxText = 8000

// Check gives what cannot stand.
func (p Person) Check() Problems {
	out := Problems(p.check())
	out = append(out, named(p.Name, "/name", "the person's name")...)
	if p.Hand != RightHanded && p.Hand != LeftHanded {
		out = append(out, Error{Code: Invalid, Field: "/hand", Message: "the drawing hand is missing", Hint: "right or left"})
	}
	out = append(out, one(string(p.Role), "/role", "", string(OwnerRole), string(CoachRole), string(ArcherRole), string(ViewerRole))...)
	return append(out, one(p.Units, "/units", "", "metric", "imperial", "mixed")...)
}

// Check gives what cannot stand.
func (b Bow) Check() Problems {
	out := Problems(b.check())
	out = append(out, named(b.Name, "/name", "the bow's name")...)
	out = append(out, refuse(b.Owner.Check("/owner"))...)
	out = append(out, short(b.Notes, "/notes")...)
	return append(out, one(string(b.Style), "/style", string(Recurve), string(Barebow))...)
}

// Check gives what cannot stand; fields of the settings start with /settings.
func (s SetUp) Check() Problems {
	out := Problems(s.check())
	out = append(out, refuse(s.Bow.Check("/bow"))...)
	if s.Parent != "" {
		out = append(out, refuse(s.Parent.Check("/parent"))...)
	}
	if s.Parent == s.ID && s.ID != "" {
		out = append(out, Error{Code: Invalid, Field: "/parent", Message: "a set-up cannot be made from itself", Hint: "give the new one a new id"})
	}
	out = append(out, s.checkSettles()...)
	out = append(out, short(s.Reason, "/reason")...)
	for _, p := range s.Settings.Check() {
		p.Field = "/settings" + p.Field
		out = append(out, p)
	}
	return out
}

// mostSettled is how many set-ups one can settle.
const mostSettled = 100

func (s SetUp) checkSettles() (out Problems) {
	if len(s.Settles) > mostSettled {
		return Problems{{Code: Invalid, Field: "/settles", Message: fmt.Sprintf("it settles %d set-ups at once", len(s.Settles)), Hint: fmt.Sprintf("name at most %d", mostSettled)}}
	}
	for i, other := range s.Settles {
		field := fmt.Sprintf("/settles/%d", i)
		out = append(out, refuse(other.Check(field))...)
		if other == s.ID || other == s.Parent {
			out = append(out, Error{Code: Invalid, Field: field, Message: "it is this set-up, or the one it was made from", Hint: "name only the others that it replaces"})
		}
	}
	return out
}

// Check gives what cannot stand.
func (s Session) Check() Problems {
	c := checker{found: s.check()}
	c.text("/place", s.Place)
	c.text("/air", s.Air)
	c.text("/note", s.Note)
	usual(&c, "/temperature", s.Temperature, unit.AirTemp)
	usual(&c, "/pressure", s.Pressure, unit.AirPressure)
	usual(&c, "/wind", s.Wind, unit.Usual[unit.Speed]{What: "wind", Low: 0, High: 30, Unit: unit.MPS})
	if h := s.Humidity; h != nil && !(*h >= 0 && *h <= 100) {
		c.add("/humidity_percent", fmt.Sprintf("a relative humidity of %g %% cannot be", *h), "0 to 100, such as 55")
	}
	c.named("/bow", s.Bow)
	return c.found
}

// Check gives what cannot stand.
func (r Recording) Check() Problems {
	out := Problems(r.check())
	if len(r.Hash) != 64 || strings.Trim(r.Hash, "0123456789abcdef") != "" {
		out = append(out, Error{Code: Invalid, Field: "/hash", Message: "this is not a SHA-256", Hint: "64 hex digits; the upload's answer gives it"})
	}
	c := checker{found: out}
	c.text("/name", r.Name)
	c.text("/phone", r.Phone)
	c.text("/where", r.Where)
	c.text("/place", r.Place)
	c.named("/setup", r.SetUp)
	c.text("/started_at_stop", r.Started)
	c.named("/bow", r.Bow)
	c.named("/trial", r.Trial)
	c.stop(r.Stop)
	usual(&c, "/distance_to_bale", r.ToBale, unit.Usual[unit.Length]{What: "distance to the bale", Low: 0.5, High: 100, Unit: unit.M})
	if r.Bytes < 0 {
		c.add("/bytes", "a file cannot hold fewer bytes than none", "send the size that the upload's answer gave, or leave it out")
	}
	for i, tap := range r.Taps {
		if !(tap.At >= 0) || tap.Stop < 0 || i > 0 && tap.At < r.Taps[i-1].At {
			c.add(fmt.Sprintf("/taps/%d", i), "the taps are not in the order of their time", "each with the stop it began and its second from the recording's start")
		}
	}
	return c.found
}

// Check gives what cannot stand.
func (r Reading) Check() Problems {
	out := Problems(r.check())
	out = append(out, refuse(r.Bow.Check("/bow"))...)
	out = append(out, refuse(r.SetUp.Check("/setup"))...)
	out = append(out, r.checkValue()...)
	c := checker{found: out}
	c.text("/text", r.Text)
	c.text("/note", r.Note)
	c.text("/instrument", r.Instrument)
	c.named("/session", r.Session)
	c.named("/trial", r.Trial)
	c.named("/corrects", r.Corrects)
	c.stop(r.Stop)
	c.checkWhere(r)
	if r.Corrects == r.ID && r.ID != "" {
		c.add("/corrects", "a reading cannot correct itself", "give it a new id and name the wrong one in corrects")
	}
	if r.Repeat < 0 || r.Arrows < 0 {
		c.add("/repeat", "repeats and arrows cannot be fewer than none", "1 for the first of several readings")
	}
	if r.Kind == ReadBrace {
		c.found = append(c.found, one(string(r.Edge), "/edge", "", string(EdgePivot), string(EdgeButton))...)
	}
	return c.found
}

// Check gives what cannot stand.
func (t Trial) Check() Problems {
	out := Problems(t.check())
	out = append(out, refuse(t.Bow.Check("/bow"))...)
	out = append(out, refuse(t.SetUp.Check("/setup"))...)
	if !json.Valid(t.Plan) {
		out = append(out, Error{Code: Invalid, Field: "/plan", Message: "the trial has no plan", Hint: "make one with the plan page"})
	}
	return append(out, named(t.What, "/what", "what the trial is about")...)
}

// Check gives what cannot stand.
func (e TrialEvent) Check() Problems {
	out := Problems(e.check())
	out = append(out, refuse(e.Trial.Check("/trial"))...)
	out = append(out, one(string(e.What), "/what", string(Reached), string(Paused), string(Finished), string(Abandoned))...)
	if e.What == Reached && e.Stop == nil {
		out = append(out, Error{Code: Invalid, Field: "/stop", Message: "which stop was reached is missing", Hint: "its number in the plan, from 0"})
	}
	c := checker{found: out}
	c.stop(e.Stop)
	c.text("/note", e.Note)
	return c.found
}

// Check gives what cannot stand.
func (v Verdict) Check() Problems {
	out := Problems(v.check())
	out = append(out, refuse(v.Trial.Check("/trial"))...)
	if !json.Valid(v.Content) {
		out = append(out, Error{Code: Invalid, Field: "/content", Message: "the verdict is empty", Hint: "compute it from the trial's page"})
	}
	c := checker{found: out}
	c.named("/chosen", v.Chosen)
	c.text("/program", v.Program)
	return c.found
}

// Check gives what cannot stand.
func (r Retraction) Check() Problems {
	c := checker{found: append(Problems(r.check()), refuse(r.Target.Check("/target"))...)}
	if r.Target == r.ID && r.ID != "" {
		c.add("/target", "a retraction cannot retract itself", "make a new one that names it")
	}
	c.text("/reason", r.Reason)
	return c.found
}

// text refuses what is too long or no text.
func (c *checker) text(field, s string) { c.found = append(c.found, short(s, field)...) }

// named refuses the name of another record that is no id; none is allowed.
func (c *checker) named(field string, id ID) {
	if id != "" {
		c.found = append(c.found, refuse(id.Check(field))...)
	}
}

// stop refuses a place in a plan that cannot be.
func (c *checker) stop(n *int) {
	if n != nil && (*n < 0 || *n > 1000) {
		c.add("/stop", fmt.Sprintf("there is no stop %d", *n), "its number in the plan, from 0")
	}
}

func named(s, field, what string) []Error {
	switch {
	case strings.TrimSpace(s) == "":
		return []Error{{Code: Invalid, Field: field, Message: what + " is missing", Hint: "a few words"}}
	case !utf8.ValidString(s) || strings.ContainsRune(s, 0) || utf8.RuneCountInString(s) > 200:
		return []Error{{Code: Invalid, Field: field, Message: what + " is too long or not text", Hint: "at most 200 letters"}}
	}
	return nil
}

func short(s, field string) []Error {
	if !utf8.ValidString(s) || len(s) > maxText || strings.ContainsRune(s, 0) {
		return []Error{{Code: Invalid, Field: field, Message: "the text is too long or not text", Hint: fmt.Sprintf("at most %d letters", maxText)}}
	}
	return nil
}

func one(s, field string, allowed ...string) []Error {
	for _, a := range allowed {
		if s == a {
			return nil
		}
	}
	return []Error{{Code: Invalid, Field: field, Message: fmt.Sprintf("%q is not one of the choices", s), Hint: strings.TrimPrefix(strings.Join(allowed, ", "), ", ")}}
}
