package server

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"runtime/debug"
	"slices"
	"sync"
	"sync/atomic"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// listeningView is what was heard in a recording.
type listeningView struct {
	Recording notebook.Recording `json:"recording"`
	Shots     []shotView         `json:"shots" nullable:"false" doc:"As corrected by hand; struck-out ones are left out."`
	Automatic []onsetView        `json:"automatic" nullable:"false" doc:"As the program found them, whatever was corrected."`
	Events    []eventView        `json:"events" nullable:"false" doc:"Everything that rose suddenly, shots or not."`
	Onsets    *notebook.Onsets   `json:"onsets,omitempty" doc:"The corrections in force; absent: none were made."`
	Format    string             `json:"format" example:"wav"`
	Rate      int                `json:"sample_rate_hz" example:"48000"`
	Channels  int                `json:"channels"`
	Seconds   float64            `json:"seconds" doc:"Length of the recording." example:"94.2"`
	Clipped   int                `json:"clipped" doc:"Samples at full scale; any makes levels too low."`
	Warnings  []string           `json:"warnings" nullable:"false"`
}

// onsetView is a shot as the program found it.
type onsetView struct {
	At      float64  `json:"release_s"`
	Impact  *float64 `json:"impact_s"`
	Clicker *float64 `json:"clicker_s"`
	Why     string   `json:"why" doc:"What it was recognised by."`
}

// eventView is something that rose suddenly.
type eventView struct {
	At   float64 `json:"at_s"`
	Kind string  `json:"kind" enum:"release,impact,clicker,creak,noise"`
	Why  string  `json:"why"`
}

// shotView is one shot heard.
type shotView struct {
	Number    int           `json:"number" doc:"In order, from 1."`
	At        float64       `json:"release_s" doc:"Onset of the release, seconds from the start." example:"12.417"`
	Impact    *float64      `json:"impact_s" doc:"Arrow on the bale; null: not heard."`
	Clicker   *float64      `json:"clicker_s" doc:"Clicker; null: not heard."`
	Auto      *float64      `json:"auto_release_s" doc:"Where the program found it; null: added by hand."`
	Corrected bool          `json:"corrected" doc:"Moved or added by hand."`
	Why       string        `json:"why" doc:"What it was recognised by."`
	Clipped   int           `json:"clipped" doc:"Samples at full scale in it."`
	Window    float64       `json:"window_s" doc:"Measured from the release to just before the impact."`
	Measures  []measureView `json:"measures" nullable:"false"`
	Modes     []modeView    `json:"modes" nullable:"false" doc:"What rings on, where it is stable enough to be told."`
	NoModes   string        `json:"no_modes_why,omitempty" doc:"Why no mode is given."`
	Stop      *int          `json:"stop,omitempty" doc:"The stop of the trial, or the setting, it was shot at."`
	Arrow     string        `json:"arrow,omitempty" doc:"Number on the shaft, as tied by hand."`
	Ring      string        `json:"ring,omitempty" doc:"Score as called."`
	Reading   notebook.ID   `json:"reading,omitempty"`
}

// modeView is a vibration that rings on.
type modeView struct {
	Frequency measureView `json:"frequency"`
	Damping   measureView `json:"damping"`
}

// measureView is a measure of a shot, or why there is none.
type measureView struct {
	Name  string   `json:"name" example:"exposure_db_rel"`
	Label string   `json:"label" example:"level"`
	Unit  string   `json:"unit" example:"dB"`
	Value *float64 `json:"value" doc:"Null: not measurable; why says the reason."`
	Low   *float64 `json:"low" doc:"Lower end of the 95 % interval from background and method."`
	High  *float64 `json:"high"`
	Text  string   `json:"text" example:"-31.2 dB"`
	Why   string   `json:"why,omitempty" doc:"Why it is not measurable, or what limits it."`
}

// hearing is one recording listened to, shared by all who ask meanwhile.
type hearing struct {
	once  sync.Once
	ready atomic.Bool // once is over
	heard workbench.Heard
	err   error
}

// mostHearings is how many hearings are kept: a season of one bow. Half an
// hour of sound keeps 3 MB, an evening's file at the bale some 100 kB.
const mostHearings = 120

// hearings keeps what was heard, by the file's hash and how it was listened to.
type hearings struct {
	mu    sync.Mutex
	byKey map[string]*hearing
	order []string // oldest first
}

