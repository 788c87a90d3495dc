package sound

import (
	"bufio"
	"errors"
	"io"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
)

// flacDecoder reads FLAC frame by frame.
type flacDecoder struct {
	stream *flac.Stream
	head   header
	scale  float64
	frame  *frame.Frame
	at     int // frames of the current block already handed out
	done   int64
}

func openFLAC(br *bufio.Reader, limits Limits) (decoder, error) {
	stream, err := flac.New(br)
	if err != nil {
		return nil, err
	}
	info := stream.Info
	f := &flacDecoder{stream: stream, head: header{
		format: FLAC, rate: int(info.SampleRate), channels: int(info.NChannels),
		bits: int(info.BitsPerSample), frames: int64(info.NSamples),
	}}
	f.scale = 1 / float64(int64(1)<<(f.head.bits-1))
	return f, limits.check(f.head)
}

func (f *flacDecoder) header() header { return f.head }

func (f *flacDecoder) next(dst []float64) (int, error) {
	if f.frame == nil {
		if err := f.parse(); err != nil {
			return 0, err
		}
	}
	// hand out as much of the block as fits
	channels := f.head.channels
	left := len(f.frame.Subframes[0].Samples) - f.at
	frames := min(left, len(dst)/channels)
	for c, sub := range f.frame.Subframes {
		for i, v := range sub.Samples[f.at : f.at+frames] {
			dst[i*channels+c] = float64(v) * f.scale
		}
	}
	f.at += frames
	f.done += int64(frames)
	if frames == left {
		f.frame = nil
	}
	return frames * channels, nil
}

func (f *flacDecoder) parse() error {
	block, err := f.stream.ParseNext()
	switch {
	case errors.Is(err, io.EOF) && f.head.frames > f.done:
		return errors.Join(errCutShort, io.ErrUnexpectedEOF)
	case errors.Is(err, io.EOF):
		return io.EOF
	case errors.Is(err, io.ErrUnexpectedEOF):
		return errors.Join(errCutShort, err)
	case err != nil:
		return err
	case len(block.Subframes) != f.head.channels:
		return damaged(FLAC, nil, "a block has %d channels instead of %d", len(block.Subframes), f.head.channels)
	case block.BitsPerSample != 0 && int(block.BitsPerSample) != f.head.bits:
		return damaged(FLAC, nil, "a block has %d bits instead of %d", block.BitsPerSample, f.head.bits)
	}
	f.frame, f.at = block, 0
	return nil
}
