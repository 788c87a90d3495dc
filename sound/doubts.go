package sound

import (
	"fmt"
	"math"
)

// What decides, at the end of a recording, about events that could not be
// told from themselves: our own choice.
const (
	fewPairs   = 3    // shots with an impact that make a session's habit
	likeOthers = 9.0  // dB: a single event so close to the session's shots is one
	farShot    = 15.0 // dB: a shot so much quieter than the others is a neighbour's
)

// settleDoubts drops single events that are more like an impact, unless the
// session's other shots speak for them, and shots from further away.
func settleDoubts(all []found) []found {
	var levels []float64
	for _, f := range all {
		if f.shot.Impact != nil && !f.shot.Deleted && f.traits.strength != 0 {
			levels = append(levels, f.traits.strength)
		}
	}
	habit := len(levels) >= fewPairs
	usual := 0.0
	if habit {
		usual = median(levels)
	}
	var kept []found
	for i := range all {
		f := &all[i]
		lone := f.shot.Impact == nil
		switch {
		case f.manual:
		case habit && f.traits.strength < usual-farShot:
			f.dropped = "much quieter than the other shots: perhaps a neighbour's"
		case habit && lone && math.Abs(f.traits.strength-usual) > likeOthers:
			f.dropped = "without an impact, and unlike the other shots in loudness"
		case !habit && f.doubtful:
			f.dropped = "without an impact after it, and over too soon for a release"
			f.impactLike = true
		}
		if f.dropped == "" {
			kept = append(kept, *f)
		}
	}
	return kept
}

// events lists what a find stands for.
func (f found) events() []Event {
	at := f.shot.Release
	if f.shot.AutoRelease != nil {
		at = *f.shot.AutoRelease
	}
	if f.dropped != "" {
		kind := Noise
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
