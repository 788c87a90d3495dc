package notebook

import "strconv"

// Noun names a kind of record in an export and in references between records.
type Noun string

// The nouns, each after those it refers to.
const (
	PersonNoun    Noun = "person"
	BowNoun       Noun = "bow"
	SetUpNoun     Noun = "setup"
	SessionNoun   Noun = "session"
	RecordingNoun Noun = "recording"
	TrialNoun     Noun = "trial"
	ReadingNoun   Noun = "reading"
	EventNoun     Noun = "trial_event"
	VerdictNoun   Noun = "verdict"
	EndNoun       Noun = "end"
	OnsetsNoun    Noun = "onsets"
	FitNoun       Noun = "fit"
	ForecastNoun  Noun = "forecast"
	RulingNoun    Noun = "ruling"
	ShareNoun     Noun = "share"
	RetractNoun   Noun = "retraction"
	// AnyNoun is the target of a retraction.
	AnyNoun Noun = ""
)

// Reference is one record's naming of another.
type Reference struct {
	Field string // JSON pointer into the record
	Noun  Noun
	ID    ID
}

// refer lists the references that are set; every record names its writer.
func (s Stamp) refer(refs ...Reference) []Reference {
	out := []Reference{{"/by", PersonNoun, s.By}}
	for _, r := range refs {
		if r.ID != "" {
			out = append(out, r)
		}
	}
	return out
}

// Refers lists the records this one names.
func (p Person) Refers() []Reference { return p.refer() }

// Refers lists the records this one names.
func (b Bow) Refers() []Reference { return b.refer(Reference{"/owner", PersonNoun, b.Owner}) }

// Refers lists the records this one names.
func (s SetUp) Refers() []Reference {
	out := s.refer(Reference{"/bow", BowNoun, s.Bow}, Reference{"/parent", SetUpNoun, s.Parent})
	for i, other := range s.Settles {
		out = append(out, Reference{"/settles/" + strconv.Itoa(i), SetUpNoun, other})
	}
	return out
}

// Refers lists the records this one names.
func (s Session) Refers() []Reference { return s.refer(Reference{"/bow", BowNoun, s.Bow}) }

// Refers lists the records this one names. A recording may be uploaded before
// its trial is sent, so a missing trial is found by a check, not refused.
func (r Recording) Refers() []Reference {
	return r.refer(Reference{"/bow", BowNoun, r.Bow}, Reference{"/setup", SetUpNoun, r.SetUp}, Reference{"/trial", TrialNoun, r.Trial})
}

// Refers lists the records this one names.
func (r Reading) Refers() []Reference {
	return r.refer(Reference{"/bow", BowNoun, r.Bow}, Reference{"/setup", SetUpNoun, r.SetUp}, Reference{"/session", SessionNoun, r.Session},
		Reference{"/trial", TrialNoun, r.Trial}, Reference{"/corrects", ReadingNoun, r.Corrects})
}

// Refers lists the records this one names.
func (t Trial) Refers() []Reference {
	return t.refer(Reference{"/bow", BowNoun, t.Bow}, Reference{"/setup", SetUpNoun, t.SetUp})
}

// Refers lists the records this one names.
func (e TrialEvent) Refers() []Reference { return e.refer(Reference{"/trial", TrialNoun, e.Trial}) }

// Refers lists the records this one names.
func (v Verdict) Refers() []Reference {
	return v.refer(Reference{"/trial", TrialNoun, v.Trial}, Reference{"/chosen", SetUpNoun, v.Chosen})
}

// Refers lists the records this one names.
func (r Retraction) Refers() []Reference { return r.refer(Reference{"/target", AnyNoun, r.Target}) }
