package server

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tautline/internal/figure"
	"tautline/unit"
	"tautline/workbench"
)

// viewDecay draws a decay with its fit and its noise floor.
func viewDecay(d workbench.Decay, octave float64, system unit.System) decayView {
	times := workbench.DecayTimes(d)
	v := decayView{Early: viewMeasure(times[0], system), T10: viewMeasure(times[1], system), Curved: d.Curved, Figure: []figure.Figure{}}
	if len(d.Curve) < 3 {
		return v
	}
	heard := figure.Line{Name: "energy still to come", Kind: figure.Curve}
	for i, level := range d.Curve {
		if level < -80 { // also −Inf: nothing is left
			break
		}
		heard.X = append(heard.X, figure.Number(1e3*(float64(d.Start)+float64(i)*float64(d.Step))))
		heard.Y = append(heard.Y, figure.Number(level))
	}
	what := "whole A-weighted sound"
	if octave > 0 {
		what = fmt.Sprintf("octave around %s Hz", plainNumber(octave, system))
	}
	f := figure.Figure{
		Title: "How the shot dies away: " + what, Finding: decayFinding(v),
		X:      figure.Axis{Label: "time after the release", Unit: "ms"},
		Y:      figure.Axis{Label: "energy still to come", Unit: "dB", Digits: 1},
		Series: append([]figure.Line{heard}, decayGuides(d, heard)...),
		Note:   "The background's energy is taken off before adding up. The fit runs from 0 to −10 dB; its time is for 60 dB, as is usual.",
	}
	if end := 1e3 * float64(d.Cut); end > 0 {
		f.Marks = append(f.Marks, figure.Mark{At: end, Label: "cut here"})
	}
	v.Figure = append(v.Figure, f)
	return v
}

// decayGuides are the fitted line and the noise floor.
func decayGuides(d workbench.Decay, heard figure.Line) (lines []figure.Line) {
	if d.Early.OK && d.Early.Value > 0 {
		fit := figure.Line{Name: "fit of the early decay", Kind: figure.Curve, Dashed: true}
		from := 1e3 * float64(d.Start)
		for _, level := range []float64{0, -5, -10, -20} {
			fit.X, fit.Y = append(fit.X, figure.Number(from-1e3*level*d.Early.Value/60)), append(fit.Y, figure.Number(level))
		}
		lines = append(lines, fit)
	}
	if n := len(heard.X); n > 1 && !math.IsInf(d.Noise, 0) && d.Noise > -80 {
		level := figure.Number(d.Noise)
		lines = append(lines, figure.Line{Name: "background's own energy", Kind: figure.Curve, Dashed: true, X: []figure.Number{heard.X[0], heard.X[n-1]}, Y: []figure.Number{level, level}})
	}
	return lines
}

func decayFinding(v decayView) string {
	switch {
	case v.Early.Value == nil:
		return "No decay time can be given: " + v.Early.Why + "."
	case v.Curved:
		return fmt.Sprintf("Early decay %s, later %s: no straight line, so no single time describes it.", v.Early.Text, v.T10.Text)
	}
	return fmt.Sprintf("Early decay %s, taken to 60 dB.", v.Early.Text)
}

// fixedNumber prints a number with all its digits, for columns: -35.0, not -35.
func fixedNumber(v float64, digits int, system unit.System) string {
	text := strconv.FormatFloat(rounded(v, digits), 'f', digits, 64)
	if system.Decimal == unit.Comma {
		text = strings.Replace(text, ".", ",", 1)
	}
	return text
}

// comparisonView is two settings compared by their sound.
type comparisonView struct {
	A        sideView          `json:"a"`
	B        sideView          `json:"b"`
	Measures []pairMeasureView `json:"measures" nullable:"false"`
	Figures  []figure.Figure   `json:"figures" nullable:"false" doc:"Both spectra over each other with 95 % intervals."`
	Warnings []string          `json:"warnings" nullable:"false" doc:"What forbids comparing levels, and what is odd about the recordings."`
	Playable bool              `json:"playable" doc:"A shot of each can be played one after the other."`
}

// sideView is one of two settings.
type sideView struct {
	Name  string `json:"name" example:"stop 3 of evening.wav"`
	Shots int    `json:"shots" doc:"Shots that count."`
}

