package server_test

import "testing"

// An answer that is kept in memory follows every change: another end, a
// correction, something taken out of sight and back, other units.
func TestLargeAnswersFollowEveryChange(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	end := func(more obj) string {
		one := id()
		body := obj{"bow": bow, "setup": setup, "distance": "18 m", "face": "40", "impacts": []obj{{"x_m": 0.01, "y_m": 0.02}, {"x_m": -0.02, "y_m": 0.01}, {"x_m": 0.015, "y_m": -0.03}}}
		for k, v := range more {
			body[k] = v
		}
		s.do("PUT", "/api/v1/ends/"+one, body).want(201)
		return one
	}
	arrows := func(want float64) reply {
		t.Helper()
		var last reply
		for range 2 { // the second from memory
			last = s.do("POST", "/api/v1/groups/describe", obj{"setup": setup}).want(200)
			if got := last.at("groups/0/n_arrows"); got != want {
				t.Errorf("%v arrows, want %v", got, want)
			}
		}
		return last
	}
	first := end(nil)
	arrows(3)
	end(nil)
	arrows(6)
	end(obj{"corrects": first, "impacts": []obj{{"x_m": 0.01, "y_m": 0.02}, {"x_m": 0.03, "y_m": 0.0}}})
	arrows(5)
	gone := id()
	third := end(nil)
	arrows(8)
	s.do("PUT", "/api/v1/retractions/"+gone, obj{"target": third}).want(201)
	before := arrows(5)
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": gone}).want(201)
	arrows(8)
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": third}).want(201)
	tag := s.do("GET", "/api/v1/me", nil).header.Get("ETag")
	s.do("PUT", "/api/v1/me", obj{"name": "Robin", "hand": "right", "units": "imperial"}, "If-Match", tag).want(200)
	if after := arrows(5); string(after.body) == string(before.body) {
		t.Error("other units, and the same words")
	}
}
