package server

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// fitView is a bow fitted to its readings, in one person's units.
type fitView struct {
	Progress
	SetUp       notebook.ID     `json:"setup" doc:"The set-up it starts from: the bow's latest."`
	Inputs      string          `json:"inputs" doc:"Fingerprint of what it was fitted to."`
	Parameters  []parameterView `json:"parameters" nullable:"false" doc:"What the readings taught; those they say next to nothing about are left out."`
	Readings    []fitReading    `json:"readings" nullable:"false" doc:"Each reading against the fitted bow."`
	Predictions []Doubted       `json:"predictions" nullable:"false" doc:"As the bow stands, with the span of 90 %."`
	Next        []nextReading   `json:"next_readings" nullable:"false" doc:"What to measure next, the most telling first."`
	Kept        []keptFitView   `json:"kept" nullable:"false" doc:"Fits that were kept, oldest first."`
	Warnings    []string        `json:"warnings" nullable:"false"`
	Skipped     []string        `json:"skipped" nullable:"false" doc:"Readings that could not be used, and why."`
}

type parameterView struct {
	Key    string  `json:"key" example:"button_per_turn"`
	Label  string  `json:"label" example:"button's preload a turn"`
	Value  float64 `json:"value" doc:"SI; a factor on the generic bow where the unit is empty."`
	SD     float64 `json:"sd" doc:"One standard deviation."`
	Before float64 `json:"prior_value"`
	Was    float64 `json:"prior_sd"`
	Unit   string  `json:"unit" example:"N"`
	Learnt float64 `json:"learnt_share" doc:"Of the variance before, taken away by the readings."`
	Source string  `json:"prior_source" doc:"Where the prior comes from."`
}

type fitReading struct {
	Reading notebook.ID `json:"reading,omitempty"`
	Label   string      `json:"label"`
	Read    string      `json:"read" example:"57.9 m/s"`
	Fitted  string      `json:"fitted" example:"57.8 m/s"`
	Off     float64     `json:"off_sd" doc:"How many standard deviations it lies above the fitted bow."`
}

type nextReading struct {
	Label    string              `json:"label"`
	Kind     string              `json:"kind"`
	Needs    string              `json:"needs" example:"chronograph"`
	Minutes  int                 `json:"minutes" doc:"About."`
	Settings []workbench.Setting `json:"settings" nullable:"false" doc:"To change for it, and back afterwards."`
	Distance string              `json:"distance,omitempty"`
	Arrows   int                 `json:"arrows,omitempty"`
	Drop     float64             `json:"expected_drop_ratio" doc:"Share of the doubt's variance that it is expected to take away."`
	Why      string              `json:"why"`
}

type keptFitView struct {
	ID       notebook.ID `json:"id"`
	SetUp    notebook.ID `json:"setup"`
	At       time.Time   `json:"at"`
	Readings int         `json:"readings" doc:"How many it saw."`
	Program  string      `json:"program"`
	Current  bool        `json:"current" doc:"False when set-up or readings have changed since."`
}

func (v *fitView) empty() {
	v.Parameters, v.Readings, v.Predictions = []parameterView{}, []fitReading{}, []Doubted{}
	v.Next, v.Kept, v.Warnings = []nextReading{}, []keptFitView{}, []string{}
}

// leastLearnt is the share of variance below which a parameter is not shown.
const leastLearnt = 0.03

func (v *fitView) fill(f workbench.FitView, system unit.System) {
	for _, p := range f.Parameters {
		if p.Learnt >= leastLearnt {
			v.Parameters = append(v.Parameters, parameterView{p.Key, p.Name, p.Value, p.SD, p.PriorValue, p.PriorSD, p.Unit, p.Learnt, p.Source})
		}
	}
	for _, r := range f.Readings {
		say, _ := report.InWords(r.Quantity, report.Sayer(r.Quantity, r.Unit, system))
		v.Readings = append(v.Readings, fitReading{r.ID, r.Name, say(r.Value), say(r.Fitted), rounded(r.Off, 2)})
	}
	for _, p := range f.Predictions {
		v.Predictions = append(v.Predictions, expected(p, system, false))
	}
	for _, n := range f.Next {
		next := nextReading{Label: n.Name, Kind: n.Kind, Needs: n.Needs, Minutes: n.Minutes, Settings: n.Settings, Arrows: n.Arrows, Drop: n.Drop, Why: n.Why}
		if next.Settings == nil {
			next.Settings = []workbench.Setting{}
		}
		if n.Distance > 0 {
			next.Distance = system.DistanceStyle().Print(unit.Length(n.Distance))
		}
		v.Next = append(v.Next, next)
	}
	v.Warnings = saidAll(f.Warnings, system)
}

// expected shows a quantity of a fitted bow, or the change of one.
func expected(e workbench.Expected, system unit.System, change bool) Doubted {
	signed, moves := report.InWords(e.Quantity, report.Sayer(e.Quantity, e.Unit, system))
	if change {
		signed = moves
	}
	d := Doubted{Name: e.Quantity.Kind, Label: e.Quantity.String(), Unit: e.Unit, SI: finite(e.Value), Low: finite(e.Low), High: finite(e.High),
		Text: signed(e.Value), Doubt: signed(e.Low) + " to " + signed(e.High)}
	if e.Low == e.High {
		d.Doubt = noDoubt
	}
	return d
}

