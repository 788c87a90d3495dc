package sound

import (
	"fmt"
	"math"
)

// What decides, with the whole session in view, about events that could not
// be told from themselves: our own choice.
const (
	fewPairs   = 3    // shots that land after the same flight make a session's habit
	sameFlight = 0.04 // of the flight: arrows of one session on one bale
	mostPairs  = 0.7  // of the events with a possible impact, or
	manyPairs  = 0.25 // of them and three standard deviations more than chance
	farShot    = 15.0 // dB: a shot so much quieter than the others is a neighbour's
	likeLevel  = 8.0  // dB, and
	likeLow    = 7.0  // dB of the low share, and
	likeLength = 2.5  // times in length: so alike, an event without its impact is a shot
)

// habit is what the shots of a session have in common.

type habit struct {
	known                    bool
	flight                   float64 // s
	strength, share, seconds float64
}

// habitOf finds the flight time that most shots share. A session on one bale
// has one; other sounds that happen to come in pairs do not.
func habitOf(all []found) habit {
	paired, total := 0, 0
	var flights []float64
	for _, f := range all {
		if f.shot.AutoRelease != nil && len(f.options) > 0 {
			paired++
			total += len(f.options)
			for _, o := range f.options {
				flights = append(flights, float64(o-*f.shot.AutoRelease))
			}
		}
	}
	best, most := 0.0, -1.0
	for _, t := range flights {
		n := float64(count(all, t))
		// by chance: what lies around, at its own density
		around := 0
		for _, u := range flights {
			if u > t/1.5 && u < t*1.5 {
				around++
			}
		}
		chance := float64(around) * 2 * sameFlight / (1.5 - 1/1.5)
		z := (n - chance) / math.Sqrt(chance+1)
		enough := n >= mostPairs*float64(paired) || n >= manyPairs*float64(paired) && z > 3
		if n >= fewPairs && enough && z > most {
			best, most = t, z
		}
	}
	if best == 0 {
		return habit{}
	}
	return commonTraits(all, best)
}

func count(all []found, flight float64) (n int) {
	for _, f := range all {
		if f.option(flight, sameFlight) >= 0 {
			n++
		}
	}
	return n
}

// commonTraits takes the medians of the shots that share a flight time.
func commonTraits(all []found, flight float64) habit {
	var flights, strength, share, seconds []float64
	for _, f := range all {
		if i := f.option(flight, sameFlight); i >= 0 {
			flights = append(flights, float64(f.options[i]-*f.shot.AutoRelease))
			strength = append(strength, f.traits.strength)
			share = append(share, f.traits.lowShare)
			seconds = append(seconds, f.traits.length)
		}
	}
	return habit{known: true, flight: median(flights), strength: median(strength), share: median(share), seconds: median(seconds)}
}

// option returns the possible impact nearest to a flight time, within a part
// of it (but 4 ms at least), or −1.
func (f found) option(flight, within float64) int {
	best, at := math.Max(within*flight, 0.004), -1
	if f.shot.AutoRelease == nil {
		return -1
	}
	for i, o := range f.options {
		if d := math.Abs(float64(o-*f.shot.AutoRelease) - flight); d <= best {
			best, at = d, i
		}
	}
	return at
}

// land chooses the impact: the one after the session's flight, else the
// likeliest. It reports whether the choice changed.
func (f *found) land(h habit) bool {
	choice := f.fallback
	if h.known {
		if i := f.option(h.flight, 3*sameFlight); i >= 0 {
			choice = i
		}
	}
	before := f.shot.AutoImpact
	f.shot.Impact, f.shot.AutoImpact = nil, nil
	f.shot.Why = "a burst with a low part; no impact was heard"
	if choice >= 0 {
		hit := f.options[choice]
		f.shot.Impact, f.shot.AutoImpact = &hit, &hit
		f.shot.Why = "a burst with a low part, and an impact after it"
	}
	return before == nil && choice >= 0 || before != nil && choice >= 0 && *before != f.options[choice]
}

// like tells whether an event sounds like the session's shots.
func (h habit) like(f found) bool {
	ratio := math.Max(f.traits.length, 1e-4) / math.Max(h.seconds, 1e-4)
	return math.Abs(f.traits.strength-h.strength) <= likeLevel &&
		math.Abs(f.traits.lowShare-h.share) <= likeLow &&
		ratio < likeLength && ratio > 1/likeLength
}

