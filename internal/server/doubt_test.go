package server_test

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

// estimates are the numbers in answers that are no counts, settings or places
// on a scale, by the names under which they stand alone, with what stands beside
// each and carries its doubt (U17: no bare number). "" marks one that is itself
// a share, a chance or a test's measure: the doubt, not the doubted.
var estimates = map[string]string{
	"r50_m": "sigma_long_run_m", "r90_m": "sigma_long_run_m", "mean_radius_m": "sigma_m", "mean_radius_expected_m": "sigma_m",
	"extreme_spread_m": "sigma_m", "extreme_spread_expected_m": "sigma_m", "circle_p": "",
	"slope_per_cm": "slope_low", "mean": "sd", "prior_value": "prior_sd",
	"draw_weight_n": "interval_90", "efficiency_ratio": "interval_90", "residual_energy_j": "interval_90", "stored_energy_j": "interval_90",
	"separation_past_brace_m": "interval_90", "speed_mps": "interval_90", "string_length_m": "interval_90",
	"string_tension_brace_n": "interval_90", "time_on_string_s": "interval_90",
	"agree_ratio": "", "retuned_ratio": "", "near_share_ratio": "", "obey_ratio": "", "window_share_ratio": "", "p": "", "p_value": "", "smallest_p": "",
	"probability_a_tighter": "", "evidence": "", "success_ratio": "", "sure_ratio": "", "learnt_share": "", "left_share": "", "off_sd": "",
	"expected_drop_ratio": "", "energy_audit_ratio": "", "ghosts_over_linear_ratio": "", "speed_drag_correlation": "", "shown_by_72_arrows_percent": "", "size_ratio": "",
	"chance_flags_per_72": "", "evidence_ratio": "", "degrees_of_freedom": "",
}

// Every estimate in the answers of the story comes with both ends of its
// interval around it, or says in words that there is none to give; a number
// with one of the endings in measuring that nobody has looked at fails.
func TestEveryEstimateHasItsDoubt(t *testing.T) {
	raw, err := os.ReadFile("examples.json")
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]struct{ Answer json.RawMessage }
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	d := doubts{t: t}
	for op, e := range all {
		var answer any
		if len(e.Answer) > 0 && json.Unmarshal(e.Answer, &answer) == nil {
			d.walk(op, answer)
		}
	}
	if d.doubted < 100 || d.beside < 20 {
		t.Errorf("only %d intervals and %d numbers with their doubt beside were seen: the answers are not walked", d.doubted, d.beside)
	}
	t.Logf("%d intervals, %d estimates with their doubt beside", d.doubted, d.beside)
}

type doubts struct {
	t               *testing.T
	doubted, beside int
}

func (d *doubts) walk(at string, v any) {
	switch v := v.(type) {
	case []any:
		for _, one := range v {
			d.walk(at, one)
		}
	case map[string]any:
		if _, isPicture := v["series"]; isPicture {
			return // its bands are drawn: TestPictures
		}
		d.interval(at, v)
		for name, one := range v {
			if _, number := one.(float64); number {
				d.number(at, name, v)
				continue
			}
			d.walk(at+"/"+name, one)
		}
	}
}

// interval holds a value against its ends.
func (d *doubts) interval(at string, v map[string]any) {
	low, hasLow := v["low"]
	high, hasHigh := v["high"]
	if hasLow != hasHigh {
		d.t.Errorf("%s: one end of an interval without the other: %v", at, v)
	}
	if words, said := v["doubt"]; said && words == "" {
		d.t.Errorf("%s: a doubt without words: %v", at, v)
	}
	if !hasLow || !hasHigh {
		return
	}
	value, named := v["si"]
	if !named {
		value, named = v["value"]
	}
	number, isNumber := value.(float64)
	if !named || value != nil && !isNumber {
		return // a span, such as a limb maker's range
	}
	d.doubted++
	l, okLow := low.(float64)
	h, okHigh := high.(float64)
	switch {
	case isNumber && okLow && okHigh:
		if slack := 1e-9 + 0.002*(h-l); number < l-slack || number > h+slack {
			d.t.Errorf("%s: %v lies outside %v to %v", at, number, l, h)
		}
	case isNumber && v["doubt"] == nil && v["why"] == nil && v["text"] == nil:
		d.t.Errorf("%s: a value without an interval or a word why: %v", at, v)
	}
}

// units at the end of a name say that a number measures something of a bow or a
// shot. Lengths, times and levels (_m, _s, _db) are not among them: most are
// typed, or places of a picture.
var measuring = []string{"_mps", "_n", "_j", "_ratio", "_percent", "_p", "probability"}

// number demands the doubt beside a number that stands alone.
func (d *doubts) number(at, name string, v map[string]any) {
	carries, known := estimates[name]
	if !known {
		for _, end := range measuring {
			if strings.HasSuffix(name, end) && !strings.HasPrefix(name, "share") {
				d.t.Errorf("%s: %s = %v: is it an estimate? Say in doubt_test.go what carries its doubt", at, name, v[name])
			}
		}
		return
	}
	if carries == "" {
		return
	}
	if _, beside := v[carries]; !beside {
		d.t.Errorf("%s: %s stands without %s", at, name, carries)
		return
	}
	d.beside++
}
