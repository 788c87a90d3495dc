package notebook

// Access is what a person may do with one bow and all that belongs to it.
type Access int

// The accesses, each including those before it.
const (
	NoAccess   Access = iota
	ReadAccess        // see
	WorkAccess        // write readings, set-ups, trials
	OwnAccess         // change the bow itself, share it, give it away
)

// Club is what rights follow from: who is in the notebook, whose each bow is,
// and what is shared. The zero value knows nobody.
type Club struct {
	People map[ID]Person // their latest versions
	Owners map[ID]ID     // bow → archer
	Shares []Share       // those that stand
}

// NewClub sorts a notebook's records.
func NewClub(people []Person, bows []Bow, shares []Share) Club {
	c := Club{People: map[ID]Person{}, Owners: map[ID]ID{}, Shares: shares}
	for _, p := range people {
		c.People[p.ID] = p
	}
	for _, b := range bows {
		c.Owners[b.ID] = b.Owner
	}
	return c
}

// Known gives a person who may do anything at all.
func (c Club) Known(actor ID) (Person, bool) {
	p, ok := c.People[actor]
	return p, ok && !p.Disabled
}

// Governs reports whether the actor lets people in and sees every bow.
func (c Club) Governs(actor ID) bool {
	p, ok := c.Known(actor)
	return ok && p.Role == OwnerRole
}

// Access gives what the actor may do with a bow.
func (c Club) Access(actor, bow ID) Access {
	p, ok := c.Known(actor)
	archer, exists := c.Owners[bow]
	switch {
	case !ok || !exists:
		return NoAccess
	case archer == actor && p.Role != ViewerRole:
		return OwnAccess
	}
	return c.shared(p, archer, bow)
}

// shared is what others gave, and what a role gives by itself.
func (c Club) shared(p Person, archer, bow ID) Access {
	best := NoAccess
	if p.Role == OwnerRole || archer == p.ID {
		best = ReadAccess
	}
	for _, s := range c.Shares {
		if s.With != p.ID || s.Archer != archer || s.Bow != "" && s.Bow != bow {
			continue
		}
		best = max(best, ReadAccess)
		if s.May == MayWork && p.Role != ViewerRole {
			best = max(best, WorkAccess)
		}
	}
	return best
}

// Readable lists the bows that the actor may see, in no order. All is true for
// who sees every bow, and then there is no list.
func (c Club) Readable(actor ID) (bows []ID, all bool) {
	if c.Governs(actor) {
		return nil, true
	}
	for bow := range c.Owners {
		if c.Access(actor, bow) >= ReadAccess {
			bows = append(bows, bow)
		}
	}
	return bows, false
}

// SeesPerson reports whether the actor may see who another is: themselves,
// those with whom something is shared, and the owner of the notebook.
func (c Club) SeesPerson(actor, other ID) bool {
	if _, ok := c.Known(actor); !ok {
		return false
	}
	if actor == other || c.Governs(actor) || c.People[other].Role == OwnerRole {
		return true
	}
	for _, s := range c.Shares {
		if s.Archer == actor && s.With == other || s.Archer == other && s.With == actor {
			return true
		}
	}
	return false
}

// MayAdd reports whether the actor may bring a bow of this archer in: their
// own, or one of an archer who lets them work on all.
func (c Club) MayAdd(actor, archer ID) bool {
	p, ok := c.Known(actor)
	if !ok || p.Role == ViewerRole {
		return false
	}
	if actor == archer {
		return true
	}
	for _, s := range c.Shares {
		if s.With == actor && s.Archer == archer && s.Bow == "" && s.May == MayWork {
			return true
		}
	}
	return false
}

// MayShare reports whether the actor may give this share: whose bows they are.
// The owner of the notebook sees all bows, and gives none away, least of all to
// themselves.
func (c Club) MayShare(actor ID, s Share) bool {
	p, ok := c.Known(actor)
	if !ok || s.Bow != "" && c.Owners[s.Bow] != s.Archer {
		return false
	}
	return s.Archer == actor && p.Role != ViewerRole
}

// MayWithdraw reports whether the actor may end this share: who gave it, who
// got it, and the owner of the notebook.
func (c Club) MayWithdraw(actor ID, s Share) bool {
	_, ok := c.Known(actor)
	return ok && (s.Archer == actor || s.With == actor || c.Governs(actor))
}

// MayChangePerson reports whether the actor may replace a person's record by
// the next version: their own, but not their role or whether they are let in;
// the owner of the notebook changes both, of others only, so that the last
// owner cannot lock everyone out by a slip.
func (c Club) MayChangePerson(actor ID, next Person) bool {
	if len(c.People) == 0 {
		return actor == next.ID // the first person of an empty notebook
	}
	old, exists := c.People[next.ID]
	if _, ok := c.Known(actor); !ok {
		return false
	}
	standing := exists && old.Role == next.Role && old.Disabled == next.Disabled
	if actor == next.ID {
		return standing
	}
	return c.Governs(actor)
}
