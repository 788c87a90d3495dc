package sound

import (
	"context"
	"errors"
	"io"
	"sync/atomic"

	"tautline/unit"
)

// header is what a decoder knows before the first sound.
type header struct {
	format   Format
	rate     int   // Hz
	channels int   // interleaved
	bits     int   // as stored; 0 for a lossy format
	frames   int64 // as promised by the file; 0 unknown
}

// decoder reads one format. next fills dst with whole frames of interleaved
// samples, full scale 1, and returns how many values it wrote. At the end it
// returns io.EOF; an error that wraps errCutShort means that what came before
// is good.
type decoder interface {
	header() header
	next(dst []float64) (int, error)
}

// blockFrames is the size of the blocks a Stream is decoded in.
const blockFrames = 4096

// absurd is the largest sample that is still taken for sound, re full scale
// (+48 dB): a float file scaled to whole numbers, or rubbish, lies above it.
const absurd = 256

// maxStuck is how many decoders may hang before no further file is opened.
const maxStuck = 3

var stuck atomic.Int32

// StuckDecoders returns how many decoders were given up on and still run.
func StuckDecoders() int { return int(stuck.Load()) }

// TooManyStuck reports whether Open refuses, because more than three decoders
// are stuck: only a new start of the program gets rid of them.
func TooManyStuck() bool { return StuckDecoders() > maxStuck }

// Stream is a recording being decoded: a stream of frames, each with one
// value per channel, full scale 1. It is not safe for use by several
// goroutines. Close it.
type Stream struct {
	head     header
	warnings []string
	ctx      context.Context
	work     *worker
	block    []float64 // decoded, not yet handed out
	loan     []float64 // the buffer behind block
	frames   int64     // handed out
	err      error
}

// Open looks at the first bytes, refuses what is no sound file, and starts
// decoding. Every decoder, ours too, runs apart: a panic, a hang or output
// beyond the limits ends in an error, never in a crash. Reading past the
// header happens on another goroutine until Close, the end, or the end of ctx.
func Open(ctx context.Context, r io.Reader, limits Limits) (*Stream, error) {
	if TooManyStuck() {
		return nil, &FileError{Code: CodeBusy, Field: "file", Reason: "several earlier files got their decoders stuck", Hint: "restart the program"}
	}
	s := &Stream{ctx: ctx, work: newWorker(r, limits.withDefaults())}
	go s.work.run()
	go s.work.watch(ctx)
	select {
	case o := <-s.work.opened:
		if o.err != nil {
			s.work.stop()
			return nil, o.err
		}
		s.head = o.header
		return s, nil
	case err := <-s.work.failed:
		return nil, err
	}
}

// Format returns the coding of the recording.
func (s *Stream) Format() Format { return s.head.format }

// SampleRate returns the frames per second, Hz.
func (s *Stream) SampleRate() int { return s.head.rate }

// Channels returns the number of channels.
func (s *Stream) Channels() int { return s.head.channels }

// Bits returns the sample width of the file; 0 for a lossy format.
func (s *Stream) Bits() int { return s.head.bits }

// Promised returns the length the file's header claims; 0 if it claims none.
func (s *Stream) Promised() unit.Duration {
	return unit.Duration(float64(s.head.frames) / float64(s.head.rate))
}

// Position returns how much has been read so far.
func (s *Stream) Position() unit.Duration {
	return unit.Duration(float64(s.frames) / float64(s.head.rate))
}

// Warnings returns what was odd about the file but did not stop it. It is
// complete after Read returned io.EOF.
func (s *Stream) Warnings() []string { return append([]string(nil), s.warnings...) }

// Read fills dst with whole frames of interleaved samples and returns how
// many frames it wrote: at least one, or an error, io.EOF at the end. A file
// cut short ends with io.EOF and a warning; a damaged one with a FileError.
func (s *Stream) Read(dst []float64) (int, error) {
	if len(s.block) == 0 && s.err == nil {
		s.err = s.fetch()
	}
	if len(s.block) == 0 {
		return 0, s.err
	}
	n := copy(dst[:len(dst)-len(dst)%s.head.channels], s.block)
	s.block = s.block[n:]
	frames := n / s.head.channels
	s.frames += int64(frames)
	return frames, nil
}

// Close stops the decoding. It does not close the reader behind it.
func (s *Stream) Close() error {
	s.work.stop()
	if s.err == nil {
		s.err = errors.New("sound: stream is closed")
	}
	s.block = nil
	return nil
}

// fetch gets the next block from the worker.
func (s *Stream) fetch() error {
	if err := s.ctx.Err(); err != nil {
		s.work.stop()
		return err
	}
	if s.loan != nil {
		s.work.free <- s.loan
		s.loan = nil
	}
	var res result
	select {
	case res = <-s.work.blocks:
	case err := <-s.work.failed:
		return err
	}
	if res.warning != "" {
		s.warnings = append(s.warnings, res.warning)
	}
	s.block, s.loan = res.data, res.data
	return res.err
}
