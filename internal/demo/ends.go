package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// evening is one invented visit to the field: so many ends of six arrows with
// one set-up.
type evening struct {
	setup    notebook.ID
	day      int // after start
	distance string
	face     string
	sigma    float64 // m, one axis
	ends     int
	bare     bool // two ends of three bare shafts more
}

// evenings plots ends on both set-ups of the first bow. The group of the
// second is a little tighter, and number 5 flies out with both; whether that
// can be told is what the pages are about.
func (w *writer) evenings(bow, first, second notebook.ID) error {
	rng := rand.New(rand.NewPCG(20260307, 5))
	for _, e := range []evening{
		{first, 2, "70 m", "122", 0.105, 6, false}, {first, 9, "70 m", "122", 0.105, 6, false},
		{second, 16, "18 m", "40", 0.028, 4, true}, {second, 18, "70 m", "122", 0.09, 6, false}, {second, 24, "70 m", "122", 0.09, 6, false},
	} {
		if err := w.evening(bow, e, rng); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) evening(bow notebook.ID, e evening, rng *rand.Rand) error {
	w.at = start.AddDate(0, 0, e.day).Add(8 * time.Hour)
	session := notebook.Session{Stamp: w.stamp(), Bow: bow, Place: "club field, lane 4"}
	if err := put(w, w.book.Sessions(), session); err != nil {
		return err
	}
	distance, err := unit.Read(e.distance, unit.Reading[unit.Length]{})
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	// The day's own wind and form move the whole evening.
	right, up := 0.2*e.sigma*rng.NormFloat64(), 0.3*e.sigma*rng.NormFloat64()
	for n := 1; n <= e.ends; n++ {
		w.at = w.at.Add(6 * time.Minute)
		end := notebook.End{Stamp: w.stamp(), Bow: bow, SetUp: e.setup, Session: session.ID, Number: n, Distance: notebook.Length{Typed: distance}, Face: e.face}
		for arrow := 1; arrow <= 6; arrow++ {
			x, y := right, up
			if arrow == 5 {
				x, y = x+1.2*e.sigma, y-0.8*e.sigma
			}
			end.Impacts = append(end.Impacts, impact(arrow, x+e.sigma*rng.NormFloat64(), y+1.1*e.sigma*rng.NormFloat64(), false))
		}
		if e.bare && n > e.ends-2 {
			for arrow := 7; arrow <= 9; arrow++ {
				end.Impacts = append(end.Impacts, impact(arrow, right-0.04+e.sigma*rng.NormFloat64(), up-0.02+e.sigma*rng.NormFloat64(), true))
			}
		}
		if err := put(w, w.book.Ends(), end); err != nil {
			return err
		}
	}
	return nil
}

// impact is an arrow's place, to the millimetre a thumb can plot.
func impact(arrow int, x, y float64, bare bool) notebook.Impact {
	x, y = math.Round(1000*x)/1000, math.Round(1000*y)/1000
	return notebook.Impact{Arrow: strconv.Itoa(arrow), X: &x, Y: &y, Bare: bare}
}
