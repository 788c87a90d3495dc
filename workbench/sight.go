package workbench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode"

	"tautline/flight"
	"tautline/group"
	"tautline/notebook"
	"tautline/unit"
)

// SightMarks is what a table of sight marks is made from.
type SightMarks struct {
	// Marks are two or more readings that hit, at least 10 m apart; a scale
	// without a unit is read as millimetres.
	Marks []flight.Mark
	// MarksAir is the air they were shot in, TableAir the one the table is
	// for; zero takes the standard air.
	MarksAir, TableAir flight.Air
	// TemperatureDoubt and PressureDoubt of TableAir are standard deviations;
	// zero takes 3 °C and 500 Pa, a guess without instruments.
	TemperatureDoubt unit.Temperature
	PressureDoubt    unit.Pressure
	// Upward: the scale's numbers grow upward.
	Upward bool
	// Distances of the table; none takes every 5 m from 10 to 90 m.
	Distances []unit.Length
}

// SightLine is one line of the table.
type SightLine struct {
	Distance float64 `json:"distance_m"`
	Reading  float64 `json:"reading_m"`
	// Interval holds the reading with 90 % confidence: the fit's doubt, the
	// setting of one mark, and the day's air.
	Interval Span `json:"interval_90_m"`
	// FromAir is the part of half the interval that the air alone makes.
	FromAir float64 `json:"from_air_m"`
	// Beyond: outside the distances that were shot.
	Beyond bool    `json:"beyond_marks"`
	Time   float64 `json:"time_s"`
	Speed  float64 `json:"speed_mps"` // at the target
}

// SightTable is the answer.
type SightTable struct {
	Speed      float64 `json:"speed_mps"` // fitted, as the arrow leaves
	SpeedDoubt float64 `json:"speed_sd_mps"`
	Drag       float64 `json:"drag_coefficient"`
	DragDoubt  float64 `json:"drag_coefficient_sd"`
	// Correlation of speed and drag: near 1 when marks cannot tell them apart.
	Correlation float64     `json:"speed_drag_correlation"`
	Misfit      float64     `json:"misfit_ratio"`
	Upward      bool        `json:"scale_upward"` // its numbers grow upward
	Lines       []SightLine `json:"lines"`
	Warnings    []string    `json:"warnings"`
}

// Assumed of a sight that nobody measured (common practice, no source).
const (
	usualReach      unit.Length      = 0.90
	usualReachDoubt unit.Length      = 0.03
	givenReachDoubt unit.Length      = 0.02
	riserToPivot    unit.Length      = 0.03 // the sight's block ahead of the pivot
	usualEye        unit.Length      = 0.115
	airTemperature  unit.Temperature = 3
	airPressure     unit.Pressure    = 500
	leastSpeedDoubt                  = 0.05 // of an unfitted bow's speed
	z90                              = 1.6448536
	firstMark       unit.Length      = 10
	lastMark        unit.Length      = 90
	everyMark       unit.Length      = 5
)

// Sight fits speed and drag to the marks, with the bow's own model as the
// expectation, and gives the table. It takes about 100 ms.
func Sight(ctx context.Context, s notebook.Settings, in SightMarks) (SightTable, error) {
	f, err := Predict(ctx, s)
	if err != nil {
		return SightTable{}, err
	}
	in.fill()
	sight, notes := sightOf(s, in.Upward)
	known := flight.Expected{Mass: s.Arrow.Mass.Value, Diameter: or(s.Arrow.Diameter.Value, usualDiameter, func() {
		notes = append(notes, fmt.Sprintf("No shaft diameter given: %.1f mm assumed.", usualDiameter.Millimetres()))
	}), Air: in.MarksAir}
	speed := f.Stop.Speed
	known.Speed = speed.Value
	known.SpeedDoubt = max((speed.High-speed.Low)/(2*z90), leastSpeedDoubt*speed.Value)
	fit, err := flight.FitMarks(in.Marks, sight, known)
	if err != nil {
		return SightTable{}, understandMarks(err)
	}
	return in.table(ctx, fit, notes)
}

