package server_test

import (
	"strings"
	"testing"
)

// What must be looked at comes first; then the reading; then the move, as the
// next set-up's settings; a marked tail and a walked string get no move.
func TestNocking(t *testing.T) {
	s := open(t)
	bow, _ := s.bowWithSetUp()
	ask := func(set obj, readings ...obj) reply {
		return s.do("POST", "/api/v1/bows/"+bow+"/nocking", obj{"set": set, "readings": readings})
	}
	low := obj{"nocking_point": "10 mm", "distance": "18 m", "bare_up": "-6"} // a bare number is read as centimetres
	first := ask(obj{}, low).want(200)
	if first.at("act") != "ask" || len(first.at("ask").([]any)) != 2 || len(first.at("looks").([]any)) == 0 {
		t.Errorf("nothing was looked at: %s", first.body)
	}
	seen := obj{"rest.wire_reach": "-3 mm", "rest.powder_mark": "clean"}
	if r := ask(seen).want(200); r.at("act") != "read" {
		t.Errorf("no reading: %s", r.body)
	}
	moved := ask(seen, low).want(200)
	if moved.at("act") != "move" || moved.at("move").(obj)["si"].(float64) >= 0 || moved.at("change").(obj)["nocking_point.value"] == nil {
		t.Errorf("low, clean and a short wire: %s", moved.body)
	}
	if r := ask(obj{"rest.wire_reach": "2 mm", "rest.powder_mark": "marked"}, low).want(200); r.at("act") != "touches" || !strings.Contains(r.at("say").(string), "a low reading may mean too low") {
		t.Errorf("the tail touches: %s", r.body)
	}
	walk := ask(obj{"string_walking": "true"}, low).want(200)
	if walk.at("act") != "withheld" || len(walk.at("looks").([]any)) != 0 || !strings.Contains(walk.at("tiller").(string), "not advised from bare shafts") {
		t.Errorf("the string is walked: %s", walk.body)
	}
	bad := ask(seen, obj{"nocking_point": "10 mm", "distance": "18 m"}).want(422)
	if !strings.Contains(string(bad.body), "/readings/0/bare_up") {
		t.Errorf("a missing height: %s", bad.body)
	}
}
