package server

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// listeningView is what was heard in a recording.
type listeningView struct {
	Recording notebook.Recording `json:"recording"`
	Shots     []shotView         `json:"shots" nullable:"false"`
	Format    string             `json:"format" example:"wav"`
	Rate      int                `json:"sample_rate_hz" example:"48000"`
	Seconds   float64            `json:"seconds" doc:"Length of the recording." example:"94.2"`
	Clipped   int                `json:"clipped" doc:"Samples at full scale; any makes levels too low."`
	Warnings  []string           `json:"warnings" nullable:"false"`
}

// shotView is one shot heard.
type shotView struct {
	Number    int           `json:"number" doc:"In order, from 1."`
	At        float64       `json:"release_s" doc:"Onset of the release, seconds from the start." example:"12.417"`
	Impact    *float64      `json:"impact_s" doc:"Arrow on the bale; null: not heard."`
	Clicker   *float64      `json:"clicker_s" doc:"Clicker; null: not heard."`
	Corrected bool          `json:"corrected" doc:"Moved or added by hand."`
	Why       string        `json:"why" doc:"What it was recognised by."`
	Clipped   int           `json:"clipped" doc:"Samples at full scale in it."`
	Measures  []measureView `json:"measures" nullable:"false"`
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
	heard workbench.Heard
	err   error
}

// mostHearings is how many hearings are kept: a trial of one recording a stop,
// and the trial before.
const mostHearings = 32

// hearings keeps what was heard, by the file's hash.
type hearings struct {
	mu     sync.Mutex
	byHash map[string]*hearing
	order  []string // oldest first
}

// of gives the place for a file's hearing.
func (h *hearings) of(hash string) *hearing {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.byHash == nil {
		h.byHash = map[string]*hearing{}
	}
	if e, ok := h.byHash[hash]; ok {
		return e
	}
	e := &hearing{}
	h.byHash[hash] = e
	if h.order = append(h.order, hash); len(h.order) > mostHearings {
		delete(h.byHash, h.order[0])
		h.order = h.order[1:]
	}
	return e
}

// forget drops a hearing that was given up, so that the next one tries again.
func (h *hearings) forget(hash string, e *hearing) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.byHash[hash] == e {
		delete(h.byHash, hash)
	}
}

// hear listens to a recording once. Whoever comes first listens; when they give
// up, the next of those who wait begins anew.
func (s *server) hear(ctx context.Context, r notebook.Recording) (workbench.Heard, error) {
	for {
		e := s.hearings.of(r.Hash)
		e.once.Do(func() { e.heard, e.err = s.hearNow(ctx, r) })
		givenUp := errors.Is(e.err, context.Canceled) || errors.Is(e.err, context.DeadlineExceeded)
		if givenUp {
			s.hearings.forget(r.Hash, e)
		}
		if givenUp && ctx.Err() == nil {
			continue
		}
		heard := e.heard
		heard.Recording = r
		return heard, e.err
	}
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

func (s *server) hearNow(ctx context.Context, r notebook.Recording) (heard workbench.Heard, err error) {
	file, err := s.Notebook.Blobs().Open(ctx, r.Hash)
	if err != nil {
		return heard, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if err := s.queue.enter(ctx); err != nil {
		return heard, err
	}
	defer s.queue.leave()
	heard.Hearing, err = workbench.Listen(ctx, file, workbench.ListenAsk{ToBale: r.ToBale.Value})
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
	return &found[listeningView]{Body: viewHearing(heard, system)}, nil
}

// heard listens to recordings; one that cannot be read is told
// and left out.
func (s *server) heard(ctx context.Context, recordings []notebook.Recording) (list []workbench.Heard, deaf []string, err error) {
	for _, r := range recordings {
		heard, err := s.hear(ctx, r)
		switch {
		case ctx.Err() != nil:
			return nil, nil, ctx.Err()
		case err != nil:
			deaf = append(deaf, fmt.Sprintf("The recording %q could not be listened to: %s", r.Name, s.explain(ctx, err).Detail))
		default:
			list = append(list, heard)
		}
	}
	return list, deaf, nil
}

func viewHearing(h workbench.Heard, system unit.System) listeningView {
	v := listeningView{
		Recording: h.Recording, Shots: []shotView{}, Format: string(h.Hearing.Format), Rate: h.Hearing.SampleRate,
		Seconds: float64(h.Hearing.Duration), Clipped: h.Hearing.Clipped, Warnings: someText(h.Hearing.Warnings),
	}
	for _, shot := range h.Hearing.Measured() {
		one := shotView{
			Number: shot.Number, At: float64(shot.Release), Impact: seconds(shot.Impact), Clicker: seconds(shot.Clicker),
			Corrected: shot.Corrected, Why: shot.Why, Clipped: shot.Clipped,
		}
		// The measures' own type has its name in a package that this one may
		// not import; their fields are passed on one by one.
		add := func(name, label, symbol string, scale, value, sd float64, ok bool, why string) {
			one.Measures = append(one.Measures, viewMeasure(name, label, symbol, scale*value, scale*sd, ok, why, system))
		}
		m := shot.Measures
		add("exposure_db_rel", "level", "dB", 1, m.Exposure.Value, m.Exposure.SD, m.Exposure.OK, m.Exposure.Why)
		add("rise_s", "attack", "ms", 1e3, m.Rise.Value, m.Rise.SD, m.Rise.OK, m.Rise.Why)
		add("early_late_db", "early against late", "dB", 1, m.EarlyLate.Value, m.EarlyLate.SD, m.EarlyLate.OK, m.EarlyLate.Why)
		add("late_db_rel", "rings on", "dB", 1, m.Late.Value, m.Late.SD, m.Late.OK, m.Late.Why)
		add("decay_early_s", "ring-down", "ms", 1e3, m.DecayEarly.Value, m.DecayEarly.SD, m.DecayEarly.OK, m.DecayEarly.Why)
		add("centroid_hz", "pitch of the whole", "Hz", 1, m.Centroid.Value, m.Centroid.SD, m.Centroid.OK, m.Centroid.Why)
		v.Shots = append(v.Shots, one)
	}
	return v
}

func seconds(t *unit.Duration) *float64 {
	if t == nil {
		return nil
	}
	return finite(float64(*t))
}

func viewMeasure(name, label, symbol string, value, sd float64, ok bool, why string, system unit.System) measureView {
	v := measureView{Name: name, Label: label, Unit: symbol, Why: why, Text: "not measurable"}
	if !ok {
		return v
	}
	v.Value, v.Text = finite(value), plainNumber(rounded(value, 1), system)+" "+symbol
	if sd > 0 {
		v.Low, v.High = finite(value-1.96*sd), finite(value+1.96*sd)
	}
	return v
}
