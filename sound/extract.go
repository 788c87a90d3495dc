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
	c, err := c.withDefaults()
	if err != nil {
		return Clip{}, err
	}
	from = max(from, 0)
	if !(to > from) || to-from > maxClip {
		return Clip{}, &FileError{Code: CodeConfig, Field: "piece", Reason: fmt.Sprintf("%.3f to %.3f s is no piece of at most %g s", float64(from), float64(to), float64(maxClip)), Hint: "for example 12.0 to 13.5 s"}
	}
	stream, err := Open(ctx, r, c.Limits)
	if err != nil {
		return Clip{}, err
	}
	defer stream.Close()
	rate := stream.SampleRate()
	first := int64(math.Ceil(float64(from) * float64(rate)))
	last := int64(math.Ceil(float64(to) * float64(rate)))
	clip := Clip{Rate: rate, Start: unit.Duration(float64(first) / float64(rate))}
	mix := mixer{channels: stream.Channels(), choice: c.Channel}
	buf := make([]float64, blockFrames*stream.Channels())
	for at := int64(0); at < last; {
		n, err := stream.Read(buf)
		mono := mix.mono(buf[:n*stream.Channels()])
		a, b := max(first-at, 0), min(last-at, int64(len(mono)))
		if a < b {
			clip.Samples = append(clip.Samples, mono[a:b]...)
		}
		at += int64(n)
		if err == io.EOF {
			break
		}
		if err != nil {
			return Clip{}, err
		}
	}
	if len(clip.Samples) == 0 {
		return Clip{}, &FileError{Code: CodeConfig, Field: "piece", Reason: fmt.Sprintf("the recording ends before %.3f s", float64(from)), Hint: "ask for an earlier piece"}
	}
	return clip, nil
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
