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
