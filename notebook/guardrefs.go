package notebook

import (
	"context"
)

// BowOf finds the bow that a record in sight belongs to, whoever may see it: ""
// if it belongs to none, an error with code NotFound if there is no such
// record. With AnyNoun every noun is searched but people and shares.
func BowOf(ctx context.Context, s Store, noun Noun, id ID) (ID, error) {
	if g, ok := s.(*guard); ok {
		s = g.Store
	}
	return bowOf(ctx, s, noun, id)
}

func (g *guard) bowOf(ctx context.Context, noun Noun, id ID) (ID, error) {
	return bowOf(ctx, g.Store, noun, id)
}

func bowOf(ctx context.Context, s Store, noun Noun, id ID) (ID, error) {
	for _, n := range findersIn(s) {
		if noun != AnyNoun && noun != n.noun {
			continue
		}
		bow, err := n.bow(ctx, id)
		if CodeOf(err) == NotFound && noun == AnyNoun {
			continue
		}
		return bow, err
	}
	return "", notThere()
}

// finder looks for a record of one noun and gives its bow.
type finder struct {
	noun Noun
	bow  func(context.Context, ID) (ID, error)
}

func find[T Record](noun Noun, records Records[T], bow func(context.Context, T) (ID, error)) finder {
	return finder{noun, func(ctx context.Context, id ID) (ID, error) {
		r, err := records.Get(ctx, "", id)
		if err != nil {
			return "", err
		}
		return bow(ctx, r)
	}}
}

// names is a record that names its bow itself.
func names[T any](bow func(T) ID) func(context.Context, T) (ID, error) {
	return func(_ context.Context, r T) (ID, error) { return bow(r), nil }
}

// findersIn lists the nouns, those that are asked for most first.
func findersIn(s Store) []finder {
	return []finder{
		find(ReadingNoun, s.Readings(), names(func(r Reading) ID { return r.Bow })),
		find(EndNoun, s.Ends(), names(func(r End) ID { return r.Bow })),
		find(TrialNoun, s.Trials(), names(func(r Trial) ID { return r.Bow })),
		find(SetUpNoun, s.SetUps(), names(func(r SetUp) ID { return r.Bow })),
		find(SessionNoun, s.Sessions(), names(func(r Session) ID { return r.Bow })),
		find(RecordingNoun, s.Recordings(), names(func(r Recording) ID { return r.Bow })),
		find(BowNoun, s.Bows(), names(func(r Bow) ID { return r.ID })),
		find(VerdictNoun, s.Verdicts(), func(ctx context.Context, r Verdict) (ID, error) { return bowOf(ctx, s, TrialNoun, r.Trial) }),
		find(EventNoun, s.Events(), func(ctx context.Context, r TrialEvent) (ID, error) { return bowOf(ctx, s, TrialNoun, r.Trial) }),
		find(OnsetsNoun, s.Onsets(), func(ctx context.Context, r Onsets) (ID, error) { return bowOf(ctx, s, RecordingNoun, r.Recording) }),
		find(FitNoun, s.Fits(), names(func(r Fit) ID { return r.Bow })),
		find(ForecastNoun, s.Forecasts(), names(func(r Forecast) ID { return r.Bow })),
		find(RulingNoun, s.Rulings(), func(ctx context.Context, r Ruling) (ID, error) { return bowOf(ctx, s, AnyNoun, r.Target) }),
		find(RetractNoun, s.Retractions(), func(ctx context.Context, r Retraction) (ID, error) { return bowOf(ctx, s, AnyNoun, r.Target) }),
	}
}

// mayName refuses a record that names another which the actor may not see, as
// if it were not there. What is truly missing is left to the store: a
// recording may be sent before its trial.
func (g *guard) mayName(ctx context.Context, club Club, actor ID, r Record) error {
	for _, ref := range r.Refers() {
		if ref.Noun == PersonNoun {
			continue
		}
		bow, err := g.bowOf(ctx, ref.Noun, ref.ID)
		switch {
		case CodeOf(err) == NotFound:
			continue
		case err != nil:
			return err
		case bow != "" && club.Access(actor, bow) < ReadAccess:
			return &Error{Code: Invalid, Field: ref.Field, Message: "it names a record that is not in the notebook", Hint: "send that record first, or check the id"}
		}
	}
	return nil
}
