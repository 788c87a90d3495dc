package server_test

import (
	"math"
	"testing"
	"time"
)

// TestForgiveness asks what two brace heights forgive: the sources add up in
// squares to the whole, what was given is not called assumed, and nothing is
// named of which the two models of the string do not agree.
func TestForgiveness(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	r := s.do("POST", "/api/v1/forgiveness", obj{"setup": setup, "from": "21.5 cm", "to": "22.5 cm", "group": "20 cm", "repeatability": obj{"draw_length": "2 mm", "bow_torque_nm": 0.04, "spine": "5"}}).want(200)
	rows := r.at("rows").([]any)
	for _, row := range rows {
		sum := 0.0
		for _, part := range row.(obj)["by_source"].(obj) {
			sum += math.Pow(part.(obj)["si"].(float64), 2)
		}
		whole := row.(obj)["sideways"].(obj)
		if math.Abs(math.Sqrt(sum)-whole["si"].(float64)) > 1e-9 || !(whole["low"].(float64) <= whole["high"].(float64)) {
			t.Errorf("the sources make %g of %v", math.Sqrt(sum), whole)
		}
	}
	if first, last := rows[0].(obj)["at"].(obj), rows[len(rows)-1].(obj)["at"].(obj); first["text"] != "215 mm" || last["text"] != "225 mm" {
		t.Errorf("from %v to %v", first, last)
	}
	for _, source := range r.at("sources").([]any) {
		v := source.(obj)
		given := map[any]string{"draw_length": "2.0 mm", "bow_torque": "0.04 N m", "spine": "5.0 thou"}[v["name"]]
		if v["assumed"] != (given == "") || given != "" && v["text"] != given {
			t.Errorf("%v", v)
		}
	}
	for _, c := range r.at("changes").([]any) {
		if c.(obj)["sentence"] == "" || c.(obj)["sign"] != 0.0 && c.(obj)["agree_ratio"].(float64) < 0.8 {
			t.Errorf("%v", c)
		}
	}
	for _, line := range r.at("figures/0/series").([]any) {
		low, high := line.(obj)["low"].([]any), line.(obj)["y"].([]any)
		for i := range low {
			if !(low[i].(float64) <= high[i].(float64)) {
				t.Errorf("a band of the stack stands on its head: %v", line)
			}
		}
	}
	// Heights are given, or why not.
	_, tall := rows[0].(obj)["height"]
	if r.at("summary") == "" || r.at("unexplained/si").(float64) <= 0 || tall == (r.at("vertical_reason") != "") {
		t.Errorf("%.400s", r.body)
	}
}

// TestForgivenessOver looks at the button and the arrow instead, in turns and
// spines.
func TestForgivenessOver(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	button := s.do("POST", "/api/v1/forgiveness", obj{"setup": setup, "over": "button", "from_turns": -1, "to_turns": 1.5}).want(200)
	if button.at("rows/0/at/text") != "-1 turns" || button.at("rows/6/at/text") != "+1.5 turns" || button.at("figures/0/marks/0/at") != 0.0 {
		t.Errorf("%v … %v", button.at("rows/0/at"), button.at("rows/6/at"))
	}
	arrow := s.do("POST", "/api/v1/forgiveness", obj{"setup": setup, "over": "arrow", "to_spine": "550"}).want(200)
	if arrow.at("over") != "arrow" || arrow.at("figures/0/marks/0/at") != 600.0 {
		t.Errorf("%.300s", arrow.body)
	}
}

func TestForgivenessRefuses(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	for field, body := range map[string]obj{
		"/from":                         {"setup": setup, "from": "2.2 cm"},
		"/over":                         {"setup": setup, "over": "moon"},
		"/from_turns":                   {"setup": setup, "over": "button", "from_turns": 40},
		"/group":                        {"setup": setup, "group": "wide"},
		"/repeatability/arm_rate_radps": {"setup": setup, "repeatability": obj{"arm_rate_radps": -1}},
		"/repeatability/draw_length":    {"setup": setup, "repeatability": obj{"draw_length": "-2 mm"}},
		"/repeatability/aiming":         {"setup": setup, "repeatability": obj{"aiming": "1 mrad"}},
	} {
		if r := s.do("POST", "/api/v1/forgiveness", body).want(422); r.at("errors/0/field") != field || r.at("errors/0/hint") == "" {
			t.Errorf("%s: %s", field, r.body)
		}
	}
}

// TestShafts lists shafts to borrow, in the person's units, with their doubt
// and the cautions; nothing is below the maker's least mass.
func TestShafts(t *testing.T) {
	s := open(t)
	own := settings()
	own["arrow"] = obj{"mass": "330 gr", "spine": "600", "minimum_mass": "300 gr"}
	r := s.do("POST", "/api/v1/shafts", obj{"settings": own, "count": 4, "reach": "30 mm"}).want(200)
	list := r.at("shafts").([]any)
	if len(list) == 0 || len(list) > 4 || r.at("fitted") != false || r.at("advice") == "" || len(r.at("cautions").([]any)) < 3 {
		t.Fatalf("%.400s", r.body)
	}
	for _, x := range list {
		v := x.(obj)
		bare := v["bare_minus_fletched"].(obj)
		if !(bare["low"].(float64) < bare["high"].(float64)) || v["past_rest"].(obj)["si"].(float64) < 0.0299 || v["arrow_mass"].(obj)["si"].(float64) < 300*6.479891e-5 {
			t.Errorf("%v", v)
		}
	}
	if r := s.do("POST", "/api/v1/shafts", obj{"settings": own, "count": 40}).want(422); r.at("errors/0/field") != "/count" {
		t.Errorf("%s", r.body)
	}
}

// TestWork watches a long calculation under an id of the watcher's own, and
// leaves nothing behind.
func TestWork(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	work, done := id(), make(chan struct{})
	go func() {
		defer close(done)
		s.do("POST", "/api/v1/forgiveness", obj{"setup": setup, "work": work})
	}()
	seen := false
	for running := true; running; {
		select {
		case <-done:
			running = false
		case <-time.After(10 * time.Millisecond):
			v := s.do("GET", "/api/v1/work/"+work, nil).want(200)
			seen = seen || v.at("running") == true
		}
	}
	if !seen {
		t.Error("it was never seen running")
	}
	if v := s.do("GET", "/api/v1/work/"+work, nil).want(200); v.at("running") != false {
		t.Errorf("after its end: %s", v.body)
	}
}
