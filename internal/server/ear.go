package server

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// PieceInput names a piece of a recording.
type PieceInput struct {
	IDInput
	From float64 `query:"from" minimum:"0" maximum:"100000" doc:"Second at which it begins." example:"1.9"`
	To   float64 `query:"to" minimum:"0" maximum:"100000" doc:"Second at which it ends; 0: the recording's end." example:"2.4"`
}

// waveformInput asks for the outline of a piece.
type waveformInput struct {
	PieceInput
	Bins int `query:"bins" minimum:"1" maximum:"4000" default:"800" doc:"Most steps wanted."`
}

// waveformView is a waveform's outline: least and largest value in each step.
type waveformView struct {
	From  float64   `json:"from_s" doc:"Where the first step begins."`
	Step  float64   `json:"step_s"`
	Total float64   `json:"seconds" doc:"Length of the whole recording."`
	Min   []float64 `json:"min" nullable:"false" doc:"Full scale is 1."`
	Max   []float64 `json:"max" nullable:"false"`
}

// spectrogramView is level over time and frequency, packed.
type spectrogramView struct {
	From    float64 `json:"from_s" doc:"Middle of the first column."`
	Step    float64 `json:"step_s"`
	StepHz  float64 `json:"step_hz" doc:"Between rows; the first is at 0 Hz."`
	Columns int     `json:"columns"`
	Rows    int     `json:"rows"`
	Floor   float64 `json:"floor_db" doc:"dB re full scale that 0 stands for."`
	PerByte float64 `json:"db_per_step" doc:"dB that one more stands for."`
	Levels  string  `json:"levels" doc:"Columns × rows bytes in base64, column by column from low to high."`
}

// spectrogramPerByte is how fine the levels of a spectrogram are packed, dB.
const spectrogramPerByte = 0.4

// ear remembers what was computed from sound: a page that is looked at twice
// is drawn at once. Keys hold the sound's hash and all that was asked.
type ear struct {
	mu    sync.Mutex
	byKey map[string]any
	order []string // oldest first
}

// mostPictures is how many are kept: 200 of them are below 40 MB.
const mostPictures = 200

// recalled gives what was computed for a key before, or computes it now, in
// the queue of long calculations.
func recalled[T any](ctx context.Context, s *server, key string, compute func(context.Context) (T, error)) (T, error) {
	s.ear.mu.Lock()
	old, ok := s.ear.byKey[key].(T)
	s.ear.mu.Unlock()
	if ok {
		return old, nil
	}
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	var none T
	if err := s.queue.enter(ctx); err != nil {
		return none, err
	}
	defer s.queue.leave()
	fresh, err := compute(ctx)
	if err != nil {
		return none, err
	}
	s.ear.mu.Lock()
	defer s.ear.mu.Unlock()
	if s.ear.byKey == nil {
		s.ear.byKey = map[string]any{}
	}
	if _, ok := s.ear.byKey[key]; !ok {
		if s.ear.order = append(s.ear.order, key); len(s.ear.order) > mostPictures {
			delete(s.ear.byKey, s.ear.order[0])
			s.ear.order = s.ear.order[1:]
		}
	}
	s.ear.byKey[key] = fresh
	return fresh, nil
}

// opener opens a recording's bytes.
func (s *server) opener(r notebook.Recording) workbench.Opener {
	return func(ctx context.Context) (io.ReadCloser, error) { return s.Notebook.Blobs().Open(ctx, r.Hash) }
}

// heardOf fetches a recording and listens to it.
func (s *server) heardOf(ctx context.Context, id string) (workbench.Heard, error) {
	r, err := fetch(ctx, s, s.Notebook.Recordings(), id)
	if err != nil {
		return workbench.Heard{}, err
	}
	return s.hear(ctx, r)
}

