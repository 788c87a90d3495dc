package trial

import (
	"fmt"
	"math"
	"slices"

	"tautline/unit"
)

// Measure names a quantity recorded for each shot of a brace-height trial.
type Measure string

const (
	Level      Measure = "level_db"       // A-weighted exposure of the release, dB relative to the session
	LateEnergy Measure = "late_energy_db" // energy ringing on, dB relative to the session
	Attack     Measure = "attack_ms"      // 10–90 % rise of the release sound
	Speed      Measure = "speed_mps"      // arrow speed
	Feel       Measure = "feel"           // 1 harsh … 5 sweet; shown, never tested
)

// measureInfo says how a measure is read. settled is the sign of a settled
// departure: −1 where less is settled. lively likewise; 0: that departure
// means nothing.
type measureInfo struct {
	name, unit      string
	settled, lively float64
	tested          bool
	falling, rising string // the trend in words, with rising brace height
	// one setting against another in words: it verb "2 dB" more than the other
	verb, more, less string
}

var measures = []Measure{Level, LateEnergy, Attack, Speed, Feel}

var infoOf = map[Measure]measureInfo{
	Level:      {"level", "dB", -1, +1, true, "quieter all the way up", "louder all the way up", "is", "louder", "quieter"},
	LateEnergy: {"late energy", "dB", -1, +1, true, "rings on less all the way up", "rings on more all the way up", "rings on", "more", "less"},
	Attack:     {"attack", "ms", +1, -1, true, "a sharper attack all the way up", "a softer attack all the way up", "has an attack", "softer", "sharper"},
	Speed:      {"speed", "m/s", 0, +1, true, "slower all the way up", "faster all the way up", "is", "faster", "slower"},
	Feel:       {"feel", "of 5", +1, 0, false, "feels worse all the way up", "feels better all the way up", "feels", "better", "worse"},
}

// Name is the measure's name in a sentence; Unit its unit as printed.
func (m Measure) Name() string { return infoOf[m].name }

// Unit is the unit a value of this measure is printed in.
func (m Measure) Unit() string { return infoOf[m].unit }

// BraceShot is one shot at a stop. A measure missing from Values was not taken.
type BraceShot struct {
	Settling bool                // shot to let the string settle: kept, not counted
	Values   map[Measure]float64 // units as in the measure's name
}

// BraceVisit is one visit to a stop. Visits stand in shooting order; two
// visits with the same Stop are repeats of one setting.
type BraceVisit struct {
	Stop   int           // the plan's stop number
	Braces []unit.Length // repeat readings on the square, at least one
	Shots  []BraceShot   // may be empty
}

// Scatter is the standard deviation of one shot known from elsewhere (the same
// bow, phone and place), with its degrees of freedom.
type Scatter struct{ SD, DF float64 }

// BraceReadings is everything measured in a brace-height trial.
type BraceReadings struct {
	Visits []BraceVisit
	Prior  map[Measure]Scatter // scatter of one shot from earlier sessions; optional
	Alpha  float64             // chance of a false spot in the whole trial, default 0.05
	Seed   uint64              // of the simulated null distribution
	Order  Order               `json:",omitempty"` // ABBA: two stops are compared, not searched; else optional
}

// stop gathers the visits to one setting.
type stop struct {
	number int
	brace  Estimate[unit.Length]
	visits []int // indices into Visits
}

