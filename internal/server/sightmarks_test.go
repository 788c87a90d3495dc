package server_test

import (
	"strings"
	"testing"
)

// TestSightMarks makes the same table of marks as rows, as a table of text and
// as readings of the bow; it passes through the marks within its doubt, says
// which distances are extrapolated, and moves with the air: warmer, thinner air
// drags less, so that the pin stands higher, at a smaller number, far out.
func TestSightMarks(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	rows := []obj{{"distance": "18 m", "reading": "12.5 mm"}, {"distance": "30 m", "reading": "23,4 mm"}, {"distance": "50 m", "reading": "45.1 mm"}}
	typed := s.do("POST", "/api/v1/sightmarks", obj{"setup": setup, "marks": rows}).want(200)
	csv := s.do("POST", "/api/v1/sightmarks", obj{"setup": setup, "csv": "distance, mark\n18 m, 12.5 mm\n30, 23.4\n50 m, 45.1 mm\n"}).want(200)
	for _, m := range rows {
		s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "sight_mark", "distance": m["distance"], "text": m["reading"]}).want(201)
	}
	kept := s.do("POST", "/api/v1/sightmarks", obj{"setup": setup}).want(200)
	for _, other := range []reply{csv, kept} {
		if other.at("lines/16/mark/si") != typed.at("lines/16/mark/si") {
			t.Errorf("%v or %v at 90 m", typed.at("lines/16/mark"), other.at("lines/16/mark"))
		}
	}
	if kept.at("card") != "/sheets/marks/"+setup+".pdf" || typed.tree()["card"] != nil {
		t.Error("the card is offered for marks that are not kept, or not for those that are")
	}
	for _, line := range typed.at("lines").([]any) {
		v := line.(obj)
		d, mark := v["distance"].(obj)["si"].(float64), v["mark"].(obj)
		if v["beyond_marks"] != (d < 18 || d > 50) || !(mark["low"].(float64) < mark["high"].(float64)) {
			t.Errorf("%v", v)
		}
		if d == 30 && !(mark["low"].(float64) < 0.0234 && 0.0234 < mark["high"].(float64)) {
			t.Errorf("shot at 23.4 mm, computed %v", mark)
		}
	}
	warm := s.do("POST", "/api/v1/sightmarks", obj{"setup": setup, "air": obj{"temperature": "35 °C", "pressure": "850 hPa", "humidity": "60 %"}}).want(200)
	if a, b := warm.at("lines/16/mark/si").(float64), kept.at("lines/16/mark/si").(float64); !(a < b) || warm.at("air") != "35 °C, 850 hPa, 60 %" {
		t.Errorf("at 90 m %g in thin air, %g in the standard air", a, b)
	}
}

func TestSightMarksRefuses(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	two := []obj{{"distance": "18 m", "reading": "12.5 mm"}, {"distance": "50 m", "reading": "45.1 mm"}}
	for field, body := range map[string]obj{
		"/marks":           {"setup": setup},
		"/marks/1/reading": {"setup": setup, "marks": []obj{two[0], {"distance": "50 m", "reading": "far down"}}},
		"/air/temperature": {"setup": setup, "marks": two, "air": obj{"temperature": "95 °C"}},
		"/air/humidity":    {"setup": setup, "marks": two, "air": obj{"humidity": "damp"}},
		"/air/pressure":    {"setup": setup, "marks": two, "air": obj{"pressure": "29 hPa"}},
		"/line 2":          {"setup": setup, "csv": "18 m, 12.5 mm\n50 m; 45.1 mm; low\n"},
	} {
		r := s.do("POST", "/api/v1/sightmarks", body).want(422)
		if got := r.at("errors/0/field").(string); !strings.HasPrefix(got, field) || r.at("errors/0/hint") == "" {
			t.Errorf("%s: %s", field, r.body)
		}
	}
}