// fill takes the defaults.
func (in *SightMarks) fill() {
	for _, a := range []*flight.Air{&in.MarksAir, &in.TableAir} {
		if *a == (flight.Air{}) {
			*a = flight.StandardAir()
		}
	}
	if in.TemperatureDoubt == 0 {
		in.TemperatureDoubt = airTemperature
	}
	if in.PressureDoubt == 0 {
		in.PressureDoubt = airPressure
	}
	if len(in.Distances) > 0 {
		return
	}
	for d := firstMark; d <= lastMark; d += everyMark {
		in.Distances = append(in.Distances, d)
	}
}

// sightOf places the pin: the eye is taken to stand above the nock.
func sightOf(s notebook.Settings, upward bool) (flight.Sight, []string) {
	sight := flight.Sight{Reach: usualReach, ReachDoubt: usualReachDoubt, EyeAboveNock: usualEye, Upward: upward}
	if !s.SightExt.IsZero() {
		sight.Reach, sight.ReachDoubt = toPivot(s, s.Draw.Length.Value)+riserToPivot+s.SightExt.Value, givenReachDoubt
		return sight, []string{"The eye is taken to stand 11.5 cm above the nock."}
	}
	return sight, []string{"No sight extension given: the pin is taken to stand 90 ± 3 cm from the eye, and the eye 11.5 cm above the nock."}
}

// sightBeside is the sight of a set-up as it stands on a bow whose sight is
// known from another: an extension that only the other notes is taken to be
// the same, and without any the pin moves away from the eye as the draw does.
func sightBeside(other, s notebook.Settings, upward bool) flight.Sight {
	if s.SightExt.IsZero() {
		s.SightExt = other.SightExt
	}
	sight, _ := sightOf(s, upward)
	if s.SightExt.IsZero() {
		sight.Reach += toPivot(s, s.Draw.Length.Value) - toPivot(other, other.Draw.Length.Value)
	}
	return sight
}

// pinCarried is the elevation that a sight left alone gives when its pin stands
// farther from the eye: the pin keeps its height, so that R tan δ stays (eq. 9
// of docs/theory/flight.md). elevation is the arrow's over the line from the
// nock to the target, δ from the eye's line of sight.
func pinCarried(elevation unit.Angle, distance, reach, farther unit.Length) unit.Angle {
	sight := math.Atan(float64(usualEye / distance))
	drop := math.Tan(float64(elevation) + sight)
	return unit.Angle(math.Atan(drop*float64(reach/(reach+farther))) - sight)
}

// table predicts every distance.
func (in SightMarks) table(ctx context.Context, m *flight.Marks, notes []string) (SightTable, error) {
	out := SightTable{
		Speed: float64(m.Speed), SpeedDoubt: float64(m.SpeedDoubt), Drag: m.Drag, DragDoubt: m.DragDoubt,
		Correlation: m.Correlation, Misfit: m.Misfit, Upward: in.Upward, Warnings: append(append([]string{}, m.Warnings...), notes...),
	}
	for _, d := range in.Distances {
		if err := ctx.Err(); err != nil {
			return SightTable{}, err
		}
		line, err := in.line(m, d)
		var short *flight.InputError
		if errors.As(err, &short) && short.Field == "distance" {
			out.Warnings = append(out.Warnings, fmt.Sprintf("%.0f m is left out: %s.", float64(d), short.Problem))
			continue
		}
		if err != nil {
			return SightTable{}, understandMarks(err)
		}
		out.Lines = append(out.Lines, line)
	}
	return out, nil
}

