package sound

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"
	"sync/atomic"
	"time"

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

// StuckDecoders returns how many decoders were given up on and still run. A
// server restarts itself when it is above 3: from there on [Open] refuses.
func StuckDecoders() int { return int(stuck.Load()) }

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
	if StuckDecoders() > maxStuck {
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

type opening struct {
	header header
	err    error
}

type result struct {
	data    []float64
	warning string
	err     error
}

// worker runs one decoder on its own goroutine.
type worker struct {
	src    *source
	limits Limits
	opened chan opening
	blocks chan result
	free   chan []float64
	failed chan error    // from the watchdog
	quit   chan struct{} // closed by stop
	gone   chan struct{} // closed when the decoder's goroutine has ended
	once   sync.Once
	frames int64

	begun time.Time
	step0 atomic.Int64 // ns after begun at which the running step began; 0 between steps
	wait0 atomic.Int64 // time spent in the reader up to that moment, ns
	spent atomic.Int64 // decoding time of the finished steps, ns
}

func newWorker(r io.Reader, limits Limits) *worker {
	return &worker{
		src:    &source{r: r, left: limits.MaxBytes},
		limits: limits,
		opened: make(chan opening, 1),
		blocks: make(chan result, 2),
		free:   make(chan []float64, 3),
		failed: make(chan error, 1),
		quit:   make(chan struct{}),
		gone:   make(chan struct{}),
		begun:  time.Now(),
	}
}

func (w *worker) stop() { w.once.Do(func() { close(w.quit) }) }

// watch ends the work when the context ends or the decoder takes too long.
func (w *worker) watch(ctx context.Context) {
	tick := time.NewTicker(max(w.limits.Stall/20, time.Millisecond))
	defer tick.Stop()
	for {
		select {
		case <-w.gone:
			return
		case <-w.quit:
			return
		case <-ctx.Done():
			w.failed <- ctx.Err()
			w.stop()
			return
		case <-tick.C:
		}
		if w.overdue() {
			w.failed <- &FileError{Code: CodeTimeout, Field: "file", Reason: "its decoder takes too long over it", Hint: "save it as WAV and try again"}
			w.abandon()
			return
		}
	}
}

// overdue tells whether the running step, or all steps together, took too
// long. Waiting for the file does not count: a slow line is no fault.
func (w *worker) overdue() bool {
	began := w.step0.Load()
	if began == 0 || w.src.inRead.Load() {
		return false
	}
	waited := w.src.waited.Load() - w.wait0.Load()
	busy := time.Since(w.begun) - time.Duration(began+waited)
	return busy > w.limits.Stall || time.Duration(w.spent.Load())+busy > w.limits.Total
}

// timed runs one step of the decoder under the watchdog's eyes, with its
// panics turned into errors.
func (w *worker) timed(f func() error) error {
	start, wait := time.Since(w.begun), w.src.waited.Load()
	w.wait0.Store(wait)
	w.step0.Store(max(int64(start), 1))
	defer func() {
		w.step0.Store(0)
		w.spent.Add(int64(time.Since(w.begun)-start) - (w.src.waited.Load() - wait))
	}()
	return guarded(f)
}

// abandon gives a hanging decoder up: it cannot be killed, only counted.
func (w *worker) abandon() {
	w.stop()
	stuck.Add(1)
	go func() {
		<-w.gone
		stuck.Add(-1)
	}()
}

// run opens the decoder and decodes until the end, an error, or stop.
func (w *worker) run() {
	defer close(w.gone)
	var dec decoder
	err := w.timed(func() (err error) {
		dec, err = openDecoder(w.src, w.limits)
		return err
	})
	if err != nil {
		w.opened <- opening{err: err}
		return
	}
	h := dec.header()
	for range cap(w.free) {
		w.free <- make([]float64, blockFrames*h.channels)
	}
	w.opened <- opening{header: h}
	for w.step(dec, h) {
	}
}

// step decodes one block and reports whether to go on.
func (w *worker) step(dec decoder, h header) bool {
	var buf []float64
	select {
	case buf = <-w.free:
	case <-w.quit:
		return false
	}
	buf = buf[:cap(buf)]
	var n int
	err := w.timed(func() (err error) {
		n, err = dec.next(buf)
		return err
	})
	if err != nil && err != io.EOF {
		err = w.src.failure(h.format, err)
	}
	res := w.judge(result{data: buf[:n], err: err}, h)
	return w.send(res) && res.err == nil
}

// judge checks a block against the limits and turns a short end into a
// warning.
func (w *worker) judge(res result, h header) result {
	for i, x := range res.data {
		if !(math.Abs(x) <= absurd) {
			at := float64(w.frames+int64(i/h.channels)) / float64(h.rate)
			return result{err: badSample(x, at)}
		}
	}
	w.frames += int64(len(res.data) / h.channels)
	seconds := float64(w.frames) / float64(h.rate)
	if unit.Duration(seconds) > w.limits.MaxDuration {
		return result{err: overLimit("duration", "split the recording", "it is longer than %g minutes", w.limits.MaxDuration.Minutes())}
	}
	ended := res.err == io.EOF || errors.Is(res.err, errCutShort)
	switch {
	case ended && w.frames == 0:
		res.err = &FileError{Code: CodeEmpty, Field: "file", Reason: "this " + string(h.format) + " file holds no sound (0 samples)", Hint: "record again"}
	case ended && errors.Is(res.err, errCutShort):
		res.warning = fmt.Sprintf("the file is cut short: only its first %.2f s could be read", seconds)
		res.err = io.EOF
	}
	return res
}

func badSample(x, at float64) error {
	reason := fmt.Sprintf("the value at %.4f s is %g, far beyond full scale", at, x)
	if math.IsNaN(x) || math.IsInf(x, 0) {
		reason = fmt.Sprintf("the value at %.4f s is %g, not a number a sound can have", at, x)
	}
	return &FileError{Code: CodeSamples, Field: "file", Reason: reason, Hint: "save it as 16-bit or 24-bit WAV"}
}

func (w *worker) send(res result) bool {
	select {
	case w.blocks <- res:
		return true
	case <-w.quit:
		return false
	}
}

// guarded turns a decoder's panic into an error.
func guarded(f func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = &FileError{
				Code: CodeDecoder, Field: "file", Err: fmt.Errorf("decoder panic: %v", p),
				Reason: "it is damaged in a way that broke its decoder",
				Hint:   "copy it again from the recorder, or save it as WAV",
			}
		}
	}()
	return f()
}

// openDecoder lets the first bytes choose the decoder.
func openDecoder(src *source, limits Limits) (decoder, error) {
	br := bufio.NewReaderSize(src, 1<<16)
	head, err := br.Peek(sniffLength)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, src.failure("sound", err)
	}
	format, err := Sniff(head)
	if err != nil {
		return nil, err
	}
	dec, err := openers[format](br, limits)
	if err != nil {
		return nil, src.failure(format, err)
	}
	return dec, nil
}

var openers = map[Format]func(*bufio.Reader, Limits) (decoder, error){
	WAV:    openWAV,
	FLAC:   openFLAC,
	Vorbis: openVorbis,
	Opus:   openOpus,
	MP3:    openMP3,
}
