package server_test

import (
	"math"
	"strings"
	"testing"
)

// quantity finds a compared quantity of an answer by its name.
func quantity(t testing.TB, r reply, name string) obj {
	t.Helper()
	for _, q := range r.at("quantities").([]any) {
		if q.(obj)["name"] == name {
			return q.(obj)
		}
	}
	t.Fatalf("no %s in %s", name, r.body)
	return nil
}

// TestTarget asks for a change by every route of it: what was moved is
// understood, the change has its doubt and the trade's direction, and a quick
// look gives the same middle without a doubt.
func TestTarget(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	ask := obj{"setup": setup, "moves": obj{"spine": "650", "brace_height": "21.5 cm"}, "distances": []string{"30 m", "70 m"}}
	r := s.do("POST", "/api/v1/target", ask).want(200)
	if got := r.at("distances/0/bare/change/si").(float64); got <= 0 {
		t.Errorf("a softer shaft takes the bare one %g m right", got)
	}
	low, high := r.at("distances/0/bare/change/low").(float64), r.at("distances/0/bare/change/high").(float64)
	if !(low < high) || r.at("plausible_setups").(float64) < 16 || r.at("fitted") != false {
		t.Errorf("the change is known to %g to %g m: %s", low, high, r.body)
	}
	if r.at("distances/1/bare/after/si") != nil || r.at("distances/1/bare/after/doubt") != "no bare shaft beyond 30 m" {
		t.Errorf("a bare shaft at 70 m: %v", r.at("distances/1/bare/after"))
	}
	if got := quantity(t, r, "speed")["change"].(obj)["text"].(string); !strings.HasPrefix(got, "+") {
		t.Errorf("half a centimetre lower changes the speed by %s", got)
	}
	quick := s.do("POST", "/api/v1/target/quick", ask).want(200)
	for _, path := range []string{"distances/0/bare/after/si", "distances/1/right/change/si"} {
		if a, b := r.at(path).(float64), quick.at(path).(float64); math.Abs(a-b) > 1e-9 {
			t.Errorf("%s: exactly %g, quickly %g", path, a, b)
		}
	}
	if quick.at("exact") != false || quick.at("distances/0/bare/after/low") != nil || quick.at("distances/0/bare/after/doubt") != "doubt follows" {
		t.Errorf("a quick look has a doubt: %s", quick.body)
	}
}

// TestTargetMoves: what can be moved starts at the set-up, in the person's
// units, and the grid leads back to it.
func TestTargetMoves(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	r := s.do("POST", "/api/v1/target/quick", obj{"setup": setup, "moves": obj{"brace_height": "8 1/2 in", "button_preload": "1,2"}}).want(200)
	for _, m := range r.at("moves").([]any) {
		v := m.(obj)
		at, low, step := v["start"].(float64), v["low"].(float64), v["step"].(float64)
		if n := (at - low) / step; math.Abs(n-math.Round(n)) > 1e-6 || !(low < at) || !(v["high"].(float64) > at) {
			t.Errorf("%s: from %g in steps of %g does not reach %g", v["name"], low, step, at)
		}
		switch v["name"] {
		case "brace_height":
			if v["unit"] != "mm" || at != 220 || math.Abs(v["at"].(float64)-215.9) > 1e-6 {
				t.Errorf("brace height: %v", v)
			}
		case "button_preload": // a bare number is in newtons, though the draw is read in pounds
			if v["unit"] != "N" || v["at"] != 1.2 || v["assumed"] != true {
				t.Errorf("preload: %v", v)
			}
		case "spine":
			if at != 600 || v["unit"] != "" || v["text"] != "600" {
				t.Errorf("spine: %v", v)
			}
		}
	}
}

