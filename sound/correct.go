package sound

import (
	"math"

	"tautline/unit"
)

// Correction is a change by hand to what the shot finder found. The found
// onset and the corrected one are both kept in the [Shot].
type Correction struct {
	Auto    *unit.Duration `json:"auto_release_s"` // the found release it is about (within 10 ms); nil: a shot that was missed
	Release *unit.Duration `json:"release_s"`      // where the release is; nil: there is no shot
	Impact  *unit.Duration `json:"impact_s"`       // where the impact is; nil: as found
	NoShot  bool           `json:"no_shot"`        // strike the found shot out
	Quiet   bool           `json:"no_impact"`      // no impact is heard, whatever was found
	Clicker *unit.Duration `json:"clicker_s"`      // where the clicker falls; nil: as found
	NoClick bool           `json:"no_clicker"`     // no clicker is heard, whatever was found
}

func (k Correction) fault() string {
	finite := func(t *unit.Duration) bool { return t == nil || *t >= 0 && *t < 1e6 }
	switch {
	case !finite(k.Auto) || !finite(k.Release) || !finite(k.Impact) || !finite(k.Clicker):
		return "a time is negative or no number"
	case k.Auto == nil && k.Release == nil:
		return "it names neither a found release nor a new one"
	case k.NoShot && k.Auto == nil:
		return "it strikes out a shot without naming it"
	case k.Impact != nil && k.Release != nil && *k.Impact <= *k.Release:
		return "the impact is not after the release"
	case k.Clicker != nil && k.Release != nil && *k.Clicker >= *k.Release:
		return "the clicker does not fall before the release"
	}
	return ""
}

// fix is a correction waiting for its time.
type fix struct {
	Correction
	used bool
}

func fixTime(f fix) unit.Duration {
	if f.Release != nil {
		return *f.Release
	}
	return *f.Auto
}

// fixFor returns the correction that names a found release.
func (l *listener) fixFor(auto unit.Duration) *fix {
	for i := range l.fixes {
		k := &l.fixes[i]
		if !k.used && k.Auto != nil && math.Abs(float64(*k.Auto-auto)) <= sameOnset {
			return k
		}
	}
	return nil
}

// addedNear tells whether the user set a shot of their own here.
func (l *listener) addedNear(auto unit.Duration) bool {
	for _, k := range l.fixes {
		if k.Auto == nil && math.Abs(float64(*k.Release-auto)) < 0.06 {
			return true
		}
	}
	return false
}

func (f *found) correct(k Correction) {
	f.manual, f.doubtful = true, false
	s := &f.shot
	s.Corrected = true
	s.Deleted = k.NoShot || k.Release == nil && k.Impact == nil && k.Clicker == nil && !k.Quiet && !k.NoClick
	if k.Release != nil {
		s.Release = *k.Release
	}
	if k.Impact != nil {
		s.Impact = k.Impact
	}
	if k.Quiet || s.Impact != nil && *s.Impact <= s.Release {
		s.Impact = nil
	}
	if k.Clicker != nil {
		s.Clicker = k.Clicker
	}
	if k.NoClick || s.Clicker != nil && *s.Clicker >= s.Release {
		s.Clicker = nil
	}
}

// addMissed measures the shots that the user added by hand, in their turn:
// those before the trigger at index next, or, without one, those far enough
// back for what follows them to be known.
func (l *listener) addMissed(next int64, more, final bool) {
	for i := range l.fixes {
		k := &l.fixes[i]
		if k.used || k.Auto != nil {
			continue
		}
		at := int64(math.Round(float64(*k.Release) * float64(l.rate)))
		known := at+l.finder.samples(afterRelease+batchTime) <= l.past.next
		if at >= l.past.next || !(known || final) || more && at > next {
			continue
		}
		k.used = true
		f := found{manual: true, shot: Shot{Release: *k.Release, Impact: k.Impact, Clicker: k.Clicker, Corrected: true, Why: "set by hand"}}
		l.record(f)
	}
}
