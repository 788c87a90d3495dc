package server_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// shot at a face, as a client sends it.
func hit(arrow string, x, y float64) obj { return obj{"arrow": arrow, "x_m": x, "y_m": y} }

func (s *site) end(bow, setup string, extra obj, impacts ...obj) string {
	s.t.Helper()
	e := id()
	body := obj{"bow": bow, "setup": setup, "face": "122", "distance": "70 m", "impacts": impacts}
	for k, v := range extra {
		body[k] = v
	}
	s.do("PUT", "/api/v1/ends/"+e, body).want(201)
	return e
}

// Every mistake of an end is named by its field, and nothing is stored.
func TestEndRefusals(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	other, _ := s.bowWithSetUp()
	whole := func(change obj) obj {
		body := obj{"bow": bow, "setup": setup, "face": "122", "impacts": []obj{hit("1", 0.01, 0.02)}}
		for k, v := range change {
			body[k] = v
		}
		return body
	}
	for _, c := range []struct {
		change obj
		field  string
	}{
		{obj{"face": "123"}, "/face"},
		{obj{"impacts": []obj{}}, "/impacts"},
		{obj{"impacts": []obj{{"x_m": 0.1}}}, "/impacts/0"},
		{obj{"impacts": []obj{hit("1", 0, 0), {"arrow": "2"}}}, "/impacts/1"},
		{obj{"impacts": []obj{hit("1", 40, 0)}}, "/impacts/0"}, // centimetres sent for metres
		{obj{"impacts": []obj{{"ring": "11"}}}, "/impacts/0/ring"},
		{obj{"face": "80/6", "impacts": []obj{{"ring": "4"}}}, "/impacts/0/ring"}, // not printed there
		{obj{"face": "122/colours", "impacts": []obj{{"ring": "X"}}}, "/impacts/0/ring"},
		{obj{"face": "", "impacts": []obj{{"ring": "9"}}}, "/impacts/0/ring"},
		{obj{"impacts": make([]obj, 145)}, "/impacts/0"},
		{obj{"bow": other}, "/setup"},
		{obj{"bow": id()}, "/bow"},
		{obj{"session": id()}, "/session"},
		{obj{"trial": id()}, "/trial"},
		{obj{"corrects": id()}, "/corrects"},
		{obj{"distance": "70 kg"}, "/distance"},
		{obj{"distance": "700 m"}, "/distance"},
		{obj{"number": -1}, "/number"},
	} {
		r := s.do("PUT", "/api/v1/ends/"+id(), whole(c.change)).want(422)
		if r.at("field") != c.field {
			t.Errorf("%v: field %v, want %s: %s", c.change, r.at("field"), c.field, r.body)
		}
	}
	if got := s.do("GET", "/api/v1/ends", nil).at("rows").([]any); len(got) != 0 {
		t.Errorf("%d ends were stored", len(got))
	}
}

// An end scores by the line rule of its face and the shaft's width, unless a
// ring was called; a correction and a retraction take it out of every figure.
func TestEndsScoreAndCorrect(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	// 122 cm face: a ring is 61 mm wide. The shaft (5.5 mm assumed) touches the
	// ten's line at 61 + 2.7 mm, and no longer at 64 mm.
	first := s.end(bow, setup, nil, hit("1", 0.0637, 0), hit("2", 0.0640, 0), obj{"arrow": "3", "ring": "M"})
	r := s.do("GET", "/api/v1/ends/"+first, nil)
	if got := fmt.Sprintln(r.at("rings"), r.at("points"), r.at("distance")); got != "[10 9 M] 19 70 m\n" {
		t.Errorf("scored %s", got)
	}
	second := s.end(bow, setup, obj{"corrects": first}, hit("1", 0.5, 0), hit("2", 0.51, 0))
	if by := s.do("GET", "/api/v1/ends?setup="+setup, nil).at("rows/0/corrected_by"); by != second {
		t.Errorf("corrected by %v", by)
	}
	describe := func() int {
		g := s.do("POST", "/api/v1/groups/describe", obj{"setup": setup}).want(200).at("groups").([]any)
		if len(g) == 0 {
			return 0
		}
		return int(g[0].(obj)["n_arrows"].(float64))
	}
	if n := describe(); n != 2 {
		t.Errorf("%d arrows described, the corrected end is in", n)
	}
	if lines := strings.Count(string(s.do("GET", "/api/v1/ends.csv?setup="+setup, nil).want(200).body), "\n"); lines != 3 {
		t.Errorf("%d lines exported", lines)
	}
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": second}).want(201)
	if n := describe(); n != 2 { // the first counts again: its correction was taken back
		t.Errorf("%d arrows after the correction was retracted", n)
	}
}

