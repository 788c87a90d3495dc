package server_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
)

// Looking at an empty notebook makes nothing in it, not even its owner.
func TestLookingMakesNothing(t *testing.T) {
	s := open(t)
	for _, path := range []string{"/", "/api/v1/me", "/api/v1/bows", "/api/v1/demo", "/api/v1/ready"} {
		s.do("GET", path, nil).want(200)
	}
	if got := s.everything(); strings.ContainsAny(got, "123456789{") {
		t.Errorf("records in an empty notebook:\n%s", got)
	}
}

// checkReading crawls every GET; the notebook's records are the same to the
// byte afterwards (T17).
func checkReading(t *testing.T, s *site, told []exchange) {
	before := s.everything()
	for _, e := range told {
		if strings.HasPrefix(e.operation, "GET ") {
			s.do("GET", e.path, nil)
			s.do("HEAD", e.path, nil)
		}
	}
	if after := s.everything(); after != before {
		t.Errorf("reading changed the notebook:\n%s\n%s", before, after)
	}
}

// The bench says where each bow stands and what to do next, in the job's own
// order.
func TestNextStep(t *testing.T) {
	s := open(t)
	if got := s.do("GET", "/api/v1/bows", nil).at("first/code"); got != "add-bow" {
		t.Errorf("empty bench: %v", got)
	}
	bow := id()
	s.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Blue 68"}).want(201)
	next := func(want string) reply {
		t.Helper()
		r := s.do("GET", "/api/v1/bows/"+bow, nil).want(200)
		if got := r.at("next/code"); got != want {
			t.Errorf("next is %v, want %s: %s", got, want, r.body)
		}
		return r
	}
	next("enter-settings")

	bare := settings()
	delete(bare, "brace_height")
	bare["limbs"] = obj{"bow_length": "68 in"}
	first := id()
	s.do("PUT", "/api/v1/setups/"+first, obj{"bow": bow, "settings": bare}).want(201)
	next("measure-brace")

	high := settings()
	high["brace_height"] = obj{"value": "24 cm"}
	second := id()
	s.do("PUT", "/api/v1/setups/"+second, obj{"bow": bow, "parent": first, "reason": "measured", "settings": high}).want(201)
	r := next("leave-range")
	// The riser's offset of 4 mm makes 240 mm read as 244: above 235.
	if r.at("brace/state") != "above" || r.at("brace/compared/text") != "244 mm" || r.at("brace/high/text") != "231 mm" {
		t.Errorf("brace: %s", r.body)
	}

	third := id()
	s.do("PUT", "/api/v1/setups/"+third, obj{"bow": bow, "parent": second, "reason": "down", "settings": settings()}).want(201)
	next("plan-trial")
	// A later reading on this set-up counts more than what was entered.
	s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": third, "kind": "brace_height", "text": "20 cm"}).want(201)
	if r := next("leave-range"); r.at("brace/state") != "below" || r.at("brace/measured") != true {
		t.Errorf("brace: %s", r.body)
	}
	s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": third, "kind": "brace_height", "text": "22 cm"}).want(201)

	next("plan-trial")
	// Taken back, the reading before it counts again; brought back, it does.
	newest := s.do("GET", "/api/v1/readings?bow="+bow, nil).at("rows/1/reading/id").(string)
	gone := id()
	s.do("PUT", "/api/v1/retractions/"+gone, obj{"target": newest}).want(201)
	next("leave-range")
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": gone}).want(201)
	next("plan-trial")

	trial := id()
	s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": third}).want(201)
	next("go-on")
	s.do("PUT", "/api/v1/trials/"+trial+"/events/"+id(), obj{"what": "finished"}).want(201)
	next("read-verdict")

	history := s.do("GET", "/api/v1/bows/"+bow+"/setups", nil).want(200)
	if history.at("rows/0/setup/id") != third || history.at("rows/0/setup/reason") != "down" {
		t.Errorf("history is not newest first: %s", history.body)
	}
	if d := history.at("rows/0/changes/0").(obj); d["key"] != "brace_height.value" || d["before"] != "24 cm" || d["after"] != "22 cm" {
		t.Errorf("change %v", d)
	}
}