// pairMeasureView is one measure of two settings.
type pairMeasureView struct {
	Name       string   `json:"name" example:"exposure_db_rel"`
	Label      string   `json:"label" example:"level"`
	Unit       string   `json:"unit" example:"dB"`
	A          *float64 `json:"a" doc:"Mean of the first setting's shots; null: not measurable."`
	B          *float64 `json:"b"`
	Difference *float64 `json:"difference" doc:"Second less first."`
	Low        *float64 `json:"low" doc:"95 % interval of the difference."`
	High       *float64 `json:"high"`
	P          *float64 `json:"p" doc:"Chance of a difference as large where there is none."`
	Found      bool     `json:"found" doc:"The interval leaves zero out, and no warning stands against it."`
	Shots      [2]int   `json:"shots" doc:"Measurable shots of each."`
	Text       string   `json:"text" example:"B is 1.4 dB higher (0.5 to 2.3)"`
}

func viewPair(p workbench.SoundPair, names [2]string, system unit.System) comparisonView {
	v := comparisonView{
		A: sideView{names[0], len(p.Shots[0])}, B: sideView{names[1], len(p.Shots[1])},
		Measures: []pairMeasureView{}, Figures: []figure.Figure{}, Warnings: someText(p.Warnings), Playable: len(p.Shots[0]) > 0 && len(p.Shots[1]) > 0,
	}
	for _, m := range p.Measures {
		one := pairMeasureView{
			Name: m.Key, Label: m.Label, Unit: m.Unit, A: finite(m.Mean[0]), B: finite(m.Mean[1]), Shots: m.Shots, Text: pairText(m, system),
		}
		if m.OK {
			one.Difference, one.Low, one.High, one.P = finite(m.Difference), finite(m.Low), finite(m.High), finite(m.P)
			one.Found = m.Found && len(m.Warnings) == 0
		}
		v.Measures = append(v.Measures, one)
	}
	if f, ok := spectraFigure(p, names); ok {
		v.Figures = append(v.Figures, f)
	}
	return v
}

func pairText(m workbench.SoundMeasure, system unit.System) string {
	show := func(x float64) string { return fixedNumber(x, m.Digits, system) }
	switch {
	case !m.OK:
		return "cannot tell: " + m.Why
	case len(m.Warnings) > 0:
		return "not comparable: " + m.Warnings[0]
	case m.Found && m.Difference > 0:
		return fmt.Sprintf("B is %s %s higher (%s to %s)", show(m.Difference), m.Unit, show(m.Low), show(m.High))
	case m.Found:
		return fmt.Sprintf("B is %s %s lower (%s to %s)", show(-m.Difference), m.Unit, show(-m.High), show(-m.Low))
	}
	return fmt.Sprintf("no difference to be told: %s to %s %s", show(m.Low), show(m.High), m.Unit)
}

// spectraFigure lays the spectra of two settings over each other.
func spectraFigure(p workbench.SoundPair, names [2]string) (figure.Figure, bool) {
	f := figure.Figure{
		Title: "Spectra of both settings", Finding: "Third octaves of the first 80 ms, mean of each setting's shots.",
		X:    figure.Axis{Label: "frequency", Unit: "Hz", Digits: 0, Log: true},
		Y:    figure.Axis{Label: "level in the band", Unit: "dB", Digits: 1},
		Note: "Bands are 95 % intervals of the mean. Levels are relative to the recording's full scale.",
	}
	if len(p.Unalike) > 0 {
		f.Note += " The recordings were not made alike: compare the shapes, not the heights."
	}
	for i, s := range p.Spectra {
		if len(s.Centre) == 0 {
			return f, false
		}
		line := figure.Line{Name: fmt.Sprintf("%s, %d shots", names[i], s.Shots), Kind: figure.Curve, Dashed: i == 1,
			X: figure.Numbers(s.Centre), Y: figure.Numbers(s.Mean)}
		if s.Shots > 1 { // a single shot has no interval to give
			line.Low, line.High = figure.Numbers(s.Low), figure.Numbers(s.High)
		}
		f.Series = append(f.Series, line)
	}
	if f.Series[0].Name == f.Series[1].Name {
		f.Series[1].Name += " (B)"
	}
	return f, true
}