// The mistakes of a table, each with its line; nothing of it is taken.
func TestReadTableMistakes(t *testing.T) {
	s := open(t)
	head := "end,arrow,x_cm,y_cm\n"
	for name, c := range map[string]struct{ text, field, says string }{
		"decimal comma":    {head + "1,1,3,2,1,5\n", "line 2", "semicolons"},
		"no unit":          {"end,arrow,x,y\n1,1,3,1\n", "line 1, x", "x_cm"},
		"unit in the cell": {head + "1,1,3.2 cm,1\n", "line 2, x_cm", "header"},
		"formula":          {head + "1,1,1,1\n1,2,=A1+1,2\n", "line 3, x_cm", "formula"},
		"swapped columns":  {"x_cm,end,y_cm,arrow\n1,3.2,2,1\n", "line 2, end", "not the number of an end"},
		"no header":        {"1,1,3.2,1.1\n", "line 1, 1", "name the columns"},
		"metres for cm":    {"end,arrow,x_m,y_m\n1,1,32,11\n", "line 2, x_m", "off any target"},
		"one coordinate":   {head + "1,1,3.2,\n", "line 2", "one coordinate"},
		"quotes left open": {head + "1,\"1,3.2,1\n", "line 2", "quotes"},
		"mixed line ends":  {"end,arrow,x_cm,y_cm\r\n1,1,1,1\r1,2,x,1\n", "line 3, x_cm", "cannot read"},
		"byte-order mark":  {"\ufeffend,arrow,x_cm,y_cm\n1,1,1,oops\n", "line 2, y_cm", "cannot read"},
		"empty":            {"", "line 1", "empty"},
		"header only":      {head, "line 2", "no shot"},
		"unknown ring":     {"end,ring\n1,12\n", "line 2, ring", "not a ring"},
	} {
		r := s.do("POST", "/api/v1/ends/read-csv", c.text, "Content-Type", "text/csv").want(422)
		if r.at("field") != c.field && !(name == "empty" && r.status == 422) || !strings.Contains(string(r.body), c.says) {
			t.Errorf("%s: want %s and %q: %s", name, c.field, c.says, r.body)
		}
	}
	// What is only unusual is read: a mark, mixed line ends, semicolons with
	// decimal commas, columns in any order, inches.
	for name, text := range map[string]string{
		"mark and line ends": "\ufeffend,arrow,x_cm,y_cm\r\n1,1,2.54,1\r1,2,-3,1\n",
		"decimal commas":     "end;arrow;x_cm;y_cm\n1;1;2,54;1\n1;2;-3;1\n",
		"other order":        "y_cm,x_cm,arrow,end\n1,2.54,1,1\n1,-3,2,1\n",
		"inches":             "end,arrow,x_in,y_in\n1,1,1,1\n1,2,-3,1\n",
	} {
		r := s.do("POST", "/api/v1/ends/read-csv", text, "Content-Type", "text/csv; charset=utf-8").want(200)
		x := r.at("ends/0/impacts/0/x_m").(float64)
		if r.at("arrows") != 2.0 || math.Abs(x-0.0254) > 1e-9 {
			t.Errorf("%s: %s", name, r.body)
		}
	}
	s.do("POST", "/api/v1/ends/read-csv", head+"1,1,1,1\n", "Content-Type", "text/plain").want(415)
	s.do("POST", "/api/v1/groups/describe", "x", "Content-Type", "text/csv").want(415) // only here
	if got := s.do("GET", "/api/v1/ends", nil).at("rows").([]any); len(got) != 0 {
		t.Errorf("%d ends were stored", len(got))
	}
}

// A million lines are read to the end and every kind of mistake in them is
// counted; a million good ones are too many to take at once, and that is said.
func TestReadTableMillion(t *testing.T) {
	if testing.Short() {
		t.Skip("a million lines")
	}
	s := open(t)
	var text strings.Builder
	text.WriteString("end,arrow,x_cm,y_cm\n")
	for i := range 1_000_000 {
		fmt.Fprintf(&text, "%d,%d,%d.5,-3\n", i/6+1, i%6+1, i%40)
	}
	r := s.do("POST", "/api/v1/ends/read-csv", text.String(), "Content-Type", "text/csv").want(422)
	if !strings.Contains(string(r.body), "1000000 arrows") {
		t.Errorf("%s", r.body)
	}
	text.WriteString("7,1,oops,2\n")
	r = s.do("POST", "/api/v1/ends/read-csv", text.String(), "Content-Type", "text/csv").want(422)
	if r.at("field") != "line 1000002, x_cm" {
		t.Errorf("%s", r.body)
	}
}

// What is exported reads back the same, and a text that looks like a formula
// is made harmless.
func TestEndsExport(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	s.end(bow, setup, nil, hit("=1+1", 0.0123456789, -0.2), obj{"arrow": "2", "ring": "7"}, obj{"arrow": "b1", "x_m": 0.1, "y_m": 0.2, "bare": true})
	s.end(bow, setup, obj{"number": 1}, hit("1", 0.3, 0.1))
	r := s.do("GET", "/api/v1/ends.csv?bow="+bow+"&unit=mm", nil).want(200)
	if !strings.HasPrefix(r.header.Get("Content-Type"), "text/csv") {
		t.Errorf("%v", r.header)
	}
	back := s.do("POST", "/api/v1/ends/read-csv", r.body, "Content-Type", "text/csv").want(200)
	if back.at("arrows") != 4.0 || back.at("ends/0/impacts/0/arrow") != "=1+1" || back.at("ends/0/impacts/2/bare") != true || back.at("ends/1/number") != 2.0 {
		t.Errorf("%s\n%s", r.body, back.body)
	}
	if x := back.at("ends/0/impacts/0/x_m").(float64); math.Abs(x-0.0123456789) > 1e-9 {
		t.Errorf("x came back as %v", x)
	}
	s.do("GET", "/api/v1/ends.csv?unit=yd", nil).want(422)
}
