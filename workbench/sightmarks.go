package workbench

import (
	"fmt"
	"strconv"
	"strings"

	"tautline/flight"
	"tautline/notebook"
	"tautline/unit"
)

// MarksOf takes the sight marks out of a bow's readings, which come oldest
// first: the last one of each distance counts, corrected ones do not. Marks
// shot with the set-up are preferred; when they are fewer than two, older
// set-ups' marks are taken in and mixed is true.
func MarksOf(readings []notebook.Reading, setup notebook.ID) (marks []flight.Mark, mixed bool) {
	own, any := map[unit.Length]int{}, map[unit.Length]int{}
	var ours, all []flight.Mark
	for _, r := range notebook.Standing(readings) {
		if r.Kind != notebook.ReadSightMark || r.Distance.IsZero() {
			continue
		}
		m := flight.Mark{Distance: r.Distance.Value, Reading: unit.Length(r.Value)}
		all = lastAt(all, any, m)
		if r.SetUp == setup {
			ours = lastAt(ours, own, m)
		}
	}
	if len(ours) >= 2 || len(ours) == len(all) {
		return ours, false
	}
	return all, true
}

// lastAt keeps one mark a distance.
func lastAt(marks []flight.Mark, at map[unit.Length]int, m flight.Mark) []flight.Mark {
	if i, ok := at[m.Distance]; ok {
		marks[i] = m
		return marks
	}
	at[m.Distance] = len(marks)
	return append(marks, m)
}

// UpwardScale reports whether a sight's numbers grow upward, from its own
// marks: the pin stands lower for a longer distance.
func UpwardScale(marks []flight.Mark) bool {
	if len(marks) == 0 {
		return false
	}
	near, far := marks[0], marks[0]
	for _, m := range marks {
		if m.Distance < near.Distance {
			near = m
		}
		if m.Distance > far.Distance {
			far = m
		}
	}
	return far.Reading < near.Reading
}

// ReadAir reads the day's air as people say it: "28 °C, 1005 hPa, 60 %", in any
// order, what is left out as in the standard air.
func ReadAir(text string) (flight.Air, error) {
	air := flight.StandardAir()
	for part := range strings.SplitSeq(text, ",") {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		if share, ok := strings.CutSuffix(part, "%"); ok {
			h, err := strconv.ParseFloat(strings.TrimSpace(share), 64)
			if err != nil {
				return air, badAir(part)
			}
			air.Humidity = h / 100
			continue
		}
		if t, err := unit.ParseTemperature(part); err == nil {
			air.Temperature = t
			continue
		}
		p, err := unit.ParsePressure(part)
		if err != nil {
			return air, badAir(part)
		}
		air.Pressure = p
	}
	return air, understandMarks(air.Validate())
}

func badAir(part string) error {
	return &notebook.Error{Code: notebook.Invalid, Field: "/air", Message: fmt.Sprintf("%q is no temperature, pressure or humidity", part), Hint: "something like 28 °C, 1005 hPa, 60 %"}
}

// Air is the air of a table or of marks.
type Air = flight.Air

// StandardAir is 15 °C, 1013.25 hPa, half saturated.
func StandardAir() Air { return flight.StandardAir() }

// Add adds a mark that hit.
func (in *SightMarks) Add(distance, reading unit.Length) {
	in.Marks = append(in.Marks, flight.Mark{Distance: distance, Reading: reading})
}
