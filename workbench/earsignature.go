package workbench

import (
	"cmp"
	"slices"

	"tautline/notebook"
	"tautline/sound"
	"tautline/unit"
)

// VoiceGroup is the shots of a bow that may be held against each other: one
// set-up, one stop of a trial if it was a trial, one arrangement of phone and
// place.
type VoiceGroup struct {
	SetUp      notebook.ID `json:"setup,omitempty"`
	Trial      notebook.ID `json:"trial,omitempty"`
	Stop       *int        `json:"stop,omitempty"`
	Conditions sound.Conditions
	Recordings []notebook.ID
	Shots      []VoiceShot      // in the order of their recordings
	Usual      *sound.Signature // nil: too few shots; Why says how many
	Why        string
	Flags      int     // shots that sound unlike the rest
	PerRound   float64 // flags to expect by chance in 72 arrows, at most
	SmallestP  float64 // the least p that so many shots can give; 1 without any
	Arrows     []VoiceArrow
	only       notebook.ID
}

// VoiceShot is a shot held against the others of its group.
type VoiceShot struct {
	Recording     notebook.ID
	Number        int
	Release       unit.Duration
	Arrow, Score  string // as tied by hand; empty: not known
	Reading       notebook.ID
	sound.Oddness // how unlike the others it sounds
}

// VoiceArrow is how often one numbered arrow sounded odd.
type VoiceArrow struct {
	Arrow  string
	Shots  int
	Flags  int
	Scores []string
}

// Voices sorts a bow's recordings into groups that may be compared and says
// how the bow usually sounds in each, and which shots sounded unlike the rest.
// setUps are the bow's, oldest first: a recording outside of trials belongs to
// the one in force when it was made, unless it names its own.
func Voices(heard []Heard, setUps []notebook.SetUp, trials []notebook.Trial) []VoiceGroup {
	var groups []VoiceGroup
	for _, h := range heard {
		for _, shot := range h.Hearing.Measured() {
			g := VoiceGroup{SetUp: setUpOf(h.Recording, setUps, trials), Trial: h.Recording.Trial, Conditions: h.conditions()}
			if at, ok := h.StopOf(shot); ok && (g.Trial != "" || h.settings() > 1) {
				g.Stop = &at
			}
			if g.Trial == "" && g.Stop != nil {
				g.only = h.Recording.ID // outside of a trial each recording counts its settings anew
			}
			i := slices.IndexFunc(groups, g.joins)
			if i < 0 {
				groups = append(groups, g)
				i = len(groups) - 1
			}
			groups[i].add(h, shot)
		}
	}
	for i := range groups {
		groups[i].judge()
	}
	return groups
}

// joins reports whether shots of both may be held against each other.
func (g VoiceGroup) joins(o VoiceGroup) bool {
	stop := g.Stop == nil && o.Stop == nil || g.Stop != nil && o.Stop != nil && *g.Stop == *o.Stop
	alike := g.Conditions == o.Conditions || len(g.Conditions.Compare(o.Conditions)) == 0
	return stop && alike && g.only == o.only && g.SetUp == o.SetUp && g.Trial == o.Trial
}

// settings counts the settings that were marked in a recording.
func (h Heard) settings() int {
	seen := map[int]bool{}
	for _, t := range h.Recording.Taps {
		seen[t.Stop] = true
	}
	return len(seen)
}

func (g *VoiceGroup) add(h Heard, shot sound.Shot) {
	if !slices.Contains(g.Recordings, h.Recording.ID) {
		g.Recordings = append(g.Recordings, h.Recording.ID)
	}
	s := VoiceShot{Recording: h.Recording.ID, Number: shot.Number, Release: shot.Release}
	if t, ok := h.Tie(shot); ok {
		s.Arrow, s.Score, s.Reading = t.Arrow, t.Ring, t.Reading
	}
	s.Features = sound.FeaturesOf(shot.Measures)
	g.Shots = append(g.Shots, s)
}

// judge holds each shot against all others of the group.
func (g *VoiceGroup) judge() {
	features := make([]sound.Features, len(g.Shots))
	for i, s := range g.Shots {
		features[i] = s.Features
	}
	g.SmallestP = 1
	for i, o := range sound.LeaveOneOut(features) {
		g.Shots[i].Oddness = o
		if o.OK {
			g.PerRound, g.SmallestP = o.PerRound, o.SmallestP
		}
		if o.Flag {
			g.Flags++
		}
	}
	usual, err := sound.NewSignature(features)
	if err != nil {
		g.Why = err.Error()
	} else {
		g.Usual = &usual
	}
	g.Arrows = arrowsOf(g.Shots)
}

// arrowsOf joins the flags with the numbers on the shafts, odd ones first.
func arrowsOf(shots []VoiceShot) []VoiceArrow {
	var out []VoiceArrow
	for _, s := range shots {
		if s.Arrow == "" || !s.OK {
			continue
		}
		i := slices.IndexFunc(out, func(a VoiceArrow) bool { return a.Arrow == s.Arrow })
		if i < 0 {
			out = append(out, VoiceArrow{Arrow: s.Arrow})
			i = len(out) - 1
		}
		out[i].Shots++
		if s.Flag {
			out[i].Flags++
		}
		if s.Score != "" {
			out[i].Scores = append(out[i].Scores, s.Score)
		}
	}
	slices.SortStableFunc(out, func(a, b VoiceArrow) int {
		return cmp.Or(cmp.Compare(b.Flags, a.Flags), cmp.Compare(len(a.Arrow), len(b.Arrow)), cmp.Compare(a.Arrow, b.Arrow))
	})
	return out
}

// setUpOf is the set-up a recording was made on: its own, its trial's, or the
// one in force at that time.
func setUpOf(r notebook.Recording, setUps []notebook.SetUp, trials []notebook.Trial) notebook.ID {
	if r.SetUp != "" {
		return r.SetUp
	}
	for _, t := range trials {
		if t.ID == r.Trial {
			return t.SetUp
		}
	}
	var at notebook.ID
	for _, s := range setUps {
		if at == "" || !s.At.After(r.At) {
			at = s.ID
		}
	}
	return at
}