// of gives the place for a hearing.
func (h *hearings) of(key string) *hearing {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.byKey == nil {
		h.byKey = map[string]*hearing{}
	}
	if e, ok := h.byKey[key]; ok {
		return e
	}
	e := &hearing{}
	h.byKey[key] = e
	if h.order = append(h.order, key); len(h.order) > mostHearings {
		delete(h.byKey, h.order[0])
		h.order = h.order[1:]
	}
	return e
}

// forget drops a hearing that came to nothing, so that the next one tries again.
func (h *hearings) forget(key string, e *hearing) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.byKey[key] == e {
		delete(h.byKey, key)
		h.order = slices.DeleteFunc(h.order, func(old string) bool { return old == key })
	}
}

// hear listens to a recording as it was last corrected.
func (s *server) hear(ctx context.Context, r notebook.Recording) (workbench.Heard, error) {
	corrected, err := s.onsetsOf(ctx, []notebook.Recording{r})
	if err != nil {
		return workbench.Heard{}, err
	}
	return s.hearWith(ctx, r, workbench.LatestOnsets(corrected, r.ID))
}

// hearWith listens to a recording once. Whoever comes first listens; when they
// give up, the next of those who wait begins anew.
func (s *server) hearWith(ctx context.Context, r notebook.Recording, onsets *notebook.Onsets) (workbench.Heard, error) {
	key, err := hearingKey(r, onsets)
	if err != nil {
		return workbench.Heard{}, err
	}
	for {
		e := s.hearings.of(key)
		if !e.ready.Load() {
			stepAside(ctx) // perhaps behind somebody who listens already
		}
		e.once.Do(func() {
			defer e.ready.Store(true)
			e.heard, e.err = s.hearNow(ctx, r, onsets)
		})
		givenUp := errors.Is(e.err, context.Canceled) || errors.Is(e.err, context.DeadlineExceeded)
		if givenUp || passingBy(e.err) {
			s.hearings.forget(key, e)
		}
		if givenUp && ctx.Err() == nil {
			continue
		}
		heard := e.heard
		heard.Recording, heard.Onsets = r, onsets
		return heard, e.err
	}
}

// passingBy tells an error that may be gone the next time: the storage does not
// answer, too many files are open, or there is too much work at once. A file that
// is damaged, or that the disk does not give, stays so.
func passingBy(err error) bool {
	var p *Problem
	code := notebook.CodeOf(err)
	return code == notebook.Unavailable || code == notebook.Busy || errors.As(err, &p) && p.Status == http.StatusServiceUnavailable
}

// listened is hear, with what is told of a recording that can never be listened
// to; what passes by is an error, so that no verdict is kept without it.
func (s *server) listened(ctx context.Context, r notebook.Recording) (heard workbench.Heard, deaf string, err error) {
	corrected, err := s.onsetsOf(ctx, []notebook.Recording{r})
	if err != nil {
		return heard, "", err
	}
	heard, bad := s.hearWith(ctx, r, workbench.LatestOnsets(corrected, r.ID))
	switch {
	case ctx.Err() != nil:
		return heard, "", ctx.Err()
	case passingBy(bad):
		return heard, "", bad
	case bad != nil:
		return heard, fmt.Sprintf("The recording %q could not be listened to: %s", r.Name, s.explain(ctx, bad).Detail), nil
	}
	return heard, "", nil
}

// hearingKey is all that a hearing depends on.
func hearingKey(r notebook.Recording, onsets *notebook.Onsets) (string, error) {
	key := fmt.Sprintf("%s|%g", r.Hash, float64(r.ToBale.Value))
	if onsets == nil || len(onsets.Corrections) == 0 {
		return key, nil
	}
	raw, err := json.Marshal(onsets.Corrections)
	if err != nil {
		return "", fmt.Errorf("server: %w", err)
	}
	sum := sha256.Sum256(raw)
	return key + "|" + hex.EncodeToString(sum[:]), nil
}

// listenAhead listens to a recording that has just arrived, so that its trial
// need not wait for it. What goes wrong is told to whoever asks later.
func (s *server) listenAhead(r notebook.Recording) {
	ctx, cancel := context.WithTimeout(context.Background(), s.Limits.Compute)
	defer cancel()
	defer func() {
		if fault := recover(); fault != nil {
			s.counts.panics.Add(1)
			s.Log.Error("panic while listening ahead", "fault", fault, "stack", string(debug.Stack()))
		}
	}()
	if _, err := s.hear(ctx, r); err != nil {
		s.Log.Debug("listening ahead", "error", err)
	}
}