// Settings that cannot stand are answered with every field at fault, each with
// what to try, and stored nowhere.
func TestEveryFieldAtFaultIsNamed(t *testing.T) {
	s := open(t)
	bow, _ := s.bowWithSetUp()
	bad := settings()
	bad["brace_height"] = obj{"value": "twenty"}
	bad["tiller"] = "44 apples"
	bad["brace_hight"] = "22 cm"
	bad["draw"] = obj{"length": "8 3/0 in", "weight": 38}
	bad["string"] = obj{"strands": 18.5, "twists": 120}
	bad["limbs"] = obj{"bow_length": "12 in", "range_low": "20 elephants", "range_high": "23 cm"}
	bad["arrow"] = obj{"mass": "330 kg"}
	r := s.do("PUT", "/api/v1/setups/"+id(), obj{"bow": bow, "settings": bad}).want(422)
	want := map[string]string{
		"/settings/brace_height/value": "unreadable", "/settings/tiller": "unreadable", "/settings/draw/length": "unreadable",
		"/settings/brace_hight": "invalid", "/settings/draw/weight": "invalid", "/settings/string/strands": "invalid",
		"/settings/limbs/range_low": "unreadable", "/settings/limbs/bow_length": "invalid", "/settings/string/twists": "invalid", "/settings/arrow/mass": "invalid",
	}
	for _, e := range r.at("errors").([]any) {
		f := e.(obj)
		if want[f["field"].(string)] != f["code"] || f["hint"] == "" || f["hint"] == nil {
			t.Errorf("unexpected %v", f)
		}
		delete(want, f["field"].(string))
	}
	if len(want) > 0 {
		t.Errorf("not named: %v", want)
	}
	check := s.do("POST", "/api/v1/setups/check", obj{"settings": bad}).want(200)
	if check.at("ok") != false || len(check.at("errors").([]any)) != 10 || check.at("errors/0/field") == nil {
		t.Errorf("check: %s", check.body)
	}
	for fault, errors := range map[string]int{`{"settings": 5}`: 1, `{"settings": {"draw": "long", "tiller": "4 m"}}`: 2, `{"settings": {"limbs": {"range_low": "?", "range_high": "2.3 cm"}}}`: 4, `{"settings": {"draw": {"length": "x", "points": [{"at": "x", "force": "20 lbf"}, {}]}}}`: 4} {
		var body any
		if err := json.Unmarshal([]byte(fault), &body); err != nil {
			t.Fatal(err)
		}
		if got := s.do("POST", "/api/v1/setups/check", body).want(200); len(got.at("errors").([]any)) != errors {
			t.Errorf("%s: wanted %d faults, got %s", fault, errors, got.body)
		}
	}
	if n := s.do("GET", "/api/v1/bows/"+bow, nil).at("setups"); n != 1.0 {
		t.Errorf("%v set-ups after a refused one", n)
	}
}

// What one person types and reads: a bare number in their own unit and mark,
// kept with its unit so that no later change of units alters it.
func TestUnitsOfThePerson(t *testing.T) {
	s := open(t)
	tag := s.do("GET", "/api/v1/me", nil).header.Get("ETag")
	tag = s.do("PUT", "/api/v1/me", obj{"name": "Robin", "hand": "right", "units": "metric", "decimal_comma": true}, "If-Match", tag).want(200).header.Get("ETag")
	bow, setup := s.bowWithSetUp()
	one := id()
	r := s.do("PUT", "/api/v1/readings/"+one, obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "221,5"}).want(201)
	if r.at("reading/value") != 0.2215 || r.at("reading/unit") != "mm" || r.at("reading/text") != "221,5" {
		t.Errorf("221,5 was read as %s", r.body)
	}
	next := id()
	set := settings()
	set["tiller"] = "3,5"
	s.do("PUT", "/api/v1/setups/"+next, obj{"bow": bow, "parent": setup, "reason": "tiller", "settings": set}).want(201)
	s.do("PUT", "/api/v1/me", obj{"name": "Robin", "hand": "right", "units": "imperial"}, "If-Match", tag).want(200)
	if got := s.do("GET", "/api/v1/readings/"+one, nil).at("shown"); got != "8.720 in" {
		t.Errorf("shown in imperial as %v", got)
	}
	got := s.do("GET", "/api/v1/setups/"+next, nil).want(200)
	if got.at("setup/settings/tiller") != "3,5 mm" || got.at("shown").(obj)["/tiller"].(obj)["si"] != 0.0035 {
		t.Errorf("tiller became %s", got.body)
	}
	if all := got.at("shown").(obj); all["/tiller"].(obj)["text"] != "0.138 in" || all["/brace_height/value"].(obj)["text"] != "8.66 in" {
		t.Errorf("shown without the digits that were typed: %v", all)
	}
	for text, status := range map[string]int{"8 3/4 in": 200, `8 3/4"`: 200, "22,5 cm": 200, "225mm": 200, "8 3/0 in": 422, "44 apples": 422, "NaN": 422, "1e999": 422, "": 422} {
		r := s.do("POST", "/api/v1/units/parse", obj{"quantity": "setting", "field": "brace_height", "text": text}).want(status)
		if status == 422 && (r.at("errors/0/field") != "/text" || !strings.Contains(fmt.Sprint(r.at("hint")), "22.5 cm")) {
			t.Errorf("%q: %s", text, r.body)
		}
	}
	odd := s.do("POST", "/api/v1/units/parse", obj{"quantity": "setting", "field": "brace_height", "text": "2.25 cm"}).want(200)
	if q := fmt.Sprint(odd.at("question")); !strings.Contains(q, "did you mean 22.5 cm") {
		t.Errorf("question %q", q)
	}
}

