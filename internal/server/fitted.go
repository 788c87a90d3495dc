package server

import (
	"context"
	"maps"
	"net/http"
	"time"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// fitting is a bow's readings, ready for a fit, with their fingerprint.
type fitting struct {
	setup    notebook.SetUp // the fit's set-up: the bow's latest
	ask      workbench.FitAsk
	readings []notebook.ID
	skipped  []string // readings that could not be used, and why
	inputs   string
}

// fittingOf gathers what a bow is fitted from.
func (s *server) fittingOf(ctx context.Context, bow notebook.ID) (f fitting, err error) {
	hand, err := s.handOf(ctx, bow)
	if err != nil {
		return f, err
	}
	setups, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: bow})
	if err != nil {
		return f, err
	}
	if len(setups) == 0 {
		return f, &notebook.Error{Code: notebook.Invalid, Field: "/bow", Message: "the bow has no set-up yet", Hint: "enter its settings first: draw length and draw weight"}
	}
	readings, err := all(ctx, s, s.Notebook.Readings(), notebook.Query{Bow: bow})
	if err != nil {
		return f, err
	}
	byID := map[notebook.ID]notebook.SetUp{}
	for _, x := range setups {
		byID[x.ID] = x
	}
	f.setup = setups[len(setups)-1]
	f.ask = workbench.FitAsk{Settings: f.setup.Settings, Hand: workbench.HandOf(hand)}
	f.ask.Readings, f.skipped = workbench.Observations(byID, readings)
	for _, o := range f.ask.Readings {
		f.readings = append(f.readings, o.ID)
	}
	if f.ask.Misses, err = s.misses(ctx, bow); err != nil {
		return f, err
	}
	f.inputs, err = fingerprint(f.setup.Settings, hand, f.ask.Readings, f.ask.Misses)
	return f, err
}

// misses is by how much the ledger's misses widen the model's error, by kind
// of quantity; kinds without a miss are left out.
func (s *server) misses(ctx context.Context, bow notebook.ID) (map[string]float64, error) {
	records, _, err := s.bowRecords(ctx, bow)
	if err != nil {
		return nil, err
	}
	widen := records.Ledger().Widen
	maps.DeleteFunc(widen, func(kind string, factor float64) bool { return kind == "" || factor == 1 })
	return widen, nil
}

// fitted gives the bow fitted to its readings: from a kept fit of the same
// readings, else computed in the background beginning from the last one.
func (s *server) fitted(ctx context.Context, bow notebook.ID) (*workbench.FittedBow, fitting, Progress, error) {
	in, err := s.fittingOf(ctx, bow)
	if err != nil {
		return nil, in, Progress{}, err
	}
	old, err := all(ctx, s, s.Notebook.Fits(), notebook.Query{Bow: bow})
	if err != nil {
		return nil, in, Progress{}, err
	}
	key, do := s.fitWork(bow, in, old)
	f, how, err := background(ctx, s, key, do)
	if err != nil {
		return nil, in, how, noPrediction(ctx, err)
	}
	return f, in, how, nil
}

// fitWork is the fit as work for the background, with its key.
func (s *server) fitWork(bow notebook.ID, in fitting, old []notebook.Fit) (key string, do func(context.Context, func(float64)) (*workbench.FittedBow, error)) {
	return "fit " + in.inputs, func(ctx context.Context, tell func(float64)) (*workbench.FittedBow, error) {
		for i := len(old) - 1; i >= 0; i-- {
			if old[i].Inputs != in.inputs {
				continue
			}
			if f, err := workbench.RestoreFit(ctx, in.ask, old[i].Content); err == nil {
				return f, nil
			}
		}
		ask := in.ask
		ask.Start, _ = s.fits.recall(string(bow))
		ask.Turn = s.queue.turn
		f, err := workbench.FitBow(ctx, ask, tell)
		if err == nil {
			s.fits.replace(string(bow), f)
		}
		return f, err
	}
}

