package sound

import (
	"context"
	"fmt"
	"io"
	"math"

	"tautline/unit"
)

// maxClip bounds what Extract keeps in memory.
const maxClip = 10 * unit.Second

// Extract decodes a recording again and returns the piece between two times,
// mixed to one channel, for pictures, playback or measuring by hand. from may
// lie before the start and to after the end; at most 10 s are given. Only the
// piece is kept in memory, and reading stops behind it.
func Extract(ctx context.Context, r io.Reader, from, to unit.Duration, c Config) (Clip, error) {
	clips, err := ExtractAll(ctx, r, []Span{{from, to}}, c)
	if err != nil {
		return Clip{}, err
	}
	return clips[0], nil
}

// Span is a piece of a recording, from its start.
type Span struct{ From, To unit.Duration }

// maxSpans and maxPieces bound what ExtractAll keeps in memory: 120 shots of
// 1.15 s.
const (
	maxSpans  = 400
	maxPieces = 10 * unit.Minute
)

// ExtractAll is [Extract] for several pieces in one pass over the recording,
// in the order they are asked for; they may overlap. Each is at most 10 s, all
// together at most 10 min. A piece that begins behind the recording's end is a
// [FileError].
func ExtractAll(ctx context.Context, r io.Reader, spans []Span, c Config) ([]Clip, error) {
	c, err := c.withDefaults()
	if err != nil {
		return nil, err
	}
	if err := checkSpans(spans); err != nil {
		return nil, err
	}
	stream, err := Open(ctx, r, c.Limits)
	if err != nil {
		return nil, err
	}
	defer stream.Close() // only read
	rate := stream.SampleRate()
	cuts := make([]cut, len(spans))
	last := int64(0)
	for i, s := range spans {
		cuts[i] = newCut(s, rate)
		last = max(last, cuts[i].to)
	}
	mix := mixer{channels: stream.Channels(), choice: c.Channel}
	buf := make([]float64, blockFrames*stream.Channels())
	for at := int64(0); at < last; {
		n, err := stream.Read(buf)
		mono := mix.mono(buf[:n*stream.Channels()])
		for i := range cuts {
			cuts[i].take(mono, at)
		}
		at += int64(n)
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
	}
	return clipsOf(cuts, spans)
}

func checkSpans(spans []Span) error {
	var all unit.Duration
	for _, s := range spans {
		from := max(s.From, 0)
		if !(s.To > from) || s.To-from > maxClip {
			return &FileError{Code: CodeConfig, Field: "piece", Reason: fmt.Sprintf("%.3f to %.3f s is no piece of at most %g s", float64(from), float64(s.To), float64(maxClip)), Hint: "for example 12.0 to 13.5 s"}
		}
		all += s.To - from
	}
	if len(spans) > maxSpans || all > maxPieces {
		return &FileError{Code: CodeConfig, Field: "piece", Reason: fmt.Sprintf("%d pieces of %.0f s are too much at once", len(spans), float64(all)), Hint: fmt.Sprintf("at most %d pieces, %g s of sound", maxSpans, float64(maxPieces))}
	}
	return nil
}

// cut is a piece being gathered, in samples of the recording.
type cut struct {
	from, to int64
	clip     Clip
}

func newCut(s Span, rate int) cut {
	from := int64(math.Ceil(float64(max(s.From, 0)) * float64(rate)))
	return cut{from: from, to: int64(math.Ceil(float64(s.To) * float64(rate))), clip: Clip{Rate: rate, Start: unit.Duration(float64(from) / float64(rate))}}
}

// take keeps what of a block, whose first sample is at, belongs to the piece.
func (k *cut) take(block []float64, at int64) {
	a, b := max(k.from-at, 0), min(k.to-at, int64(len(block)))
	if a < b {
		k.clip.Samples = append(k.clip.Samples, block[a:b]...)
	}
}

func clipsOf(cuts []cut, spans []Span) ([]Clip, error) {
	clips := make([]Clip, len(cuts))
	for i, k := range cuts {
		if len(k.clip.Samples) == 0 {
			return nil, &FileError{Code: CodeConfig, Field: "piece", Reason: fmt.Sprintf("the recording ends before %.3f s", float64(spans[i].From)), Hint: "ask for an earlier piece"}
		}
		clips[i] = k.clip
	}
	return clips, nil
}

// Around returns the times to [Extract] for looking at a shot: 0.65 s before
// its release, so that the background can be judged, and 0.5 s after.
func Around(release unit.Duration) (from, to unit.Duration) {
	return release - beforeRelease, release + maxWindow
}

// End returns the length of the clip's recording piece.
func (c Clip) End() unit.Duration {
	return c.Start + unit.Duration(float64(len(c.Samples))/float64(c.Rate))
}
