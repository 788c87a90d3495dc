package notebook

import (
	"strings"
	"testing"
)

// Who may do what, spelled out for a small club: Ann and Ben shoot; Ann lets
// the coach work on all her bows, the reader and the viewer look, the helper
// work on one; Ben shares with nobody; Emil was put out, and Ann's share with
// him stands still.
func TestRightsSpelledOut(t *testing.T) {
	people := map[ID]Person{}
	for id, role := range map[ID]Role{"owner": OwnerRole, "ann": ArcherRole, "ben": ArcherRole, "coach": CoachRole, "reader": CoachRole, "helper": ArcherRole, "viewer": ViewerRole, "emil": ArcherRole, "stranger": CoachRole} {
		people[id] = Person{Stamp: Stamp{ID: id}, Role: role, Disabled: id == "emil"}
	}
	c := Club{
		People: people, Owners: map[ID]ID{"a1": "ann", "a2": "ann", "b": "ben", "v": "viewer"},
		Shares: []Share{
			{Archer: "ann", With: "coach", May: MayWork}, {Archer: "ann", With: "reader", May: MayRead}, {Archer: "ann", With: "viewer", May: MayWork},
			{Archer: "ann", With: "helper", Bow: "a1", May: MayWork}, {Archer: "ann", With: "emil", May: MayWork}, {Archer: "viewer", With: "coach", May: MayRead},
		},
	}
	access := map[ID][4]Access{ // a1, a2, b, v
		"owner": {ReadAccess, ReadAccess, ReadAccess, ReadAccess}, "ann": {OwnAccess, OwnAccess}, "ben": {2: OwnAccess}, "coach": {WorkAccess, WorkAccess, NoAccess, ReadAccess},
		"reader": {ReadAccess, ReadAccess}, "helper": {WorkAccess}, "viewer": {ReadAccess, ReadAccess, NoAccess, ReadAccess}, "emil": {}, "stranger": {}, "nobody": {},
	}
	for who, want := range access {
		for i, bow := range []ID{"a1", "a2", "b", "v"} {
			if got := c.Access(who, bow); got != want[i] {
				t.Errorf("%s on %s: %v, want %v", who, bow, got, want[i])
			}
		}
		if c.Access(who, "no such bow") != NoAccess {
			t.Errorf("%s has access to a bow that is not there", who)
		}
		if c.Governs(who) != (who == "owner") {
			t.Errorf("%s governs: %v", who, c.Governs(who))
		}
	}
	said := func(what string, allowed map[ID]string, may func(actor, other ID) bool) {
		t.Helper()
		for actor := range access {
			for _, other := range []ID{"ann", "ben", "coach", "viewer"} {
				want := false
				for _, o := range strings.Fields(allowed[actor]) {
					want = want || ID(o) == other
				}
				if got := may(actor, other); got != want {
					t.Errorf("%s %s %s: %v", actor, what, other, got)
				}
			}
		}
	}
	said("sees", map[ID]string{
		"owner": "ann ben coach viewer", "ann": "ann coach viewer", "ben": "ben", "coach": "ann coach viewer", "reader": "ann", "helper": "ann", "viewer": "ann coach viewer",
	}, c.SeesPerson)
	for actor := range access {
		if c.SeesPerson(actor, "owner") != (actor != "emil" && actor != "nobody") {
			t.Errorf("%s sees the owner: %v", actor, c.SeesPerson(actor, "owner"))
		}
	}
	said("adds a bow for", map[ID]string{"ann": "ann", "ben": "ben", "coach": "ann coach"}, c.MayAdd)
	said("gives away all of", map[ID]string{"ann": "ann", "ben": "ben", "coach": "coach"}, func(actor, archer ID) bool {
		return c.MayShare(actor, Share{Archer: archer, With: "reader", May: MayRead})
	})
	said("gives away the first bow as", map[ID]string{"ann": "ann"}, func(actor, archer ID) bool {
		return c.MayShare(actor, Share{Archer: archer, Bow: "a1", With: "reader", May: MayRead})
	})
	said("ends the share with", map[ID]string{"owner": "ann ben coach viewer", "ann": "ann ben coach viewer", "ben": "ben", "coach": "coach", "viewer": "viewer"}, func(actor, with ID) bool {
		return c.MayWithdraw(actor, Share{Archer: "ann", With: with})
	})
	said("changes the name of", map[ID]string{"owner": "ann ben coach viewer", "ann": "ann", "ben": "ben", "coach": "coach", "viewer": "viewer"}, func(actor, other ID) bool {
		return c.MayChangePerson(actor, people[other])
	})
	said("puts out", map[ID]string{"owner": "ann ben coach viewer"}, func(actor, other ID) bool {
		next := people[other]
		next.Disabled = true
		return c.MayChangePerson(actor, next)
	})
	said("makes an owner of", map[ID]string{"owner": "ann ben coach viewer"}, func(actor, other ID) bool {
		next := people[other]
		next.Role = OwnerRole
		return c.MayChangePerson(actor, next)
	})
	if next := people["owner"]; c.MayChangePerson("ann", next) || !c.MayChangePerson("owner", next) {
		t.Error("the owner's own record")
	}
	first := Person{Stamp: Stamp{ID: "first"}}
	if empty := (Club{}); !empty.MayChangePerson("first", first) || empty.MayChangePerson("second", first) {
		t.Error("the first person of an empty notebook")
	}
}
