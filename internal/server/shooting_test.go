package server_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

// asks are one wish of each kind of trial judged by arrows or feel.
var asks = []obj{
	{"what": "two set-ups", "setting": "button", "a": "3 turns", "b": "5 turns", "rounds": 4},
	{"what": "two set-ups", "setting": "brace_height", "rounds": 2},
	{"what": "confirm", "setting": "nocking_point", "rounds": 2},
	{"what": "one setting", "setting": "nocking_point", "levels": []string{"4 mm", "8 mm", "12 mm"}},
	{"what": "settings", "settings": []obj{{"setting": "button", "low": "1 turn", "high": "5 turns"}, {"setting": "nocking_point", "low": "6 mm", "high": "10 mm"}}, "face_centred": true},
	{"what": "sham", "setting": "button"},
	{"what": "bare shaft", "distance": "18"},
	{"what": "nocking point by bare shaft"},
	{"what": "tiller by hold and group", "rounds": 2},
	{"what": "walk-back", "distances": []string{"10", "20 m", "30 m", "40 m"}},
}

// shootStop sends an end at a stop of a trial.
func (s *site) shootStop(rng *rand.Rand, bow, setup, trial string, step obj, sigma float64, bare int) {
	var impacts []obj
	for a := range 6 {
		p := hit(fmt.Sprint(a+1), sigma*rng.NormFloat64(), sigma*rng.NormFloat64())
		if a < bare {
			p["bare"] = true
		}
		impacts = append(impacts, p)
	}
	far := "18 m"
	if d, ok := step["distance_m"].(float64); ok {
		far = fmt.Sprintf("%g m", d)
	}
	s.end(bow, setup, obj{"trial": trial, "stop": step["position"], "distance": far}, impacts...)
}

// Every kind is planned, begun once however often it is sent, left and taken
// up again, judged, and its verdict kept; a verdict on nothing is "cannot tell
// yet".
func TestShootingTrials(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	rng := rand.New(rand.NewPCG(1, 2))
	for _, ask := range asks {
		what := ask["what"].(string)
		plan := s.do("POST", "/api/v1/trials/plan", obj{"setup": setup, "ask": ask}).want(200).tree()
		steps := plan["steps"].([]any)
		trial := id()
		begin := obj{"setup": setup, "ask": plan["ask"]} // with the seed that was drawn
		first := s.do("PUT", "/api/v1/trials/"+trial, begin).want(201)
		if got := first.at("plan/steps").([]any); fmt.Sprint(got) != fmt.Sprint(steps) || first.at("brief/what") != what || first.at("brief/stops") != float64(len(steps)) {
			t.Errorf("%s: the trial is not the plan that was shown", what)
		}
		s.do("PUT", "/api/v1/trials/"+trial, begin).want(200)
		s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": obj{"what": "two set-ups", "seed": 99, "rounds": 3}}).want(409)
		empty := s.do("POST", "/api/v1/trials/"+trial+"/verdict", obj{}).want(200)
		if !strings.HasPrefix(empty.at("text").(string), "Cannot tell yet") || empty.at("decided") != false {
			t.Errorf("%s, nothing shot: %s", what, empty.body)
		}
		for i, step := range steps {
			if what == "sham" {
				s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "trial": trial, "stop": i, "kind": "feel", "text": fmt.Sprint(1 + i%2)}).want(201)
			} else {
				s.shootStop(rng, bow, setup, trial, step.(obj), 0.04, map[string]int{"bare shaft": 3, "nocking point by bare shaft": 3}[what])
			}
			if i == 1 { // leave, come back
				s.do("PUT", "/api/v1/trials/"+trial+"/events/"+id(), obj{"what": "paused", "stop": 1}).want(201)
				if r := s.do("GET", "/api/v1/trials/"+trial, nil); r.at("brief/state") != "paused" || r.at("stops/1/state") != "measured" || r.at("stops/2/state") != "todo" {
					t.Errorf("%s left: %v", what, r.at("brief"))
				}
			}
		}
		v := s.do("POST", "/api/v1/trials/"+trial+"/verdict", obj{}).want(200)
		if v.at("steps_shot") != v.at("steps_planned") || len(v.at("effects").([]any)) == 0 || v.at("next") == "" || len(v.at("assumptions").([]any)) == 0 {
			t.Errorf("%s: %s", what, v.body)
		}
		verdict := id()
		kept := s.do("PUT", "/api/v1/trials/"+trial+"/verdicts/"+verdict, obj{}).want(201)
		if kept.at("view/text") != v.at("text") || kept.at("current") != true {
			t.Errorf("%s: kept %s", what, kept.body)
		}
		s.do("PUT", "/api/v1/trials/"+trial+"/verdicts/"+verdict, obj{}).want(200)
		if what != "sham" {
			s.shootStop(rng, bow, setup, trial, steps[0].(obj), 0.04, map[string]int{"bare shaft": 3, "nocking point by bare shaft": 3}[what])
			if got := s.do("GET", "/api/v1/trials/"+trial+"/verdicts", nil).want(200).at("rows/0/current"); got != false {
				t.Errorf("%s: a verdict stays current when an end is added", what)
			}
		}
		for _, face := range []string{"plan/" + trial + ".txt", "trial/" + trial + ".txt", "trial/" + trial + ".pdf", "trial/" + trial + ".csv"} {
			r := s.do("GET", "/sheets/"+face, nil).want(200)
			if strings.HasSuffix(face, ".txt") && (!strings.Contains(string(r.body), plan["title"].(string)) || len(r.body) < 500) {
				t.Errorf("%s: %s", face, r.body)
			}
		}
		s.do("PUT", "/api/v1/trials/"+trial+"/choices/"+id(), obj{"stop": 0}).want(422)
	}
	if n := len(s.do("GET", "/api/v1/trials?bow="+bow, nil).at("rows").([]any)); n != len(asks) {
		t.Errorf("%d trials listed", n)
	}
	s.do("GET", "/api/v1/bows/"+bow, nil).want(200)
	s.do("GET", "/api/v1/bows", nil).want(200)
}

