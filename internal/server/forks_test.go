package server_test

import (
	"fmt"
	"testing"
)

// changed gives the settings with other entries.
func changed(entries ...any) obj {
	out := settings()
	for i := 0; i+1 < len(entries); i += 2 {
		out[entries[i].(string)] = entries[i+1]
	}
	return out
}

// Two people change the same set-up without knowing of each other: both are
// kept, the bow shows the fork with what can be merged and what cannot, one
// request settles it, and taking that back opens it again (U10).
func TestTwoChangeTheSameSetUp(t *testing.T) {
	s := open(t)
	bow, first := s.bowWithSetUp()
	path := "/api/v1/bows/" + bow
	one, two, both := id(), id(), id()
	a := s.do("PUT", "/api/v1/setups/"+one, obj{"bow": bow, "parent": first, "reason": "phone", "settings": changed("brace_height", obj{"value": "22.5 cm"}, "nock_fit", "firm")}).want(201)
	if a.tree()["beside"] != nil || s.do("GET", path, nil).tree()["fork"] != nil {
		t.Fatalf("one change alone is a fork: %s", a.body)
	}
	body := obj{"bow": bow, "parent": first, "reason": "laptop", "settings": changed("brace_height", obj{"value": "21.5 cm"}, "nocking_point", obj{"value": "11 mm"})}
	b := s.do("PUT", "/api/v1/setups/"+two, body).want(201)
	if fmt.Sprint(b.at("beside")) != "["+one+"]" {
		t.Errorf("the second is not told of the first: %s", b.body)
	}
	if again := s.do("PUT", "/api/v1/setups/"+two, body).want(200); string(again.body) != string(b.body) {
		t.Errorf("a resend is answered otherwise: %s", again.body)
	}
	seen := s.do("GET", path, nil).want(200)
	if seen.at("setup/setup/id") != two || seen.at("fork/base") != first || seen.at("fork/sides/0/setup") != one || seen.at("fork/sides/1/setup") != two {
		t.Fatalf("fork %v", seen.at("fork"))
	}
	if n := len(seen.at("fork/clashes").([]any)); n != 1 || seen.at("fork/clashes/0/key") != "brace_height.value" || fmt.Sprint(seen.at("fork/clashes/0/texts")) != "[22.5 cm 21.5 cm]" {
		t.Errorf("clashes %v", seen.at("fork/clashes"))
	}
	if seen.at("fork/merged/nock_fit") != "firm" || seen.at("fork/merged/nocking_point/value") != "11 mm" || seen.at("fork/merged/brace_height/value") != "21.5 cm" {
		t.Errorf("merged %v", seen.at("fork/merged"))
	}
	if s.do("GET", "/api/v1/bows", nil).at("bows/0/fork/ask") == "" {
		t.Error("the bench does not show it")
	}

	settled := s.do("PUT", "/api/v1/setups/"+both, obj{"bow": bow, "parent": two, "settles": []string{one}, "reason": "as it is on the bow", "settings": seen.at("fork/merged")}).want(201)
	if settled.tree()["beside"] != nil {
		t.Errorf("what settles it stands beside others: %s", settled.body)
	}
	now := s.do("GET", path, nil)
	if now.tree()["fork"] != nil || now.at("setup/setup/id") != both || now.at("setups") != 4.0 {
		t.Errorf("not settled: %s", now.body)
	}
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": both, "reason": "slip"}).want(201)
	if open := s.do("GET", path, nil); open.tree()["fork"] == nil {
		t.Error("taking the choice back does not open the fork again")
	}
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": one, "reason": "never done"}).want(201)
	if open := s.do("GET", path, nil); open.tree()["fork"] != nil || open.at("setup/setup/id") != two {
		t.Error("with one side out of sight there is nothing to ask")
	}
}

// What a set-up settles must be there, of the same bow, and no parent of it.
func TestSettlesIsChecked(t *testing.T) {
	s := open(t)
	bow, first := s.bowWithSetUp()
	_, foreign := s.bowWithSetUp()
	for name, other := range map[string]string{"missing": id(), "another bow's": foreign, "the parent": first, "no id": "x"} {
		r := s.do("PUT", "/api/v1/setups/"+id(), obj{"bow": bow, "parent": first, "settles": []string{other}, "settings": settings()}).want(422)
		if r.at("field") != "/settles/0" {
			t.Errorf("%s: %s", name, r.body)
		}
	}
}
