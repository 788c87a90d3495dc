package server

import (
	"context"
	"fmt"
	"maps"
	"time"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// fitView is a bow fitted to its readings.
type fitView struct {
	Progress
	ID         notebook.ID      `json:"id,omitempty" doc:"The fit as kept; old ones are kept too."`
	Seen       int              `json:"readings_seen" doc:"Readings it was fitted to."`
	Skipped    []string         `json:"skipped" nullable:"false" doc:"Readings that could not be used, and why."`
	Parameters []fitParameter   `json:"parameters" nullable:"false"`
	Expected   []Doubted        `json:"expected" nullable:"false" doc:"What the fitted bow says of the present set-up."`
	Next       []nextReading    `json:"next_readings" nullable:"false" doc:"Which reading narrows most what changes do, the best first."`
	Warnings   []string         `json:"warnings" nullable:"false" doc:"Readings that disagree, and what usually causes it."`
	Earlier    int              `json:"earlier_fits" doc:"Fits kept before this one."`
	Settings   []currentSetting `json:"settings" nullable:"false" doc:"What can be moved, as it is now."`
	Cautions   []string         `json:"cautions" nullable:"false"`
}

type fitParameter struct {
	Name   string  `json:"name"`
	Value  string  `json:"value" example:"1.12"`
	Prior  string  `json:"prior" doc:"Before any reading."`
	Learnt float64 `json:"learnt_share" doc:"Of the prior's variance that the readings took away."`
	Source string  `json:"prior_source"`
}

type nextReading struct {
	Name    string  `json:"name"`
	Needs   string  `json:"needs"`
	Minutes int     `json:"minutes"`
	Drop    float64 `json:"expected_drop" doc:"Share of the variance that it is expected to take away."`
	Why     string  `json:"why"`
}

type currentSetting struct {
	Key   string `json:"key" example:"brace_height.value"`
	Label string `json:"label"`
	Now   string `json:"now"`
}

// fittedNow is a fit in memory with how it is kept.
type fittedNow struct {
	bow     *workbench.FittedBow
	view    workbench.FitView
	skipped []string
	id      notebook.ID
	earlier int
}

// fitOf fits a bow to everything read on it so far, or finds that it was
// already. The fit is kept in the notebook with the readings it saw.
func (s *server) fitOf(ctx context.Context, bow notebook.ID) (fittedNow, notebook.Person, Progress, error) {
	me, err := s.actor(ctx)
	if err != nil {
		return fittedNow{}, me, Progress{}, err
	}
	records, _, err := s.bowRecords(ctx, bow)
	if err != nil {
		return fittedNow{}, me, Progress{}, err
	}
	if len(records.SetUps) == 0 {
		return fittedNow{}, me, Progress{}, &notebook.Error{Code: notebook.Invalid, Field: "/bow", Message: "this bow has no set-up yet", Hint: "enter its settings first"}
	}
	setup := records.SetUps[len(records.SetUps)-1]
	byID := map[notebook.ID]notebook.SetUp{}
	for _, u := range records.SetUps {
		byID[u.ID] = u
	}
	ask := workbench.FitAsk{Settings: setup.Settings, Hand: workbench.HandOf(me.Hand), Misses: maps.Clone(records.Ledger().Widen)}
	delete(ask.Misses, "")
	var skipped []string
	ask.Readings, skipped = workbench.Observations(byID, records.Readings)
	key, err := fingerprint(setup, ask.Readings, ask.Misses, me.Hand)
	if err != nil {
		return fittedNow{}, me, Progress{}, err
	}
	f, how, err := background(ctx, s, "fit "+key, inTurn(s, func(ctx context.Context, tell func(float64)) (fittedNow, error) {
		out := fittedNow{skipped: skipped, earlier: len(records.Fits)}
		var err error
		if out.bow, err = workbench.FitBow(ctx, ask, func(share float64) { tell(0.8 * share) }); err != nil {
			return out, err
		}
		if out.view, err = out.bow.View(ctx, workbench.EverythingOwned(), workbench.WishAll); err != nil {
			return out, err
		}
		out.id, out.earlier, err = s.keepFit(ctx, me, setup, out.bow, ask, key, records.Fits)
		return out, err
	}))
	if err != nil {
		return f, me, how, noPrediction(ctx, err)
	}
	return f, me, how, nil
}

// keepFit stores a fit once, tied to the readings it saw.
func (s *server) keepFit(ctx context.Context, me notebook.Person, setup notebook.SetUp, bow *workbench.FittedBow, ask workbench.FitAsk, key string, kept []notebook.Fit) (notebook.ID, int, error) {
	for i, old := range kept {
		if old.Inputs == key {
			return old.ID, i, nil
		}
	}
	content, err := bow.Content()
	if err != nil {
		return "", 0, fmt.Errorf("server: %w", err)
	}
	record := notebook.Fit{Stamp: notebook.Stamp{ID: notebook.NewID(), By: me.ID, At: s.Now().UTC()}, Bow: setup.Bow, SetUp: setup.ID, Content: content, Program: s.Version, Inputs: key, Readings: []notebook.ID{}}
	for _, r := range ask.Readings {
		if r.ID != "" {
			record.Readings = append(record.Readings, r.ID)
		}
	}
	stored, _, err := s.Notebook.Fits().Put(ctx, me.ID, record)
	return stored.ID, len(kept), err
}

// fitInput asks for a bow's fit.
type fitInput struct {
	IDInput
	Body struct{}
}

func (s *server) fitBow(ctx context.Context, in *fitInput) (*found[fitView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	f, me, how, err := s.fitOf(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	v := fitView{Progress: how, Skipped: []string{}, Parameters: []fitParameter{}, Expected: []Doubted{}, Next: []nextReading{}, Warnings: []string{}, Settings: []currentSetting{}, Cautions: cautions}
	if how.State == "done" {
		v.fill(f, systemOf(me))
	}
	return &found[fitView]{Body: v}, nil
}

func (v *fitView) fill(f fittedNow, system unit.System) {
	v.ID, v.Seen, v.Earlier = f.id, len(f.view.Readings), f.earlier
	v.Skipped, v.Warnings = someText(f.skipped), someText(f.view.Warnings)
	for _, p := range f.view.Parameters {
		v.Parameters = append(v.Parameters, fitParameter{
			Name: p.Name, Value: parameterText(p.Value, p.SD, p.Unit, system), Prior: parameterText(p.PriorValue, p.PriorSD, p.Unit, system),
			Learnt: rounded(p.Learnt, 2), Source: p.Source,
		})
	}
	for _, e := range f.view.Predictions {
		v.Expected = append(v.Expected, viewExpected(e, system, false))
	}
	for _, n := range f.view.Next[:min(3, len(f.view.Next))] {
		v.Next = append(v.Next, nextReading{n.Name, n.Needs, n.Minutes, rounded(n.Drop, 2), n.Why})
	}
	for _, key := range movable {
		now, _ := notebook.Diff(notebook.Settings{}, f.bow.Settings())
		for _, d := range now {
			if d.Key == key {
				v.Settings = append(v.Settings, currentSetting{key, d.Label(), d.After})
			}
		}
	}
}

// movable are the entries that a what-if offers.
var movable = []string{"brace_height.value", "button.turns", "centre_shot", "arrow.point_mass", "arrow.spine", "arrow.shaft_length", "arrow.mass", "draw.length"}

// parameterText is a parameter with one standard deviation.
func parameterText(value, sd float64, si string, system unit.System) string {
	text := fmt.Sprintf("%.3g ± %.2g", value, sd)
	if si != "" {
		text += " " + si
	}
	return plainText(text, system)
}

// plainText writes numbers with the person's decimal mark.
func plainText(text string, system unit.System) string {
	if system.Decimal != unit.Comma {
		return text
	}
	out := []rune(text)
	for i := 1; i < len(out)-1; i++ {
		if out[i] == '.' && out[i-1] >= '0' && out[i-1] <= '9' && out[i+1] >= '0' && out[i+1] <= '9' {
			out[i] = ','
		}
	}
	return string(out)
}

// viewExpected shows what the fitted bow says; a change has its sign.
func viewExpected(e workbench.Expected, system unit.System, change bool) Doubted {
	say := sayer(e.Quantity, e.Unit, system)
	text := say
	if change {
		text = func(v float64) string { return signedText(v, say) }
	}
	return Doubted{Name: e.Quantity.Kind, Label: e.Quantity.String(), Unit: e.Unit, SI: finite(e.Value), Low: finite(e.Low), High: finite(e.High),
		Text: text(e.Value), Doubt: text(e.Low) + " to " + text(e.High)}
}

// fitRow is a fit as it was kept.
type fitRow struct {
	ID       notebook.ID `json:"id"`
	SetUp    notebook.ID `json:"setup"`
	At       time.Time   `json:"at"`
	Readings int         `json:"readings"`
	Program  string      `json:"program"`
}

func (s *server) listFits(ctx context.Context, in *IDInput) (*found[rows[fitRow]], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	kept, err := all(ctx, s, s.Notebook.Fits(), notebook.Query{Bow: bow.ID})
	if err != nil {
		return nil, err
	}
	out := found[rows[fitRow]]{Body: rows[fitRow]{Rows: []fitRow{}}}
	for _, f := range kept {
		out.Body.Rows = append(out.Body.Rows, fitRow{f.ID, f.SetUp, f.At, len(f.Readings), f.Program})
	}
	return &out, nil
}