func (s *server) getFit(ctx context.Context, in *IDInput) (*found[fitView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	view, err := s.viewFit(ctx, bow.ID)
	return &found[fitView]{Body: view}, err
}

// viewFit is the fit with its predictions and the next reading.
func (s *server) viewFit(ctx context.Context, bow notebook.ID) (fitView, error) {
	f, about, how, err := s.fitted(ctx, bow)
	if err != nil {
		return fitView{}, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return fitView{}, err
	}
	view := fitView{Progress: how, SetUp: about.setup.ID, Inputs: about.inputs, Skipped: someText(about.skipped)}
	view.empty()
	if how.State != "done" {
		return view, nil
	}
	told, how, err := background(ctx, s, "fit view "+about.inputs, inTurn(s, func(ctx context.Context, _ func(float64)) (workbench.FitView, error) {
		return f.View(ctx, workbench.EverythingOwned(), workbench.WishAll)
	}))
	if err != nil {
		return view, noPrediction(ctx, err)
	}
	if view.Progress = how; how.State != "done" {
		view.Share = max(view.Share, 0.9)
		return view, nil
	}
	view.fill(told, system)
	kept, err := all(ctx, s, s.Notebook.Fits(), notebook.Query{Bow: bow})
	for _, k := range kept {
		view.Kept = append(view.Kept, keptFitView{k.ID, k.SetUp, k.At, len(k.Readings), k.Program, k.Inputs == about.inputs})
	}
	return view, err
}

// putFitInput keeps a bow's fit.
type putFitInput struct {
	IDInput
	Body struct {
		Bow notebook.ID `json:"bow" doc:"Fitted to all its readings as they stand."`
		At  time.Time   `json:"at,omitzero" doc:"When, by the writer's clock; default the id's time."`
	}
}

// putFit fits the bow and keeps the fit with the readings it saw.
func (s *server) putFit(ctx context.Context, in *putFitInput) (*kept[keptFitView], error) {
	me, stamp, err := s.stamped(ctx, in.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	if _, err := refers(ctx, s, s.Notebook.Bows(), "/bow", in.Body.Bow); err != nil {
		return nil, err
	}
	switch old, there, err := ifThere(ctx, s, s.Notebook.Fits(), in.ID); {
	case err != nil:
		return nil, err
	case there && old.Bow == in.Body.Bow && old.By == me.ID:
		return &kept[keptFitView]{Status: http.StatusOK, Body: keptFitView{old.ID, old.SetUp, old.At, len(old.Readings), old.Program, true}}, nil
	}
	f, about, err := s.fittedNow(ctx, in.Body.Bow)
	if err != nil {
		return nil, err
	}
	record, err := s.fitRecord(stamp, f, about)
	if err != nil {
		return nil, err
	}
	stored, status, err := keep(ctx, s.Notebook.Fits(), me.ID, record)
	if err != nil {
		return nil, err
	}
	if status == http.StatusCreated {
		s.sealFit(ctx, me, stored, f, about.setup)
	}
	return &kept[keptFitView]{Status: status, Body: keptFitView{stored.ID, stored.SetUp, stored.At, len(stored.Readings), stored.Program, true}}, nil
}

// fitRecord is a fit as it is kept, tied to the readings it saw.
func (s *server) fitRecord(stamp notebook.Stamp, f *workbench.FittedBow, about fitting) (notebook.Fit, error) {
	content, err := f.Content()
	return notebook.Fit{Stamp: stamp, Bow: about.setup.Bow, SetUp: about.setup.ID, Readings: about.readings, Content: content, Program: s.Version, Inputs: about.inputs}, err
}

// fittedNow waits for the fit.
func (s *server) fittedNow(ctx context.Context, bow notebook.ID) (*workbench.FittedBow, fitting, error) {
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	for {
		f, about, how, err := s.fitted(ctx, bow)
		if err != nil || how.State == "done" {
			return f, about, err
		}
	}
}

// fitWhatIfBody moves settings of a fitted bow.
type fitWhatIfBody struct {
	Set map[string]string `json:"set" doc:"Settings and what they become, as typed; keys as in a bow file."`
}

type fitWhatIfInput struct {
	IDInput
	Body fitWhatIfBody
}

// fitWhatIf says what moving settings does on this bow.
func (s *server) fitWhatIf(ctx context.Context, in *fitWhatIfInput) (*found[fitWhatIfView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	f, about, how, err := s.fitted(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	view := fitWhatIfView{Progress: how}
	view.empty()
	if how.State != "done" {
		return &found[fitWhatIfView]{Body: view}, nil
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	to, err := s.settingsFor(ctx, about.setup.ID, nil, in.Body.Set, system)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
	defer cancel()
	w, err := f.WhatIfSettings(ctx, about.setup.Settings, to)
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	view.fill(w, system)
	return &found[fitWhatIfView]{Body: view}, nil
}

// adviceBody is a wish.
type adviceBody struct {
	Wish     workbench.WishKind    `json:"wish" enum:"bare_to_group,faster,quieter,same_tune" doc:"What is wanted." example:"bare_to_group"`
	Distance notebook.Length       `json:"distance,omitzero" doc:"Of the bare shaft; default 30 m." example:"30 m"`
	Offset   notebook.Length       `json:"offset_right,omitzero" doc:"Where the bare shaft lands now, right of the group; default as fitted." example:"6 cm"`
	Speed    unit.Text[unit.Speed] `json:"speed,omitzero" doc:"How much faster; default 2 m/s." example:"2 m/s"`
	Set      map[string]string     `json:"set,omitempty" doc:"For same_tune: the settings that have to change."`
}

type adviceInput struct {
	IDInput
	Body written[adviceBody]
}

// advise finds routes to a wish on this bow.
func (s *server) advise(ctx context.Context, in *adviceInput) (*found[adviceView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	f, about, how, err := s.fitted(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	view := adviceView{Progress: how, Routes: []routeView{}, Notes: []string{}, Cautions: targetCautions}
	if how.State != "done" {
		return &found[adviceView]{Body: view}, nil
	}
	wish, err := s.wishOf(ctx, body, about, system)
	if err != nil {
		return nil, err
	}
	key, err := fingerprint("advice", about.inputs, wish)
	if err != nil {
		return nil, err
	}
	a, how, err := background(ctx, s, key, inTurn(s, func(ctx context.Context, _ func(float64)) (workbench.Advice, error) { return f.Advise(ctx, wish) }))
	if err != nil {
		return nil, noPrediction(ctx, err)
	}
	if view.Progress = how; how.State == "done" {
		view.fill(a, about.setup.Settings, system)
	}
	return &found[adviceView]{Body: view}, nil
}

// wishOf reads a wish.
func (s *server) wishOf(ctx context.Context, b adviceBody, about fitting, system unit.System) (workbench.Wish, error) {
	w := workbench.Wish{Kind: b.Wish, Distance: b.Distance.Value, Speed: float64(b.Speed.Value)}
	if !b.Offset.IsZero() {
		x := float64(b.Offset.Value)
		w.Offset = &x
	}
	if !b.Distance.IsZero() && !unit.Distance.Holds(b.Distance.Value) {
		return w, refuse(FieldError{"/distance", codeInvalid, unit.Distance.Doubt(b.Distance.Typed), "30 m"})
	}
	if v := b.Speed.Value; !b.Speed.IsZero() && !(v > 0 && v < 20) {
		return w, refuse(FieldError{"/speed", codeInvalid, "that much faster cannot be advised", "2 m/s"})
	}
	to, err := s.settingsFor(ctx, about.setup.ID, nil, b.Set, system)
	if err != nil {
		return w, err
	}
	diff, err := notebook.Diff(about.setup.Settings, to)
	if err != nil {
		return w, err
	}
	for _, d := range diff {
		w.Forced = append(w.Forced, workbench.Setting{Key: d.Key, Value: d.After})
	}
	return w, nil
}