// A wish that cannot be planned names its field; a brace-height trial is
// planned as before beside fields of the other kinds.
func TestShootingRefusals(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	for field, ask := range map[string]obj{
		"/what":                {"what": "magic"},
		"/levels/1":            {"what": "one setting", "levels": []string{"4 mm", "soft", "9 mm"}},
		"/bare_shafts":         {"what": "bare shaft", "bare_shafts": 2},
		"/distances/2":         {"what": "walk-back", "distances": []string{"10 m", "20 m", "far"}},
		"/settings/0/setting":  {"what": "settings", "settings": []obj{{"setting": "wind", "low": "1", "high": "2"}, {"setting": "button", "low": "1", "high": "2"}}},
		"/ask/what":            {"what": 7},
		"/ask/turns_per_stepp": {"turns_per_stepp": 3},
	} {
		for _, r := range []reply{s.do("POST", "/api/v1/trials/plan", obj{"setup": setup, "ask": ask}), s.do("PUT", "/api/v1/trials/"+id(), obj{"setup": setup, "ask": ask})} {
			if r.want(422).at("field") != field {
				t.Errorf("%v: field %v, want %s", ask, r.at("field"), field)
			}
		}
	}
	r := s.do("POST", "/api/v1/trials/plan", obj{"setup": setup, "ask": obj{"what": "brace height", "turns_per_step": 4}}).want(200)
	if r.at("stops/1/turns_from_previous") != 4.0 {
		t.Errorf("%.300s", r.body)
	}
}

// A verdict of a shooting trial that was kept has a standing of its own: in
// the decided setting's unit, and fresh while nothing was changed.
func TestShootingVerdictsStand(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	rng := rand.New(rand.NewPCG(1, 2))
	plan := s.do("POST", "/api/v1/trials/plan", obj{"setup": setup, "ask": obj{"what": "two set-ups", "setting": "button", "a": "3 turns", "b": "5 turns", "rounds": 10}}).want(200).tree()
	trial, verdict := id(), id()
	s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": plan["ask"]}).want(201)
	for _, step := range plan["steps"].([]any) {
		step := step.(obj)
		s.shootStop(rng, bow, setup, trial, step, map[string]float64{"A": 0.03, "B": 0.1}[step["label"].(string)], 0)
	}
	if kept := s.do("PUT", "/api/v1/trials/"+trial+"/verdicts/"+verdict, obj{}).want(201); kept.at("view/decides/0/entry") != "button.turns" {
		t.Fatalf("%s", kept.body)
	}
	r := s.do("GET", "/api/v1/bows/"+bow+"/standing", nil).want(200)
	for range 40 {
		if r.at("state") == "done" {
			break
		}
		r = s.do("GET", "/api/v1/bows/"+bow+"/standing", nil).want(200)
	}
	for _, row := range r.at("standings").([]any) {
		if row := row.(obj); row["id"] == verdict {
			if row["state"] != "fresh" || row["value"] != "3 turns" || row["own"] != "± 1 turns" {
				t.Errorf("%v", row)
			}
			return
		}
	}
	t.Errorf("the verdict has no standing: %s", r.body)
}
