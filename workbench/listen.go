package workbench

import (
	"context"
	"errors"
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
	var file *sound.FileError
	if errors.As(err, &file) {
		return heard, &notebook.Error{Code: notebook.Invalid, Field: "/recording", Message: file.Error(), Hint: "WAV, FLAC, Ogg Vorbis, MP3 and Opus can be read", Cause: err}
	}
	return heard, err
}