// fitWhatIfView is what moving settings does on a fitted bow.
type fitWhatIfView struct {
	Progress
	Changes      []string          `json:"changes" nullable:"false" doc:"What is moved, in words."`
	Effects      []effectView      `json:"effects" nullable:"false"`
	Parts        []partView        `json:"parts" nullable:"false" doc:"What each setting alone does, where more than one moved."`
	InWindow     bool              `json:"in_window" doc:"A bare shaft tells stiff from weak after the change."`
	Reason       string            `json:"window_reason" doc:"Why it does not."`
	HeightIn     bool              `json:"height_in_window" doc:"The change of the bare shaft's height can be told."`
	HeightReason string            `json:"height_window_reason" doc:"Why it cannot."`
	Warnings     []string          `json:"warnings" nullable:"false"`
	Settings     notebook.Settings `json:"settings" doc:"After the change, for the next set-up."`
}

type effectView struct {
	Change Doubted `json:"change"`
	Now    string  `json:"now"`
	Then   string  `json:"then"`
	Says   string  `json:"says" doc:"In words; cannot tell where the direction is not sure."`
	Sure   float64 `json:"sure_ratio" doc:"Probability that the direction is right."`
}

type partView struct {
	Label   string   `json:"label"`
	Effects []string `json:"effects" nullable:"false" doc:"One for each of effects."`
}

func (v *fitWhatIfView) empty() {
	v.Changes, v.Effects, v.Parts, v.Warnings = []string{}, []effectView{}, []partView{}, []string{}
}

func (v *fitWhatIfView) fill(w workbench.Foreseen, system unit.System) {
	for _, d := range w.Changes {
		v.Changes = append(v.Changes, d.String())
	}
	v.Effects = viewEffects(w.Effects, system)
	for _, p := range w.Parts {
		part := partView{Label: p.Label, Effects: []string{}}
		for i, x := range p.Effect {
			part.Effects = append(part.Effects, report.Sayer(w.Effects[i].Quantity, w.Effects[i].Unit, system)(x))
		}
		v.Parts = append(v.Parts, part)
	}
	v.HeightIn, v.HeightReason = w.HeightInWindow, said(w.HeightReason, system)
	v.InWindow, v.Reason, v.Warnings, v.Settings = w.InWindow, said(w.Reason, system), saidAll(w.Warnings, system), w.Settings
}

func viewEffects(list []workbench.Effect, system unit.System) []effectView {
	out := []effectView{}
	for _, e := range list {
		say := report.Sayer(e.Quantity, e.Unit, system)
		value, _ := report.InWords(e.Quantity, say)
		if e.Withheld != "" {
			none := expected(e.Expected, system, true)
			none.SI, none.Low, none.High = nil, nil, nil
			none.Text, none.Doubt = "–", e.Says
			out = append(out, effectView{none, "–", "–", e.Says, 0})
			continue
		}
		out = append(out, effectView{expected(e.Expected, system, true), value(e.Now), value(e.Then), saying(e, say), rounded(e.Sureness, 3)})
	}
	return out
}

// saying is an effect in words and this person's units.
func saying(e workbench.Effect, say func(float64) string) string {
	switch d := e.Direction(); {
	case d == 0 || e.Says == "no change" || e.Says == "no change to speak of" || strings.HasPrefix(e.Says, "cannot tell"):
		return e.Says
	case e.Quantity.Kind == workbench.QBare || e.Quantity.Kind == workbench.QGroup:
		side := "left"
		if d > 0 {
			side = "right"
		}
		return say(math.Abs(e.Value)) + " to the " + side
	case e.Quantity.Kind == workbench.QBareUp && d > 0:
		return say(e.Value) + " higher"
	case e.Quantity.Kind == workbench.QBareUp:
		return say(-e.Value) + " lower"
	case d > 0:
		return say(e.Value) + " more"
	}
	return say(-e.Value) + " less"
}

// adviceView is two or three routes to a wish.
type adviceView struct {
	Progress
	Routes   []routeView `json:"routes" nullable:"false" doc:"Best first."`
	Withheld string      `json:"withheld" doc:"Why none is given; empty when there are routes."`
	Notes    []string    `json:"notes" nullable:"false"`
	Cautions []string    `json:"cautions" nullable:"false"`
}

type routeView struct {
	Label      string              `json:"label" example:"button"`
	Changes    []string            `json:"changes" nullable:"false" doc:"In words."`
	Settings   []workbench.Setting `json:"settings" nullable:"false" doc:"To send as the next set-up's changes."`
	SetUp      notebook.Settings   `json:"setup" doc:"All settings after the change."`
	Success    float64             `json:"success_ratio" doc:"Predicted probability that the wish is met."`
	Say        string              `json:"say" example:"about 6 chances in ten"`
	Reached    Doubted             `json:"reached" doc:"Change of what was wished."`
	Size       float64             `json:"size_ratio" doc:"In usual steps."`
	Reversible bool                `json:"reversible" doc:"Nothing is cut or bought."`
	Effects    []effectView        `json:"side_effects" nullable:"false"`
	Warnings   []string            `json:"warnings" nullable:"false"`
}

func (v *adviceView) fill(a workbench.Advice, from notebook.Settings, system unit.System) {
	v.Withheld, v.Notes = said(a.Withheld, system), saidAll(a.Notes, system)
	for _, r := range a.Routes {
		route := routeView{
			Label: r.Name, Settings: r.Settings, SetUp: r.SetUp, Success: rounded(r.Success, 3), Reached: expected(r.Reached, system, true), Size: r.Size,
			Reversible: r.Reversible, Effects: viewEffects(r.Effects, system), Warnings: saidAll(r.Warnings, system), Changes: []string{},
			Say: fmt.Sprintf("%.0f %%", 100*r.Success),
		}
		diff, err := notebook.Diff(from, r.SetUp)
		if err != nil {
			continue
		}
		for _, d := range diff {
			route.Changes = append(route.Changes, d.String())
		}
		v.Routes = append(v.Routes, route)
	}
}
