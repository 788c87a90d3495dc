package server_test

import (
	"strings"
	"testing"
)

// Phone and laptop, each without knowing of the other, put one end right: its
// arrows count once, as they came last, in the group, in what ordinary ends and
// the table hold. A correction of a correction that was taken back is one of
// the first end.
func TestAnEndPutRightTwiceIsOne(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	end := func(x float64, more obj) string {
		one := id()
		body := obj{"bow": bow, "setup": setup, "distance": "18 m", "face": "40", "impacts": []obj{{"x_m": x, "y_m": 0.02}, {"x_m": -0.02, "y_m": 0.01}, {"x_m": 0.015, "y_m": -0.03}}}
		for k, v := range more {
			body[k] = v
		}
		s.do("PUT", "/api/v1/ends/"+one, body).want(201)
		return one
	}
	stands := func(want string) {
		t.Helper()
		for range 2 { // the second from memory
			r := s.do("POST", "/api/v1/groups/describe", obj{"setup": setup}).want(200)
			if n, ends := r.at("groups/0/n_arrows"), r.at("groups/0/ends"); n != 3.0 || ends != 1.0 {
				t.Errorf("%v arrows in %v ends, of one end of three: %s", n, ends, r.body)
			}
		}
		if table := string(s.do("GET", "/api/v1/ends.csv?bow="+bow, nil).want(200).body); strings.Count(strings.TrimSpace(table), "\n") != 3 {
			t.Errorf("the table of one end of three holds\n%s", table)
		}
		for _, row := range s.do("GET", "/api/v1/ends?bow="+bow, nil).want(200).at("rows").([]any) {
			e := row.(map[string]any)
			one, by := e["end"].(map[string]any)["id"], e["corrected_by"]
			if one == want && by != nil || one != want && by != want {
				t.Errorf("%v is said to be put right by %v, %s stands", one, by, want)
			}
		}
	}
	first := end(0.01, nil)
	phone := end(0.03, obj{"corrects": first})
	stands(phone)
	laptop := end(0.05, obj{"corrects": first})
	stands(laptop)
	gone := id()
	s.do("PUT", "/api/v1/retractions/"+gone, obj{"target": laptop}).want(201)
	stands(phone)
	again := end(0.04, obj{"corrects": phone})
	stands(again)
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": phone}).want(201)
	stands(again)
}

// The same of a reading in the table.
func TestAReadingPutRightTwiceIsOne(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	read := func(text string, more obj) string {
		one := id()
		body := obj{"bow": bow, "setup": setup, "kind": "tiller", "text": text}
		for k, v := range more {
			body[k] = v
		}
		s.do("PUT", "/api/v1/readings/"+one, body).want(201)
		return one
	}
	first := read("4 mm", nil)
	read("5 mm", obj{"corrects": first})
	read("6 mm", obj{"corrects": first})
	table := string(s.do("GET", "/api/v1/readings.csv?bow="+bow, nil).want(200).body)
	if strings.Count(strings.TrimSpace(table), "\n") != 1 || !strings.Contains(table, "6 mm") {
		t.Errorf("the table of one reading holds\n%s", table)
	}
}
