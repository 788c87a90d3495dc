package sound

import (
	"fmt"

	"tautline/unit"
)

// Channel says which channel of a stereo recording is listened to.
type Channel int

// The choices of channel.
const (
	Mix   Channel = iota // the mean of all channels
	Left                 // the first channel
	Right                // the second channel; the first if there is only one
)

// Config says how to listen. It is not changed by [Listen]; its zero value is
// usual.
type Config struct {
	Limits  Limits
	Channel Channel
	Window  unit.Duration // longest time measured after a release; default 0.3 s, usual 0.1–0.5 s

	// BaleDistance narrows down when the arrow can land: 30 to 80 m/s there,
	// sound back. 0: unknown, and 0.04 to 1.6 s is searched.
	BaleDistance unit.Length

	// Corrections are what the user moved, added or struck out on the
	// waveform of an earlier hearing of the same recording.
	Corrections []Correction

	// SkipModes leaves the ring-down modes out: a preview in half the time.
	SkipModes bool

	// Progress, if set, is called about once per second of sound with how
	// much was heard and how long the recording claims to be (0: unknown).
	Progress func(done, promised unit.Duration)
}

const (
	sameOnset = 0.010 // s: a correction's Auto is the release found within this
	maxWindow = 0.5
)

func (c Config) withDefaults() (Config, error) {
	c.Limits = c.Limits.withDefaults()
	orDefault(&c.Window, 0.3)
	if c.Window < 0.05 || c.Window > maxWindow {
		return c, &FileError{Code: CodeConfig, Field: "window", Reason: fmt.Sprintf("%g s is outside 0.05–0.5 s", float64(c.Window)), Hint: "for example 0.3 s"}
	}
	if !(c.BaleDistance >= 0 && c.BaleDistance <= 100) {
		return c, &FileError{Code: CodeConfig, Field: "bale distance", Reason: fmt.Sprintf("%g m is outside 0–100 m", float64(c.BaleDistance)), Hint: "for example 5 m, or 0 if unknown"}
	}
	for i, k := range c.Corrections {
		if reason := k.fault(); reason != "" {
			return c, &FileError{Code: CodeConfig, Field: fmt.Sprintf("corrections[%d]", i), Reason: reason, Hint: `for example {"auto_release_s": 12.31, "release_s": 12.305}`}
		}
	}
	return c, nil
}

// flight returns when an impact can be heard after a release, s.
func (c Config) flight() (earliest, latest float64) {
	if c.BaleDistance == 0 {
		return impactFrom, impactTo
	}
	const sound = 340 // m/s, there may be less of it back if the phone stands at the bale
	d := float64(c.BaleDistance)
	return max(impactFrom, d/80-d/sound), min(impactTo, d/30+d/sound)
}
