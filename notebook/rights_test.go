package notebook

import (
	"testing"

	"pgregory.net/rapid"
)

// Rights never grow by taking something away: for any club, withdrawing a
// share or putting a person out leaves nobody with more access than before.
func TestTakingAwayNeverGives(t *testing.T) {
	ids := []ID{NewID(), NewID(), NewID(), NewID()}
	bows := []ID{NewID(), NewID()}
	rapid.Check(t, func(t *rapid.T) {
		pick := rapid.SampledFrom(ids)
		people := map[ID]Person{}
		for _, id := range ids {
			people[id] = Person{Stamp: Stamp{ID: id}, Role: rapid.SampledFrom([]Role{OwnerRole, CoachRole, ArcherRole, ViewerRole}).Draw(t, "role"), Disabled: rapid.Bool().Draw(t, "out")}
		}
		owners := map[ID]ID{bows[0]: pick.Draw(t, "archer"), bows[1]: pick.Draw(t, "archer")}
		var shares []Share
		for range rapid.IntRange(1, 5).Draw(t, "shares") {
			shares = append(shares, Share{
				Archer: pick.Draw(t, "from"), With: pick.Draw(t, "with"), Bow: rapid.SampledFrom([]ID{"", bows[0], bows[1]}).Draw(t, "bow"),
				May: rapid.SampledFrom([]Grant{MayRead, MayWork}).Draw(t, "may"),
			})
		}
		before := Club{People: people, Owners: owners, Shares: shares}
		less := Club{People: people, Owners: owners, Shares: shares[1:]}
		out := Club{People: map[ID]Person{}, Owners: owners, Shares: shares}
		for id, p := range people {
			p.Disabled = p.Disabled || id == ids[0]
			out.People[id] = p
		}
		for _, actor := range ids {
			for _, bow := range bows {
				had := before.Access(actor, bow)
				if less.Access(actor, bow) > had || out.Access(actor, bow) > had {
					t.Fatalf("%s gained on %s", actor, bow)
				}
				if actor == ids[0] && out.Access(actor, bow) != NoAccess {
					t.Fatal("who was put out still has access")
				}
				readable, all := before.Readable(actor)
				listed := all
				for _, b := range readable {
					listed = listed || b == bow
				}
				if listed != (had >= ReadAccess) {
					t.Fatalf("lists and access disagree: %v, %v", listed, had)
				}
			}
		}
	})
}

// A share of one's own bows is one's own to give, and of another's nobody's: the
// owner of the notebook does not give themselves leave to work. Withdrawn it
// may be by either side and the owner.
func TestSharesThatMayNotBeGiven(t *testing.T) {
	ann, ben, out, owner := NewID(), NewID(), NewID(), NewID()
	bow := NewID()
	club := Club{People: map[ID]Person{
		owner: {Stamp: Stamp{ID: owner}, Role: OwnerRole},
		ann:   {Stamp: Stamp{ID: ann}, Role: ArcherRole}, ben: {Stamp: Stamp{ID: ben}, Role: ArcherRole}, out: {Stamp: Stamp{ID: out}, Role: ArcherRole, Disabled: true},
	}, Owners: map[ID]ID{bow: ann}}
	for name, c := range map[string]struct {
		actor ID
		share Share
		want  bool
	}{
		"her own":                 {ann, Share{Archer: ann, Bow: bow, With: ben}, true},
		"all of hers":             {ann, Share{Archer: ann, With: ben}, true},
		"another's":               {ben, Share{Archer: ann, Bow: bow, With: ben}, false},
		"another's as one's own":  {ben, Share{Archer: ben, Bow: bow, With: ben}, false},
		"no longer let in":        {out, Share{Archer: out, With: ben}, false},
		"a bow that is not there": {ann, Share{Archer: ann, Bow: NewID(), With: ben}, false},
		"the owner to themselves": {owner, Share{Archer: ann, Bow: bow, With: owner}, false},
		"the owner to a coach":    {owner, Share{Archer: ann, With: ben}, false},
		"the owner's own":         {owner, Share{Archer: owner, With: ben}, true},
	} {
		if got := club.MayShare(c.actor, c.share); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
	given := Share{Archer: ann, Bow: bow, With: ben}
	for actor, want := range map[ID]bool{ann: true, ben: true, owner: true, out: false, NewID(): false} {
		if got := club.MayWithdraw(actor, given); got != want {
			t.Errorf("%v may withdraw: %v", club.People[actor].Role, got)
		}
	}
}
