package workbench

import (
	"context"
	"io"

	"tautline/notebook"
	"tautline/sound"
	"tautline/unit"
)

// ListenAsk says how a recording is heard; the zero value is right for one
// about which nothing is known.
type ListenAsk struct {
	// Corrections are what a person moved on the waveform of an earlier
	// hearing.
	Corrections []sound.Correction
	// ToBale is the distance from archer to bale, 0 unknown; it tells the
	// finder when an impact can come.
	ToBale unit.Length
	// SkipModes leaves the ring-down modes out, in half the time.
	SkipModes bool
	// Progress gets the share heard, where the recording says how long it is.
	Progress func(float64)
}

// Listen finds and measures the shots in a recording.
func Listen(ctx context.Context, r io.Reader, ask ListenAsk) (sound.Hearing, error) {
	config := sound.Config{Corrections: ask.Corrections, BaleDistance: ask.ToBale, SkipModes: ask.SkipModes}
	if ask.Progress != nil {
		config.Progress = func(done, promised unit.Duration) {
			if promised > 0 {
				ask.Progress(min(1, float64(done/promised)))
			}
		}
	}
	heard, err := sound.Listen(ctx, r, config)
	return heard, soundFault(err)
}

// Corrections turns what a person moved, added or struck out into what the
// shot finder takes.
func Corrections(o *notebook.Onsets) []sound.Correction {
	if o == nil {
		return nil
	}
	second := func(s *float64) *unit.Duration {
		if s == nil {
			return nil
		}
		d := unit.Duration(*s)
		return &d
	}
	var out []sound.Correction
	for _, k := range o.Corrections {
		out = append(out, sound.Correction{
			Auto: second(k.Auto), Release: second(k.Release), Impact: second(k.Impact), NoShot: k.NoShot, Quiet: k.NoImpact,
			Clicker: second(k.Clicker), NoClick: k.NoClick,
		})
	}
	return out
}

// LatestOnsets is the correction of a recording that is in force: the one
// made last, by its writer's clock; nil if there is none.
func LatestOnsets(all []notebook.Onsets, recording notebook.ID) *notebook.Onsets {
	var last *notebook.Onsets
	for i, o := range all {
		if o.Recording == recording && (last == nil || !o.At.Before(last.At)) {
			last = &all[i]
		}
	}
	return last
}
