package workbench

import (
	"context"

	"tautline/notebook"
	"tautline/unit"
)

// Prediction is a Stop as numbers whose names end in their unit: what the
// command line prints with --json and the server answers.
type Prediction struct {
	BraceHeight  float64 `json:"brace_height_m"`
	DrawWeight   float64 `json:"draw_weight_n"`
	StoredEnergy float64 `json:"stored_energy_j"`
	StringLength float64 `json:"string_length_m"`
	BraceTension float64 `json:"string_tension_brace_n"`
	Speed        float64 `json:"speed_mps"`
	Efficiency   float64 `json:"efficiency_ratio"`
	TimeOnString float64 `json:"time_on_string_s"`
	PastBrace    float64 `json:"separation_past_brace_m"`
	LeftBehind   float64 `json:"residual_energy_j"`
	Audit        float64 `json:"energy_audit_ratio"`
	// Interval holds, under the same names, the span of 90 % of the plausible
	// bows.
	Interval map[string]Span `json:"interval_90"`
	// Warnings are sentences about this bow and this prediction.
	Warnings []string `json:"warnings"`
}

// Span is a low and a high end.
type Span [2]float64

func span[T ~float64](e Estimate[T]) Span { return Span{float64(e.Low), float64(e.High)} }

// view turns a stop into numbers.
func view(s Stop, warnings []string) Prediction {
	return Prediction{
		BraceHeight: float64(s.BraceHeight), DrawWeight: float64(s.DrawWeight.Value), StoredEnergy: float64(s.StoredEnergy.Value),
		StringLength: float64(s.StringLength.Value), BraceTension: float64(s.BraceTension.Value), Speed: float64(s.Speed.Value),
		Efficiency: s.Efficiency.Value, TimeOnString: float64(s.TimeOnString.Value), PastBrace: float64(s.PastBrace.Value),
		LeftBehind: float64(s.LeftBehind.Value), Audit: s.Audit,
		Interval: map[string]Span{
			"draw_weight_n": span(s.DrawWeight), "stored_energy_j": span(s.StoredEnergy), "string_length_m": span(s.StringLength),
			"string_tension_brace_n": span(s.BraceTension), "speed_mps": span(s.Speed), "efficiency_ratio": span(s.Efficiency),
			"time_on_string_s": span(s.TimeOnString), "separation_past_brace_m": span(s.PastBrace), "residual_energy_j": span(s.LeftBehind),
		},
		Warnings: append([]string{}, warnings...),
	}
}

// Forecast is everything predicted of one set-up at its own brace height.
type Forecast struct {
	Prediction
	Stop  Stop       `json:"-"`
	Range *RangeView `json:"range,omitempty"`
	// Bows is the number of plausible bows behind the intervals.
	Bows int `json:"bows"`
}

// RangeView is where the brace height stands to the limb maker's range, as
// this riser's square reads it.
type RangeView struct {
	Low  float64 `json:"low_m"`
	High float64 `json:"high_m"`
	Side string  `json:"side"` // below, inside, above
	// Outside is how far outside; inside, minus the distance to the nearer end.
	Outside float64 `json:"outside_m"`
}

// Predict says what a set-up does. It takes about 100 ms; ctx stops it.
func Predict(ctx context.Context, s notebook.Settings) (Forecast, error) {
	in, err := FromSettings(s)
	if err != nil {
		return Forecast{}, err
	}
	model, err := NewBowModel(ctx, in)
	if err != nil {
		return Forecast{}, understand(err)
	}
	at := model.Now()
	sweep, err := model.Sweep(ctx, []unit.Length{at}, at, nil)
	if err != nil {
		return Forecast{}, understand(err)
	}
	f := Forecast{Stop: sweep.Stops[0], Bows: sweep.Bows}
	f.Prediction = view(f.Stop, append(Warnings(s), sweep.Notes...))
	if c, ok := CheckRange(s); ok {
		f.Range = &RangeView{float64(c.OnRiser.Low), float64(c.OnRiser.High), string(c.Side), float64(c.Outside)}
	}
	return f, nil
}