func (s *server) hearNow(ctx context.Context, r notebook.Recording, onsets *notebook.Onsets) (heard workbench.Heard, err error) {
	file, err := s.Notebook.Blobs().Open(ctx, r.Hash)
	if err != nil {
		return heard, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if err := s.queue.enter(ctx); err != nil {
		return heard, err
	}
	defer s.queue.leave()
	heard.Hearing, err = workbench.Listen(ctx, file, workbench.ListenAsk{ToBale: r.ToBale.Value, Corrections: workbench.Corrections(onsets)})
	return heard, err
}

func (s *server) listen(ctx context.Context, in *IDInput) (*found[listeningView], error) {
	r, err := fetch(ctx, s, s.Notebook.Recordings(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	heard, err := s.hear(ctx, r)
	if err != nil {
		return nil, err
	}
	automatic, err := s.hearWith(ctx, r, nil)
	if err != nil {
		return nil, err
	}
	view := viewHearing(heard, system)
	for _, shot := range automatic.Hearing.Shots {
		view.Automatic = append(view.Automatic, onsetView{float64(shot.Release), seconds(shot.Impact), seconds(shot.Clicker), shot.Why})
	}
	return &found[listeningView]{Body: view}, nil
}

// heard listens to recordings; one that cannot be read is told
// and left out.
func (s *server) heard(ctx context.Context, recordings []notebook.Recording) (list []workbench.Heard, deaf []string, err error) {
	for _, r := range recordings {
		heard, mute, err := s.listened(ctx, r)
		switch {
		case err != nil:
			return nil, nil, err
		case mute != "":
			deaf = append(deaf, mute)
		default:
			list = append(list, heard)
		}
	}
	return list, deaf, nil
}

func viewHearing(h workbench.Heard, system unit.System) listeningView {
	v := listeningView{
		Recording: h.Recording, Shots: []shotView{}, Automatic: []onsetView{}, Events: []eventView{}, Onsets: h.Onsets,
		Format: string(h.Hearing.Format), Rate: h.Hearing.SampleRate, Channels: h.Hearing.Channels,
		Seconds: float64(h.Hearing.Duration), Clipped: h.Hearing.Clipped, Warnings: someText(h.Hearing.Warnings),
	}
	for _, shot := range h.Hearing.Measured() {
		one := shotView{
			Number: shot.Number, At: float64(shot.Release), Impact: seconds(shot.Impact), Clicker: seconds(shot.Clicker), Auto: seconds(shot.AutoRelease),
			Corrected: shot.Corrected, Why: shot.Why, Clipped: shot.Clipped, Window: float64(shot.Window), NoModes: shot.NoModes, Modes: []modeView{},
		}
		for _, m := range workbench.ShotMeasures(shot.Measures) {
			one.Measures = append(one.Measures, viewMeasure(m, system))
		}
		for _, m := range workbench.ShotModes(shot.Measures) {
			one.Modes = append(one.Modes, modeView{viewMeasure(m[0], system), viewMeasure(m[1], system)})
		}
		if at, ok := h.StopOf(shot); ok {
			one.Stop = &at
		}
		if t, ok := h.Tie(shot); ok {
			one.Arrow, one.Ring, one.Reading = t.Arrow, t.Ring, t.Reading
		}
		v.Shots = append(v.Shots, one)
	}
	for _, e := range h.Hearing.Events {
		v.Events = append(v.Events, eventView{float64(e.At), string(e.Kind), e.Why})
	}
	return v
}

func seconds(t *unit.Duration) *float64 {
	if t == nil {
		return nil
	}
	return finite(float64(*t))
}

func viewMeasure(m workbench.EarMeasure, system unit.System) measureView {
	v := measureView{Name: m.Key, Label: m.Label, Unit: m.Unit, Why: m.Why, Text: "not measurable"}
	if !m.OK {
		return v
	}
	v.Value, v.Text = finite(m.Value), fixedNumber(m.Value, m.Digits, system)+" "+m.Unit
	if m.SD > 0 {
		v.Low, v.High = finite(m.Value-1.96*m.SD), finite(m.Value+1.96*m.SD)
	}
	return v
}
