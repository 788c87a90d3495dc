package sound

import "tautline/unit"

// EventKind is what an event was taken for.
type EventKind string

// The kinds of events told apart.
const (
	Release EventKind = "release" // the string leaves and comes to rest
	Impact  EventKind = "impact"  // the arrow lands
	Clicker EventKind = "clicker" // the clicker falls
	Creak   EventKind = "creak"   // ticks of limbs, string or clothes before a release
	Noise   EventKind = "noise"   // anything else that rose suddenly
)

// Event is something that rose suddenly in a recording.
type Event struct {
	At       unit.Duration `json:"at_s"`
	Kind     EventKind     `json:"kind"`
	Strength float64       `json:"strength_db_rel,omitempty"` // mean power above 1 kHz over 30 ms, dB re full scale; 0: not measured
	Why      string        `json:"why"`                       // what spoke for the kind
}

// What tells the kinds apart: our own choice, tried on the reference
// recordings (five sound effects) and on synthesised shots.
const (
	leastLowRise  = 4.0   // dB: the limbs' share must come with a release
	clearLowRise  = 6.0   // dB, and
	clearLowShare = -6.0  // dB: so much below 400 Hz is no tick, whatever follows
	leastFlux     = 0.5   // share of the bands above 1 kHz that must rise together
	muchLouder    = 8.0   // dB: what is followed by so much more was a tick before it
	farLouder     = 18.0  // dB: and so much more makes it one even if the wind or a foot gave it a low part
	echoBelow     = 10.0  // dB: what follows so much more loudness is its echo
	clusterTime   = 0.015 // s within which several triggers are one event
	tickTime      = 0.6   // s before a release in which ticks belong to it
	leastTick     = 0.020 // s a clicker falls before the release, at least
	loneLength    = 0.015 // s, and
	loneShare     = 3.0   // dB: the middle of the doubt about a single event
)

// verdict is what judge makes of a trigger.
type verdict int

const (
	isNothing verdict = iota // an echo, a part of something else, a voice
	isTick                   // short and without the limbs' low part
	isRelease
)

// judge decides on a trigger, given the traits of the cluster it starts and
// the strengths of louder triggers soon before and after.
func judge(t traits, louderBefore, louderAfter float64, atStart bool) verdict {
	noLow := t.lowShare < leastLowShare || t.seen && t.lowRise < leastLowRise && !atStart
	clearLow := t.lowRise >= clearLowRise && t.lowShare >= clearLowShare && !atStart
	switch {
	case t.length == 0, louderBefore >= t.strength+echoBelow:
		return isNothing
	case noLow:
		return isTick
	case louderAfter >= t.strength+muchLouder && !clearLow, louderAfter >= t.strength+farLouder:
		return isTick
	case t.flux < leastFlux:
		return isNothing
	}
	return isRelease
}

// alone is above 0 if an event without an impact after it is more like a
// release than like an impact: strings and limbs ring on above 1 kHz and
// below 400 Hz, foam and straw stop within about 10 ms.
func (t traits) alone() float64 {
	return (t.length-loneLength)/0.010 + (t.lowShare-loneShare)/3
}