// settleDoubts drops what is no shot after all, judged by the session, and
// moves impacts that the session knows better.
func (l *listener) settleDoubts() []found {
	h := habitOf(l.found)
	for i := range l.found {
		f := &l.found[i]
		if f.manual {
			continue
		}
		if h.known && len(f.clip.Samples) > 0 && f.land(h) {
			l.measure.shot(&f.shot, f.clip)
		}
		f.doubt(h)
	}
	l.untangle(h)
	var kept []found
	for _, f := range l.found {
		if f.dropped == "" {
			kept = append(kept, f)
		}
	}
	return kept
}

// doubt gives the reason why a find is no shot, if there is one.
func (f *found) doubt(h habit) {
	inTime := h.known && f.option(h.flight, 3*sameFlight) >= 0
	switch {
	case h.known && f.traits.strength < h.strength-farShot:
		f.dropped = "much quieter than the other shots: perhaps a neighbour's"
	case h.known && !inTime && !h.like(*f):
		f.dropped = "no impact after the flight of the other shots, and unlike them"
	case !h.known && f.doubtful:
		f.dropped = "without an impact after it, and over too soon for a release"
		f.impactLike = true
	}
}

// untangle settles pairs in which the impact of one find is the release of
// another: without a habit the first one is the shot, unless it is much the
// weaker; with one, whoever lands in time.
func (l *listener) untangle(h habit) {
	for i := range l.found {
		f := &l.found[i]
		if f.dropped != "" || f.shot.Impact == nil {
			continue
		}
		for k := i + 1; k < len(l.found); k++ {
			g := &l.found[k]
			if g.dropped != "" || g.manual || math.Abs(float64(g.shot.Release-*f.shot.Impact)) > 0.02 {
				continue
			}
			inTime := h.known && f.option(h.flight, 3*sameFlight) >= 0
			if !f.manual && !inTime && (h.known || g.traits.strength > f.traits.strength+muchLouder) {
				f.dropped = "followed by a shot, not by an impact"
			} else {
				g.dropped = "the impact of the shot before"
			}
		}
	}
}

// events lists what a find stands for.
func (f found) events() []Event {
	at := f.shot.Release
	if f.shot.AutoRelease != nil {
		at = *f.shot.AutoRelease
	}
	if f.dropped != "" {
		kind := Noise
		if f.dropped == "the impact of the shot before" {
			return nil
		}
		if f.impactLike {
			kind = Impact
		}
		return []Event{{At: at, Kind: kind, Strength: f.traits.strength, Why: f.dropped}}
	}
	if f.shot.Deleted {
		return []Event{{At: at, Kind: Noise, Strength: f.traits.strength, Why: "struck out by hand"}}
	}
	list := []Event{{At: f.shot.Release, Kind: Release, Strength: f.traits.strength, Why: f.shot.Why}}
	if f.shot.Impact != nil {
		list = append(list, Event{At: *f.shot.Impact, Kind: Impact, Why: "the spectrum rises again after a release"})
	}
	return list
}

// warnings says what limits the hearing as a whole.
func (l *listener) warnings(h Hearing) []string {
	w := l.stream.Warnings()
	shots := h.Measured()
	if len(shots) == 0 {
		w = append(w, "no shot was found: set the releases by hand, or move the phone nearer")
	}
	clipped := 0
	for _, s := range shots {
		if s.Clipped > 0 {
			clipped++
		}
	}
	if clipped > 0 {
		w = append(w, fmt.Sprintf("%d of %d shots are clipped: their levels are too low; record with less gain or from further away", clipped, len(shots)))
	}
	if h.SampleRate < 32000 {
		w = append(w, fmt.Sprintf("at %d Hz nothing above %d Hz is heard: record at 44.1 or 48 kHz", h.SampleRate, h.SampleRate/2))
	}
	if l.mix.choice == Mix && l.mix.cancels() {
		w = append(w, "the two channels cancel each other when mixed: listen to the left or the right one")
	}
	for _, k := range l.fixes {
		if !k.used {
			w = append(w, fmt.Sprintf("the correction at %.3f s names a release that was not found", float64(fixTime(k))))
		}
	}
	return w
}