func (r BraceReadings) check() error {
	if len(r.Visits) == 0 {
		return bad("visits", "record the brace height of at least one stop", "nothing was recorded yet")
	}
	if r.Alpha < 0 || r.Alpha > 0.5 {
		return bad("alpha", "0.05 is usual", "%g is not a chance of a false alarm", r.Alpha)
	}
	for i, v := range r.Visits {
		field := fmt.Sprintf("visit %d (stop %d)", i+1, v.Stop)
		if len(v.Braces) == 0 {
			return bad(field, "measure it with the square, such as 215 mm", "the brace height is missing")
		}
		for _, b := range v.Braces {
			if !unit.BraceHeight.Holds(b) {
				return bad(field, "check the unit; a brace height looks like 215 mm or 8 1/2 in", "a brace height of %s is outside %s to %s",
					mm(b), mm(unit.BraceHeight.Low), mm(unit.BraceHeight.High))
			}
		}
		for j, s := range v.Shots {
			for m, x := range s.Values {
				if _, known := infoOf[m]; !known {
					return bad(fmt.Sprintf("%s, shot %d", field, j+1), "use one of level_db, late_energy_db, attack_ms, speed_mps, feel", "%q is not a measure", m)
				}
				if math.IsNaN(x) || math.IsInf(x, 0) {
					return bad(fmt.Sprintf("%s, shot %d, %s", field, j+1, m.Name()), "leave out what could not be measured", "the value is not a number")
				}
			}
		}
	}
	return nil
}

// stops gathers visits by stop and sorts them by brace height. Stops closer
// than a quarter of the usual step (or 0.2 mm) are one setting.
func (r BraceReadings) stops() []stop {
	byNumber := map[int]*stop{}
	var list []*stop
	for i, v := range r.Visits {
		s := byNumber[v.Stop]
		if s == nil {
			s = &stop{number: v.Stop}
			byNumber[v.Stop] = s
			list = append(list, s)
		}
		s.visits = append(s.visits, i)
	}
	for _, s := range list {
		s.brace = r.braceOf(s.visits)
	}
	slices.SortStableFunc(list, func(a, b *stop) int { return compare(float64(a.brace.Value), float64(b.brace.Value)) })
	var out []stop
	near := r.nearness(list)
	for _, s := range list {
		if n := len(out); n > 0 && s.brace.Value-out[n-1].brace.Value < near {
			out[n-1].visits = append(out[n-1].visits, s.visits...)
			slices.Sort(out[n-1].visits)
			out[n-1].brace = r.braceOf(out[n-1].visits)
			continue
		}
		out = append(out, *s)
	}
	return out
}

func (r BraceReadings) nearness(list []*stop) unit.Length {
	if len(list) < 2 {
		return 0
	}
	span := list[len(list)-1].brace.Value - list[0].brace.Value
	return max(0.0002, span/unit.Length(len(list)-1)/4)
}

// braceOf is the mean of the readings of some visits; a single reading has the
// usual doubt of a square, several have it reduced by averaging.
func (r BraceReadings) braceOf(visits []int) Estimate[unit.Length] {
	sum, n := 0.0, 0.0
	for _, i := range visits {
		for _, b := range r.Visits[i].Braces {
			sum, n = sum+float64(b), n+1
		}
	}
	return around(unit.Length(sum/n), unit.Length(1.96*float64(ReadingSD)/math.Sqrt(n)))
}

// values returns the counted values of a measure at one visit, in order.
func (v BraceVisit) values(m Measure) []float64 {
	var out []float64
	for _, s := range v.Shots {
		if x, ok := s.Values[m]; ok && !s.Settling {
			out = append(out, x)
		}
	}
	return out
}

// counted is the number of arrows that are not settling shots. Values of one
// arrow may stand in separate records (its speed was typed later), so the
// measure with the most values counts, and every record without a value.
func (v BraceVisit) counted() int {
	blank, most := 0, 0
	perMeasure := map[Measure]int{}
	for _, s := range v.Shots {
		if s.Settling {
			continue
		}
		if len(s.Values) == 0 {
			blank++
		}
		for m := range s.Values {
			perMeasure[m]++
			most = max(most, perMeasure[m])
		}
	}
	return blank + most
}

// settling is the number of settling shots.
func (v BraceVisit) settling() int {
	n := 0
	for _, s := range v.Shots {
		if s.Settling {
			n++
		}
	}
	return n
}
