package workbench

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"tautline/flight"
	"tautline/notebook"
	"tautline/unit"
)

// shotMarks are exact marks of a known arrow, with the sight's geometry
// written out again: pin below the arrow's line where the line of sight
// crosses it.
func shotMarks(t *testing.T, speed unit.Speed, drag float64, air flight.Air, distances ...unit.Length) []flight.Mark {
	t.Helper()
	var marks []flight.Mark
	const reach, eye, origin = 0.9, 0.115, 0.02
	for _, d := range distances {
		p := flight.PointMass{Mass: 332 * unit.Grain, Diameter: 5.6 * unit.Millimetre, Drag: flight.ConstantDrag(drag), Air: air}
		s, err := p.Aim(speed, d, eye)
		if err != nil {
			t.Fatal(err)
		}
		marks = append(marks, flight.Mark{Distance: d, Reading: unit.Length(origin - (eye - reach*math.Tan(float64(s.Elevation))))})
	}
	return marks
}

func sight(t *testing.T, in SightMarks) SightTable {
	t.Helper()
	table, err := Sight(t.Context(), example(t, "heron-70"), in)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

// The table finds marks it was not given, inside its interval, and marks what
// lies beyond the distances that were shot. The arrow's true speed and drag lie
// within the expectation (57 m/s, 1.9), so the interval must hold them.
func TestSightTable(t *testing.T) {
	air := flight.StandardAir()
	table := sight(t, SightMarks{Marks: shotMarks(t, 57, 1.9, air, 18, 30, 50)})
	if len(table.Lines) != 17 {
		t.Fatalf("%d lines, want every 5 m from 10 to 90 m", len(table.Lines))
	}
	for _, l := range table.Lines {
		truth := float64(shotMarks(t, 57, 1.9, air, unit.Length(l.Distance))[0].Reading)
		t.Logf("%2.0f m: %.1f mm [%.1f, %.1f], air ±%.2f, true %.1f, beyond %v", l.Distance, 1e3*l.Reading, 1e3*l.Interval[0], 1e3*l.Interval[1], 1e3*l.FromAir, 1e3*truth, l.Beyond)
		if truth < l.Interval[0] || truth > l.Interval[1] {
			t.Errorf("%.0f m: true mark %.2f mm outside [%.2f, %.2f]", l.Distance, 1e3*truth, 1e3*l.Interval[0], 1e3*l.Interval[1])
		}
		if l.Beyond != (l.Distance < 18 || l.Distance > 50) {
			t.Errorf("%.0f m: beyond %v", l.Distance, l.Beyond)
		}
	}
	near, far := table.Lines[4], table.Lines[16]
	if far.Interval[1]-far.Interval[0] < 2*(near.Interval[1]-near.Interval[0]) {
		t.Errorf("40 m beyond the marks is known as well as between them")
	}
}

// Thin warm air carries further: less elevation, so a smaller number on a
// scale that grows downward. By how much: the point mass with the fitted
// speed and drag, written out, to the geometry's second order.
func TestSightAir(t *testing.T) {
	cold, hot := flight.StandardAir(), flight.StandardAir()
	cold.Temperature, hot.Temperature = 0, 35
	marks := shotMarks(t, 57, 1.9, cold, 18, 30, 50, 70)
	at := func(air flight.Air) float64 {
		return sight(t, SightMarks{Marks: marks, MarksAir: cold, TableAir: air, Distances: []unit.Length{70}}).Lines[0].Reading
	}
	moved := at(hot) - at(cold)
	want := float64(shotMarks(t, 57, 1.9, hot, 70)[0].Reading - shotMarks(t, 57, 1.9, cold, 70)[0].Reading)
	t.Logf("0 to 35 °C moves the 70 m mark by %.2f mm, the true arrow's by %.2f mm", 1e3*moved, 1e3*want)
	// The effect is proportional to the drag, which four marks leave uncertain
	// by a fifth.
	if moved >= 0 || math.Abs(moved/want-1) > 0.2 {
		t.Errorf("0 to 35 °C moves the 70 m mark by %.2f mm, want %.2f", 1e3*moved, 1e3*want)
	}
	sure := sight(t, SightMarks{Marks: marks, TemperatureDoubt: 0.01, PressureDoubt: 1}).Lines[12]
	guess := sight(t, SightMarks{Marks: marks}).Lines[12]
	if guess.FromAir <= sure.FromAir || guess.Interval[1]-guess.Interval[0] <= sure.Interval[1]-sure.Interval[0] {
		t.Errorf("unknown air does not widen the mark")
	}
}

// Marks as people write them, and refusals that name the line.
func TestReadMarks(t *testing.T) {
	marks, err := ReadMarks(strings.NewReader("distance, mark\n# outdoors\n18 m, 21 mm\n30, 35.5\n50 yd, 3 in\n"))
	want := []flight.Mark{{Distance: 18, Reading: 0.021}, {Distance: 30, Reading: 0.0355}, {Distance: 50 * unit.Yard, Reading: 3 * unit.Inch}}
	if err != nil || len(marks) != 3 {
		t.Fatalf("%v, %v", marks, err)
	}
	for i := range want {
		if math.Abs(float64(marks[i].Distance-want[i].Distance)) > 1e-12 || math.Abs(float64(marks[i].Reading-want[i].Reading)) > 1e-12 {
			t.Errorf("line %d: %v, want %v", i, marks[i], want[i])
		}
	}
	_, err = ReadMarks(strings.NewReader("18, 21\nfar, 12 mm\n30\n"))
	var problems notebook.Problems
	if !errors.As(err, &problems) || len(problems) != 2 || problems[0].Field != "/line 2" || problems[1].Field != "/line 3" {
		t.Errorf("two wrong lines give %v", err)
	}
	_, err = Sight(t.Context(), example(t, "heron-70"), SightMarks{Marks: []flight.Mark{{Distance: 30, Reading: 0.03}}})
	var refused *notebook.Error
	if !errors.As(err, &refused) || refused.Field != "/marks" {
		t.Errorf("one mark gives %v", err)
	}
}

// Marks come out of the notebook: the last of each distance, corrected ones
// not, the set-up's own first.
func TestMarksOfReadings(t *testing.T) {
	at := func(id, setup notebook.ID, d unit.Length, v float64, corrects notebook.ID) notebook.Reading {
		r := notebook.Reading{SetUp: setup, Kind: notebook.ReadSightMark, Value: v, Corrects: corrects}
		r.ID, r.Distance.Value, r.Distance.Text = id, d, "typed"
		return r
	}
	old := []notebook.Reading{at("a", "one", 18, 0.010, ""), at("b", "one", 30, 0.020, ""), at("c", "one", 50, 0.99, ""), at("d", "one", 50, 0.040, "c")}
	marks, mixed := MarksOf(old, "one")
	if want := []flight.Mark{{Distance: 18, Reading: 0.010}, {Distance: 30, Reading: 0.020}, {Distance: 50, Reading: 0.040}}; mixed || !reflect.DeepEqual(marks, want) {
		t.Errorf("%v, mixed %v", marks, mixed)
	}
	newer := append(old, at("e", "two", 30, 0.022, ""))
	if marks, mixed = MarksOf(newer, "two"); !mixed || len(marks) != 3 || marks[1].Reading != 0.022 {
		t.Errorf("one mark of the new set-up: %v, mixed %v", marks, mixed)
	}
	newer = append(newer, at("f", "two", 50, 0.044, ""))
	if marks, mixed = MarksOf(newer, "two"); mixed || len(marks) != 2 {
		t.Errorf("two marks of the new set-up: %v, mixed %v", marks, mixed)
	}
	if UpwardScale(marks) || !UpwardScale([]flight.Mark{{Distance: 50, Reading: 0.01}, {Distance: 18, Reading: 0.05}}) {
		t.Error("the scale's direction is read wrongly")
	}
}

// The day's air as people say it.
func TestReadAir(t *testing.T) {
	for text, want := range map[string]flight.Air{
		"":                        flight.StandardAir(),
		"28 °C":                   {Temperature: 28, Pressure: 101325, Humidity: 0.5},
		"60 %, 850 hPa, 82.4 °F,": {Temperature: 28, Pressure: 85000, Humidity: 0.6},
	} {
		got, err := ReadAir(text)
		if err != nil || math.Abs(float64(got.Temperature-want.Temperature)) > 1e-9 || got.Pressure != want.Pressure || got.Humidity != want.Humidity {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{"windy", "28", "x %", "95 °C"} {
		var refused *notebook.Error
		if _, err := ReadAir(text); !errors.As(err, &refused) || refused.Hint == "" {
			t.Errorf("%q gives %v", text, err)
		}
	}
}