// TestTargetWords: what is left of an archer's words when they draw with the
// left hand: sides change, right stays right (model.md, signs).
func TestTargetWords(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	ask := obj{"setup": setup, "distances": []string{"30 m"}}
	right := s.do("POST", "/api/v1/target", ask).want(200)
	tag := s.do("GET", "/api/v1/me", nil).want(200).header.Get("ETag")
	s.do("PUT", "/api/v1/me", obj{"name": "Robin", "hand": "left", "units": "metric", "decimal_comma": true}, "If-Match", tag).want(200)
	left := s.do("POST", "/api/v1/target", ask).want(200)
	a, b := right.at("distances/0/bare/now/si").(float64), left.at("distances/0/bare/now/si").(float64)
	if math.Abs(a+b) > 1e-9 || right.at("before/bare_shaft_reads") != left.at("before/bare_shaft_reads") || left.at("hand") != "left" {
		t.Errorf("%g m %v right-handed, %g m %v left-handed", a, right.at("before"), b, left.at("before"))
	}
	if text := quantity(t, left, "speed")["now"].(obj)["text"].(string); !strings.Contains(text, ",") {
		t.Errorf("the speed is written %s for a person with a decimal comma", text)
	}
}

// TestTargetRefuses names each field at fault and what to try.
func TestTargetRefuses(t *testing.T) {
	s := open(t)
	_, setup := s.bowWithSetUp()
	bare := settings()
	bare["arrow"] = obj{"mass": "330 gr"}
	for field, body := range map[string]obj{
		"/moves/brace_height":     {"setup": setup, "moves": obj{"brace_height": "twenty"}},
		"/moves/spine":            {"setup": setup, "moves": obj{"spine": "60000"}},
		"/moves/button_stiffness": {"setup": setup, "moves": obj{"button_stiffness": "0 N/mm"}},
		"/moves/shaft_length":     {"setup": setup, "moves": obj{"shaft_length": "3 in"}},
		"/moves/bracing":          {"setup": setup, "moves": obj{"bracing": "22 cm"}},
		"/distances/1":            {"setup": setup, "distances": []string{"18 m", "900 m"}},
		"/arrow/spine":            {"settings": bare},
	} {
		for _, route := range []string{"/api/v1/target", "/api/v1/target/quick"} {
			r := s.do("POST", route, body).want(422)
			if r.at("errors/0/field") != field || r.at("errors/0/hint") == "" {
				t.Errorf("%s of %s: %s", route, field, r.body)
			}
		}
	}
}

// TestTargetWarns: what the makers forbid is said before anything is shot.
func TestTargetWarns(t *testing.T) {
	s := open(t)
	own := settings()
	own["arrow"] = obj{"mass": "330 gr", "spine": "600", "minimum_mass": "320 gr"}
	r := s.do("POST", "/api/v1/target/quick", obj{"settings": own, "moves": obj{"brace_height": "19 cm", "point_mass": "90 gr"}}).want(200)
	said := strings.Join(texts(r.at("warnings")), " ")
	if !strings.Contains(said, "limb maker's range") || !strings.Contains(said, "least, 320 gr") {
		t.Errorf("warnings: %s", said)
	}
}

func texts(list any) (out []string) {
	for _, x := range list.([]any) {
		out = append(out, x.(string))
	}
	return out
}

// BenchmarkTargetQuick is a slider's step, from the request to the answer:
// aimed at 20 ms, so that the picture follows within 100 ms.
func BenchmarkTargetQuick(b *testing.B) {
	s := open(b)
	_, setup := s.bowWithSetUp()
	heights := []string{"21 cm", "21.5 cm", "22.5 cm", "23 cm"}
	i := 0
	s.do("POST", "/api/v1/target/quick", obj{"setup": setup}).want(200) // the bow's model is made once
	for b.Loop() {
		i++
		s.do("POST", "/api/v1/target/quick", obj{"setup": setup, "moves": obj{"brace_height": heights[i%4]}}).want(200)
	}
}

// BenchmarkTarget is the exact answer that follows.
func BenchmarkTarget(b *testing.B) {
	s := open(b)
	_, setup := s.bowWithSetUp()
	s.do("POST", "/api/v1/target", obj{"setup": setup}).want(200)
	for b.Loop() {
		s.do("POST", "/api/v1/target", obj{"setup": setup, "moves": obj{"brace_height": "21 cm"}}).want(200)
	}
}
