package notebook

import "context"

// keeps puts a noun that names its bow behind the guard.
func keeps[T Record](g *guard, inner Records[T], bow func(T) ID) Records[T] {
	return guarded[T]{g: g, inner: inner, bow: func(_ context.Context, _ *guard, r T) (ID, error) { return bow(r), nil }}
}

// SetUps are seen and made by who may see and work on their bow; so are the
// nouns below.
func (g *guard) SetUps() Records[SetUp] {
	return keeps(g, g.Store.SetUps(), func(r SetUp) ID { return r.Bow })
}

func (g *guard) Sessions() Records[Session] {
	return keeps(g, g.Store.Sessions(), func(r Session) ID { return r.Bow })
}

func (g *guard) Recordings() Records[Recording] {
	return keeps(g, g.Store.Recordings(), func(r Recording) ID { return r.Bow })
}

func (g *guard) Readings() Records[Reading] {
	return keeps(g, g.Store.Readings(), func(r Reading) ID { return r.Bow })
}

func (g *guard) Trials() Records[Trial] {
	return keeps(g, g.Store.Trials(), func(r Trial) ID { return r.Bow })
}

func (g *guard) Ends() Records[End] {
	return keeps(g, g.Store.Ends(), func(r End) ID { return r.Bow })
}

func (g *guard) Fits() Records[Fit] {
	return keeps(g, g.Store.Fits(), func(r Fit) ID { return r.Bow })
}

func (g *guard) Forecasts() Records[Forecast] {
	return keeps(g, g.Store.Forecasts(), func(r Forecast) ID { return r.Bow })
}

// Events and Verdicts belong to the bow of their trial.
func (g *guard) Events() Records[TrialEvent] {
	return guarded[TrialEvent]{g: g, inner: g.Store.Events(), bow: func(ctx context.Context, g *guard, r TrialEvent) (ID, error) { return g.bowOf(ctx, TrialNoun, r.Trial) }}
}

func (g *guard) Verdicts() Records[Verdict] {
	return guarded[Verdict]{g: g, inner: g.Store.Verdicts(), bow: func(ctx context.Context, g *guard, r Verdict) (ID, error) { return g.bowOf(ctx, TrialNoun, r.Trial) }}
}

// Onsets belong to the bow of their recording.
func (g *guard) Onsets() Records[Onsets] {
	return guarded[Onsets]{g: g, inner: g.Store.Onsets(), bow: func(ctx context.Context, g *guard, r Onsets) (ID, error) {
		return g.bowOf(ctx, RecordingNoun, r.Recording)
	}}
}

// Rulings belong to the bow of what they are about.
func (g *guard) Rulings() Records[Ruling] {
	bow := func(ctx context.Context, g *guard, r Ruling) (ID, error) { return g.bowOf(ctx, AnyNoun, r.Target) }
	return guarded[Ruling]{g: g, inner: g.Store.Rulings(), bow: bow, maySee: seesTarget(bow)}
}

// Retractions belong to the bow of what they take out of sight. A share is
// withdrawn by who gave it, or left by who got it.
func (g *guard) Retractions() Records[Retraction] {
	bow := func(ctx context.Context, g *guard, r Retraction) (ID, error) { return g.bowOf(ctx, AnyNoun, r.Target) }
	return guarded[Retraction]{g: g, inner: g.Store.Retractions(), bow: bow, maySee: seesTarget(bow), mayPut: mayRetract, changes: true}
}

// seesTarget looks at the bow of what a record is about; without one its
// writer and the owner of the notebook see it.
func seesTarget[T Record](bow func(context.Context, *guard, T) (ID, error)) func(context.Context, *guard, Club, ID, T) (bool, error) {
	return func(ctx context.Context, g *guard, club Club, actor ID, r T) (bool, error) {
		at, err := bow(ctx, g, r)
		switch {
		case err != nil && CodeOf(err) != NotFound:
			return false, err
		case at == "":
			return r.Stamped().By == actor || club.Governs(actor), nil
		}
		return club.Access(actor, at) >= ReadAccess, nil
	}
}

func mayRetract(ctx context.Context, g *guard, club Club, actor ID, r Retraction) error {
	if r.By != actor {
		return notAllowed("write in another's name")
	}
	s, err := g.Store.Shares().Get(ctx, actor, r.Target)
	switch {
	case err == nil && club.MayWithdraw(actor, s):
		return nil
	case err == nil:
		return notThere()
	case CodeOf(err) != NotFound:
		return err
	}
	switch _, err := g.Store.People().Get(ctx, actor, r.Target); {
	case err == nil:
		return notAllowed("take a person out of sight; the owner of the notebook lets no longer in instead")
	case CodeOf(err) != NotFound:
		return err
	}
	bow, err := g.bowOf(ctx, AnyNoun, r.Target)
	if err != nil {
		return err
	}
	if _, isBow := club.Owners[r.Target]; isBow && club.Access(actor, bow) == WorkAccess {
		return notAllowed("take another's bow out of sight")
	}
	return mayWork(club, actor, bow)
}

// People see themselves and those they share with.
func (g *guard) People() Records[Person] {
	return guarded[Person]{
		g: g, inner: g.Store.People(), changes: true,
		bow: func(context.Context, *guard, Person) (ID, error) { return "", nil },
		maySee: func(_ context.Context, _ *guard, club Club, actor ID, r Person) (bool, error) {
			return club.SeesPerson(actor, r.ID), nil
		},
		mayPut: func(_ context.Context, _ *guard, club Club, actor ID, r Person) error {
			switch {
			case club.MayChangePerson(actor, r):
				return nil
			case club.SeesPerson(actor, r.ID):
				return notAllowed("change this of a person")
			}
			return notThere()
		},
	}
}

// Bows are made by their archer, or by who may work on all of an archer's.
func (g *guard) Bows() Records[Bow] {
	return guarded[Bow]{
		g: g, inner: g.Store.Bows(), changes: true,
		bow: func(_ context.Context, _ *guard, r Bow) (ID, error) { return r.ID, nil },
		mayPut: func(_ context.Context, _ *guard, club Club, actor ID, r Bow) error {
			owner, exists := club.Owners[r.ID]
			switch access := club.Access(actor, r.ID); {
			case !exists && club.MayAdd(actor, r.Owner):
				return nil
			case !exists:
				return notAllowed("make a bow for this person")
			case access == NoAccess:
				return notThere()
			case access < WorkAccess, access < OwnAccess && owner != r.Owner:
				return notAllowed("change this bow")
			}
			return nil
		},
	}
}

// Shares are given by whose bows they are, and seen by both sides.
func (g *guard) Shares() Records[Share] {
	return guarded[Share]{
		g: g, inner: g.Store.Shares(), changes: true,
		bow: func(context.Context, *guard, Share) (ID, error) { return "", nil },
		maySee: func(_ context.Context, _ *guard, club Club, actor ID, r Share) (bool, error) {
			return r.Archer == actor || r.With == actor || club.Governs(actor), nil
		},
		mayPut: func(_ context.Context, _ *guard, club Club, actor ID, r Share) error {
			_, known := club.People[r.With]
			switch {
			case r.By != actor:
				return notAllowed("write in another's name")
			case !club.MayShare(actor, r):
				return notThere()
			case !known:
				return &Error{Code: Invalid, Field: "/with", Message: "it names a person who is not in the notebook", Hint: "invite them first"}
			}
			return nil
		},
	}
}
