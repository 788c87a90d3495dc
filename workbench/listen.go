package workbench

import (
	"context"
	"errors"
	"io"

	"tautline/notebook"
	"tautline/sound"
	"tautline/unit"
)

// Listen finds and measures the shots in a recording. corrections are what a
// person moved on the waveform of an earlier hearing. progress gets the share
// heard, where the recording says how long it is.
func Listen(ctx context.Context, r io.Reader, corrections []sound.Correction, progress func(float64)) (sound.Hearing, error) {
	config := sound.Config{Corrections: corrections}
	if progress != nil {
		config.Progress = func(done, promised unit.Duration) {
			if promised > 0 {
				progress(min(1, float64(done/promised)))
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