// A wrong reading is answered by a new one; a retracted one is out of sight
// until the retraction is retracted.
func TestCorrectAndRetract(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	wrong, right := id(), id()
	base := obj{"bow": bow, "setup": setup, "kind": "brace_height"}
	send := func(one, text, corrects string) {
		base["text"] = text
		if corrects != "" {
			base["corrects"] = corrects
		}
		s.do("PUT", "/api/v1/readings/"+one, base).want(201)
	}
	send(wrong, "21.1 cm", "")
	send(right, "22.1 cm", wrong)
	list := s.do("GET", "/api/v1/readings?bow="+bow, nil).want(200)
	if list.at("rows/0/corrected_by") != right {
		t.Errorf("the wrong reading is not marked: %s", list.body)
	}
	count := func(query string) int {
		return len(s.do("GET", "/api/v1/readings?bow="+bow+query, nil).at("rows").([]any))
	}
	gone := id()
	s.do("PUT", "/api/v1/retractions/"+gone, obj{"target": right}).want(201)
	if count("") != 1 || count("&retracted=true") != 2 {
		t.Errorf("after retracting: %d in sight, %d in all", count(""), count("&retracted=true"))
	}
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": gone, "reason": "undo"}).want(201)
	if count("") != 2 {
		t.Errorf("after undoing: %d in sight", count(""))
	}
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": id()}).want(422)
}

// Lists come in pages that neither lose nor repeat a row.
func TestPagesOfAList(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	const n = 23
	for i := range n {
		s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "turns", "text": fmt.Sprint(i)}).want(201)
	}
	var seen []float64
	after := ""
	for {
		r := s.do("GET", "/api/v1/readings?limit=5&bow="+bow+"&after="+after, nil).want(200)
		for _, row := range r.at("rows").([]any) {
			seen = append(seen, row.(obj)["reading"].(obj)["value"].(float64))
		}
		next, more := r.tree()["next"].(string)
		if !more {
			break
		}
		after = next
	}
	for i, v := range seen {
		if v != float64(i) {
			t.Fatalf("order %v", seen)
		}
	}
	if len(seen) != n {
		t.Errorf("%d rows of %d", len(seen), n)
	}
}

// everything prints all records of the notebook.
func (s *site) everything() string {
	var out strings.Builder
	dump(s, &out, "people", s.store.People())
	dump(s, &out, "bows", s.store.Bows())
	dump(s, &out, "setups", s.store.SetUps())
	dump(s, &out, "sessions", s.store.Sessions())
	dump(s, &out, "readings", s.store.Readings())
	dump(s, &out, "recordings", s.store.Recordings())
	dump(s, &out, "trials", s.store.Trials())
	dump(s, &out, "events", s.store.Events())
	dump(s, &out, "verdicts", s.store.Verdicts())
	dump(s, &out, "retractions", s.store.Retractions())
	return out.String()
}

// Fields are named by JSON pointer, parameters by name, and the sentence on top
// speaks of the field in words.
func TestFieldsAreNamedOneWay(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	for _, row := range []struct {
		method, path  string
		body          obj
		field, detail string
	}{
		{"PUT", "/readings/" + id(), obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22 apples"}, "/text", `Text: cannot read "22 apples"`},
		{"PUT", "/readings/" + id(), obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22 cm", "stop": -1}, "/stop", "Stop: "},
		{"PUT", "/readings/" + id(), obj{"bow": bow, "kind": "brace_height", "text": "22 cm"}, "", "Expected required property setup"},
		{"POST", "/predict", obj{"setup": setup, "set": obj{"brace_height": "x"}}, "/set/brace_height", "Brace height: cannot read"},
		{"POST", "/sweep", obj{"setup": setup, "steps": 99}, "/steps", "Steps: 99"},
		{"POST", "/units/parse", obj{"quantity": "beauty", "text": "1"}, "/quantity", "Quantity: is not"},
		{"GET", "/readings?limit=0", nil, "limit", "Limit: "},
	} {
		r := s.do(row.method, "/api/v1"+row.path, row.body).want(422)
		field, _ := r.tree()["field"].(string)
		if field != row.field || !strings.HasPrefix(fmt.Sprint(r.at("detail")), row.detail) {
			t.Errorf("%s: field %q, detail %q", row.path, field, r.at("detail"))
		}
	}
}
