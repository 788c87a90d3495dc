package server_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http/httptest"
	"testing"

	"tautline/internal/server"
	"tautline/notebook"
)

// A kept verdict comes out bit for bit when another server computes it anew
// from what is stored (T26): numbers in JSON are the shortest that read back
// to the same bits, so equal texts are equal bits.
func TestKeptVerdictRecomputes(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	heights, arrows := s.heightTrial(bow, setup), s.arrowTrial(bow, setup)
	next, err := server.New(server.Config{Notebook: s.store, Version: "test", RefitAfter: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer next.Close()
	srv := httptest.NewServer(next)
	defer srv.Close()
	fresh := &site{t: t, url: srv.URL, handler: next, store: s.store}
	for _, trial := range []string{heights, arrows} {
		verdict := id()
		s.do("PUT", "/api/v1/trials/"+trial+"/verdicts/"+verdict, obj{}).want(201)
		stored, err := s.store.Verdicts().Get(t.Context(), "", notebook.ID(verdict))
		if err != nil {
			t.Fatal(err)
		}
		kept, again := numbersIn(t, stored.Content), numbersIn(t, fresh.do("POST", "/api/v1/trials/"+trial+"/verdict", obj{}).want(200).body)
		if len(kept) < 20 || stored.Inputs == "" || stored.Program != "test" {
			t.Errorf("a verdict of %d numbers, by %q of %q: the test does not test", len(kept), stored.Program, stored.Inputs)
		}
		for at, n := range kept {
			if again[at] != n {
				t.Errorf("%s: kept %s, computed anew %s", at, n, again[at])
			}
		}
		if len(kept) != len(again) {
			t.Errorf("%d numbers were kept, %d are computed", len(kept), len(again))
		}
	}
}

// heightTrial is a brace-height trial with every stop measured, and heard.
func (s *site) heightTrial(bow, setup string) string {
	trial := id()
	s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": obj{"turns_per_step": 3}}).want(201)
	stops := s.do("GET", "/api/v1/trials/"+trial, nil).want(200).at("plan/stops").([]any)
	for i, stop := range stops {
		height := stop.(obj)["brace_height"].(obj)["si"].(float64) * 1000
		for repeat, off := range []float64{0, 0.5} {
			s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "trial": trial, "stop": i, "kind": "brace_height", "repeat": repeat + 1, "text": fmt.Sprintf("%.1f mm", height+off)}).want(201)
		}
		s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "trial": trial, "stop": i, "kind": "speed", "text": fmt.Sprintf("%.1f m/s", 57.3-0.13*float64(i*i%5))}).want(201)
	}
	return trial
}

// arrowTrial compares two set-ups by where arrows hit.
func (s *site) arrowTrial(bow, setup string) string {
	trial, rng := id(), rand.New(rand.NewPCG(26, 1))
	s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": obj{"what": "bare shaft"}}).want(201)
	steps := s.do("GET", "/api/v1/trials/"+trial, nil).want(200).at("plan/steps").([]any)
	for _, step := range steps {
		s.shootStop(rng, bow, setup, trial, step.(obj), 0.04, 3)
	}
	return trial
}

// numbersIn are the numbers of a text of JSON, as written, by their place.
func numbersIn(t *testing.T, raw []byte) map[string]string {
	t.Helper()
	in := json.NewDecoder(bytes.NewReader(raw))
	in.UseNumber()
	var tree any
	if err := in.Decode(&tree); err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	var walk func(at string, v any)
	walk = func(at string, v any) {
		switch x := v.(type) {
		case json.Number:
			out[at] = x.String()
		case []any:
			for i, e := range x {
				walk(fmt.Sprint(at, "/", i), e)
			}
		case map[string]any:
			for k, e := range x {
				walk(at+"/"+k, e)
			}
		}
	}
	walk("", tree)
	return out
}