// line adds the air's doubt to the fit's: both are independent.
func (in SightMarks) line(m *flight.Marks, d unit.Length) (SightLine, error) {
	p, err := m.Predict(d, 0, in.TableAir)
	if err != nil {
		return SightLine{}, err
	}
	air := 0.0
	for _, change := range []func(a *flight.Air){
		func(a *flight.Air) { a.Temperature += in.TemperatureDoubt },
		func(a *flight.Air) { a.Pressure += in.PressureDoubt },
	} {
		other := in.TableAir
		change(&other)
		q, err := m.Predict(d, 0, other)
		if err != nil {
			return SightLine{}, err
		}
		off := float64(q.Reading - p.Reading)
		air += off * off
	}
	air = z90 * math.Sqrt(air)
	half := math.Hypot(float64(p.High-p.Low)/2, air)
	value := float64(p.Reading)
	return SightLine{
		Distance: float64(d), Reading: value, Interval: Span{value - half, value + half}, FromAir: air,
		Beyond: p.Beyond, Time: float64(p.Time), Speed: float64(p.Speed),
	}, nil
}

// understandMarks puts the fit's refusal into the notebook's words.
func understandMarks(err error) error {
	var from *flight.InputError
	if errors.As(err, &from) {
		return &notebook.Error{Code: notebook.Invalid, Field: "/" + from.Field, Message: from.Problem, Hint: from.Try, Cause: err}
	}
	return err
}

// ReadMarks reads a table of marks: one a line, distance and reading, with or
// without units ("30 m, 45 mm"; bare numbers are in the unit that the first line
// names, else metres and millimetres). A first line of words may stand above,
// lines that begin with # are skipped, and cells stand apart by commas,
// semicolons or tabs.
func ReadMarks(r io.Reader) ([]flight.Mark, error) {
	c, err := group.OpenTable(r)
	if err != nil {
		return nil, understandGroup(err)
	}
	c.Comment = '#'
	var marks []flight.Mark
	var problems notebook.Problems
	units := []string{"m", "mm"}
	for first := true; ; first = false {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			return marks, problems.OrNil()
		}
		if err != nil {
			return nil, &notebook.Error{Code: notebook.Invalid, Message: "the marks cannot be read: " + err.Error(), Hint: "one mark a line, like 30 m, 45 mm", Cause: err}
		}
		line, _ := c.FieldPos(0)
		row = filled(row)
		if len(row) == 0 {
			continue
		}
		if first && !strings.ContainsAny(strings.Join(row, ""), "0123456789") {
			units = unitsIn(row, units)
			continue
		}
		mark, err := readMark(row, units)
		if err != nil {
			problems = append(problems, notebook.Error{
				Code: notebook.Invalid, Field: fmt.Sprintf("/line %d", line), Message: fmt.Sprintf("%q is no mark: %v", strings.Join(row, ", "), err), Hint: "distance and reading, like 30 m, 45 mm",
			})
			continue
		}
		marks = append(marks, mark)
	}
}

// filled leaves out the empty cells that a spreadsheet writes behind a line.
func filled(row []string) []string {
	for len(row) > 0 && strings.TrimSpace(row[len(row)-1]) == "" {
		row = row[:len(row)-1]
	}
	return row
}

// unitsIn are the units that the first line of a table names: distance_yd,
// "mark (in)".
func unitsIn(head, usual []string) []string {
	out := slices.Clone(usual)
	for i, cell := range head[:min(len(head), len(out))] {
		for _, word := range strings.FieldsFunc(cell, func(r rune) bool { return !unicode.IsLetter(r) }) {
			if _, err := unit.ParseLength("1 " + word); err == nil {
				out[i] = word
			}
		}
	}
	return out
}

func readMark(row, units []string) (flight.Mark, error) {
	if len(row) != 2 {
		return flight.Mark{}, fmt.Errorf("it has %d entries, not two; a comma inside a number needs semicolons between the cells", len(row))
	}
	var of [2]unit.Length
	for i, text := range row {
		text = strings.TrimSpace(text)
		if _, err := unit.ParseNumber(text); err == nil {
			text += " " + units[i]
		}
		var err error
		if of[i], err = unit.ParseLength(text); err != nil {
			return flight.Mark{}, unit.For([]string{"distance", "mark"}[i], err)
		}
	}
	return flight.Mark{Distance: of[0], Reading: of[1]}, nil
}
