package server_test

import (
	"strings"
	"testing"
)

// Standing is computed with the unfitted bows until a fit is kept, with that
// fit from then on; the answer says which.
func TestStandingUsesTheKeptFit(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "speed", "text": "57.3 m/s"}).want(201)
	basis := func() string {
		for range 100 {
			if r := s.do("GET", "/api/v1/bows/"+bow+"/standing", nil).want(200); r.at("state") == "done" {
				if n := len(r.at("standings").([]any)); n != 1 || r.at("standings/0/state") != "fresh" {
					t.Errorf("%s", r.body)
				}
				return r.at("basis").(string)
			}
		}
		t.Fatal("the standing never came")
		return ""
	}
	if text := basis(); !strings.HasPrefix(text, "No fit of this bow is kept") {
		t.Error(text)
	}
	s.do("PUT", "/api/v1/fits/"+id(), obj{"bow": bow}).want(201)
	if text := basis(); !strings.Contains(text, "as fitted on") || !strings.Contains(text, "readings: 1") {
		t.Error(text)
	}
}
