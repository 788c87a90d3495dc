package workbench

import (
	"math"

	"tautline/trial"
	"tautline/unit"
)

// Progress is what a trial under way has taught about its own string.
type Progress struct {
	// Expected is, for every stop of the plan, the brace height that the
	// square should show there, learnt from the other stops measured so far.
	Expected []trial.Estimate[unit.Length]
	// Questions are friendly questions at stops whose brace height and turns
	// disagree, by the stop's position in the plan. Nothing is refused.
	Questions map[int]trial.Question
}

// Learn follows a trial: the plan's curve of brace height against turns,
// rescaled to what was read. A stop is judged by the readings of the others,
// so that a slip cannot vouch for itself.
func Learn(p BracePlan, records []StopRecord) (Progress, error) {
	curve, err := trial.TwistTable(p.Curve)
	if err != nil {
		return Progress{}, understand(err)
	}
	out := Progress{Questions: map[int]trial.Question{}}
	for i, stop := range p.Plan.Stops {
		learnt, err := trial.Learn(curve, turnReadings(p, records, i))
		if err != nil {
			return Progress{}, understand(err)
		}
		out.Expected = append(out.Expected, learnt(stop.FromNow))
		if q := question(p, records, i, learnt); q != nil {
			out.Questions[i] = *q
		}
	}
	return out, nil
}

// turnReadings are the measured stops but one, as turns against brace height.
func turnReadings(p BracePlan, records []StopRecord, except int) (out []trial.TurnReading) {
	for _, r := range records {
		if h, ok := r.height(); ok && r.Stop != except {
			out = append(out, trial.TurnReading{
				Turns: turnsAt(p, records, r.Stop), Brace: h, SD: trial.ReadingSD / unit.Length(math.Sqrt(float64(len(r.Braces)))),
			})
		}
	}
	return out
}

// turnsAt are the turns at a stop since the trial's start: as noted, else as
// planned.
func turnsAt(p BracePlan, records []StopRecord, stop int) float64 {
	for _, r := range records {
		if r.Stop == stop && r.Turns != nil {
			return *r.Turns
		}
	}
	return p.Plan.Stops[stop].FromNow
}

func question(p BracePlan, records []StopRecord, stop int, curve trial.TwistCurve) *trial.Question {
	for _, r := range records {
		h, ok := r.height()
		if r.Stop != stop || !ok {
			continue
		}
		before := 0.0
		if stop > 0 {
			before = turnsAt(p, records, stop-1)
		}
		return trial.CheckStop(trial.StopCheck{
			Curve: curve, Before: before, Turns: turnsAt(p, records, stop), Brace: h,
			SD: trial.ReadingSD / unit.Length(math.Sqrt(float64(len(r.Braces)))),
		})
	}
	return nil
}
