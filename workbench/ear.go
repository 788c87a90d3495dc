package workbench

import (
	"context"
	"errors"
	"io"
	"math"

	"tautline/notebook"
	"tautline/sound"
	"tautline/unit"
)

// fineEnvelope is the longest piece whose waveform is drawn from the samples
// themselves; a longer one is drawn from the hearing's overview of 5 ms steps.
const fineEnvelope = 10 * unit.Second

// Waveform gives the least and largest values of a piece of a recording in at
// most bins steps, and when the first step begins. open gives the recording's
// bytes; they are read only for a piece of at most 10 s.
func Waveform(ctx context.Context, open Opener, h sound.Hearing, from, to unit.Duration, bins int) (o sound.Overview, start unit.Duration, err error) {
	from, to = max(0, from), min(to, h.Duration)
	if !(to > from) {
		return o, from, &notebook.Error{Code: notebook.Invalid, Field: "from", Message: "this piece is not inside the recording", Hint: "ask for a piece between its start and its end"}
	}
	if to-from > fineEnvelope {
		step := h.Overview.Step
		first := unit.Duration(math.Floor(float64(from/step))) * step
		return h.Overview.Envelope(from, to, bins), first, nil
	}
	clip, err := Piece(ctx, open, from, to)
	if err != nil {
		return o, from, err
	}
	return clip.Envelope(bins), clip.Start, nil
}

// Opener opens a recording's bytes.
type Opener func(context.Context) (io.ReadCloser, error)

// Piece decodes a piece of at most 10 s of a recording.
func Piece(ctx context.Context, open Opener, from, to unit.Duration) (sound.Clip, error) {
	clips, err := pieces(ctx, open, []sound.Span{{From: from, To: to}})
	if err != nil {
		return sound.Clip{}, err
	}
	return clips[0], nil
}

// pieces decodes several pieces of a recording in one pass.
func pieces(ctx context.Context, open Opener, spans []sound.Span) (clips []sound.Clip, err error) {
	file, err := open(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	clips, err = sound.ExtractAll(ctx, file, spans, sound.Config{})
	return clips, soundFault(err)
}

// soundFault makes what is wrong with a sound file a fault of the request.
func soundFault(err error) error {
	var file *sound.FileError
	if !errors.As(err, &file) {
		return err
	}
	return &notebook.Error{Code: notebook.Invalid, Field: "/recording", Message: file.Error(), Hint: "WAV, FLAC, Ogg Vorbis, MP3 and Opus can be read", Cause: err}
}

// Most columns and rows of a spectrogram on a page, and how far it looks down
// and up.
const (
	pictureColumns = 480
	pictureRows    = 160
	pictureTop     = 12000 // Hz
	pictureFloor   = -100  // dB re full scale
)

// Spectrogram gives the level over time and frequency of a piece of at most
// 10 s, up to 12 kHz, from −100 dB re full scale, in at most 480 × 160 values.
func Spectrogram(ctx context.Context, open Opener, from, to unit.Duration) (sound.Spectrogram, error) {
	clip, err := Piece(ctx, open, from, to)
	if err != nil {
		return sound.Spectrogram{}, err
	}
	return clip.Spectrogram(pictureFloor).Bounded(pictureColumns, pictureRows, pictureTop), nil
}

// Decay is how a shot dies away.
type Decay = sound.Decay

// DecayTimes gives a decay's two times in the units they are shown in.
func DecayTimes(d Decay) [2]EarMeasure {
	in := func(key, label string, m sound.Measure) EarMeasure {
		m.Value, m.SD = 1e3*m.Value, 1e3*m.SD
		return EarMeasure{Key: key, Label: label, Unit: "ms", Measure: m}
	}
	return [2]EarMeasure{in("decay_early_s", "early decay, from 0 to −10 dB", d.Early), in("t10_s", "decay from −5 to −15 dB", d.T10)}
}

// ShotDecay gives the decay of a shot with its fit and its noise floor; centre
// is an octave in Hz, or 0 for the whole A-weighted sound.
func ShotDecay(ctx context.Context, open Opener, shot sound.Shot, centre float64) (sound.Decay, error) {
	from, to := sound.Around(shot.Release)
	clip, err := Piece(ctx, open, from, to)
	if err != nil {
		return sound.Decay{}, err
	}
	return clip.Decay(shot.Release, shot.Impact, centre), nil
}

// WriteClip writes a piece of a recording as WAV. raise brings its loudest
// sample to −1 dB re full scale, for quiet recordings on a phone's
// loudspeaker; without it the level is as recorded.
func WriteClip(ctx context.Context, w io.Writer, open Opener, from, to unit.Duration, raise bool) error {
	clip, err := Piece(ctx, open, from, to)
	if err != nil {
		return err
	}
	gain := 1.0
	if raise {
		gain = sound.EqualGain(clip)
	}
	return sound.EncodeClip(w, clip, gain)
}