func (s *server) getWaveform(ctx context.Context, in *waveformInput) (*found[waveformView], error) {
	heard, err := s.heardOf(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	h := heard.Hearing
	to := unit.Duration(in.To)
	if to == 0 {
		to = h.Duration
	}
	key := fmt.Sprintf("wave|%s|%g|%g|%d", heard.Recording.Hash, in.From, float64(to), in.Bins)
	view, err := recalled(ctx, s, key, func(ctx context.Context) (waveformView, error) {
		o, start, err := workbench.Waveform(ctx, s.opener(heard.Recording), h, unit.Duration(in.From), to, in.Bins)
		v := waveformView{From: float64(start), Step: float64(o.Step), Total: float64(h.Duration), Min: []float64{}, Max: []float64{}}
		for i := range o.Min {
			v.Min, v.Max = append(v.Min, sampleShown(o.Min[i])), append(v.Max, sampleShown(o.Max[i]))
		}
		return v, err
	})
	return &found[waveformView]{Body: view}, err
}

// sampleShown rounds a sample to what a picture can show.
func sampleShown(v float32) float64 { return math.Round(1e5*float64(v)) / 1e5 }

func (s *server) getSpectrogram(ctx context.Context, in *PieceInput) (*found[spectrogramView], error) {
	r, err := fetch(ctx, s, s.Notebook.Recordings(), in.ID)
	if err != nil {
		return nil, err
	}
	key := fmt.Sprintf("spectrogram|%s|%g|%g", r.Hash, in.From, in.To)
	view, err := recalled(ctx, s, key, func(ctx context.Context) (spectrogramView, error) {
		p, err := workbench.Spectrogram(ctx, s.opener(r), unit.Duration(in.From), unit.Duration(in.To))
		if err != nil {
			return spectrogramView{}, err
		}
		v := spectrogramView{From: float64(p.Start), Step: float64(p.Step), StepHz: p.Frequency, Columns: len(p.Level), Floor: -100, PerByte: spectrogramPerByte}
		var packed []byte
		for _, column := range p.Level {
			v.Rows = len(column)
			for _, level := range column {
				packed = append(packed, byte(max(0, min(255, math.Round((float64(level)-v.Floor)/spectrogramPerByte)))))
			}
		}
		v.Levels = base64.StdEncoding.EncodeToString(packed)
		return v, nil
	})
	return &found[spectrogramView]{Body: view}, err
}

// clipInput asks for a piece to play.
type clipInput struct {
	PieceInput
	Raise bool `query:"raise" doc:"Bring its loudest sample to −1 dB; else as loud as it was recorded."`
}

func (s *server) getClip(ctx context.Context, in *clipInput) (*fileOutput, error) {
	r, err := fetch(ctx, s, s.Notebook.Recordings(), in.ID)
	if err != nil {
		return nil, err
	}
	key := fmt.Sprintf("clip|%s|%g|%g|%t", r.Hash, in.From, in.To, in.Raise)
	wav, err := recalled(ctx, s, key, func(ctx context.Context) ([]byte, error) {
		var out bytes.Buffer
		err := workbench.WriteClip(ctx, &out, s.opener(r), unit.Duration(in.From), unit.Duration(in.To), in.Raise)
		return out.Bytes(), err
	})
	if err != nil {
		return nil, err
	}
	return playable(wav), nil
}

// playable answers with a WAV file that a page plays.
func playable(wav []byte) *fileOutput {
	return &fileOutput{func(c huma.Context) {
		r, w := humago.Unwrap(c)
		h := w.Header()
		h.Set("Content-Type", "audio/wav")
		h.Set("Content-Disposition", `inline; filename="shot.wav"`)
		h.Set("Content-Security-Policy", "sandbox; default-src 'none'")
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(wav))
	}}
}

// plays documents an answer that is a WAV file.
func plays(op *huma.Operation) {
	wav := map[string]*huma.MediaType{"audio/wav": {Schema: &huma.Schema{Type: "string", Format: "binary"}}}
	op.Responses = map[string]*huma.Response{
		"200": {Description: "A WAV file of 16 bits", Content: wav},
		"206": {Description: "The part asked for by Range", Content: wav},
	}
}

// decayInput names a shot and a band.
type decayInput struct {
	IDInput
	Shot   int     `path:"shot" minimum:"1" maximum:"100000" doc:"The shot's number in the listening." example:"1"`
	Octave float64 `query:"octave" minimum:"0" maximum:"16000" doc:"Centre of an octave in Hz; 0: the whole A-weighted sound." example:"1000"`
}

// decayView is how a shot dies away.
type decayView struct {
	Early  measureView     `json:"decay_early"`
	T10    measureView     `json:"t10"`
	Curved bool            `json:"curved" doc:"No straight line: no single decay time describes it."`
	Figure []figure.Figure `json:"figures" nullable:"false" doc:"The decay with its fit and noise floor; empty when there is nothing to draw."`
}

func (s *server) getDecay(ctx context.Context, in *decayInput) (*found[decayView], error) {
	heard, err := s.heardOf(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	for _, shot := range heard.Hearing.Measured() {
		if shot.Number != in.Shot {
			continue
		}
		hearing, err := hearingKey(heard.Recording, heard.Onsets)
		if err != nil {
			return nil, err
		}
		decay, err := recalled(ctx, s, fmt.Sprintf("decay|%s|%d|%g", hearing, in.Shot, in.Octave), func(ctx context.Context) (workbench.Decay, error) {
			return workbench.ShotDecay(ctx, s.opener(heard.Recording), shot, in.Octave)
		})
		return &found[decayView]{Body: viewDecay(decay, in.Octave, system)}, err
	}
	return nil, &notebook.Error{Code: notebook.NotFound, Field: "/shot", Message: fmt.Sprintf("no shot %d counts in this recording", in.Shot), Hint: "its listening lists the shots by number"}
}

// optionalStop reads a stop from an address.
func optionalStop(field, text string) (*int, error) {
	if text == "" {
		return nil, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 1000 {
		return nil, &notebook.Error{Code: notebook.Invalid, Field: field, Message: fmt.Sprintf("there is no stop %q", text), Hint: "its number in the plan, from 0"}
	}
	return &n, nil
}
