package server_test

import (
	"fmt"
	"strings"
	"testing"
)

// Two brace heights shot A-B-B-A, by the API: the verdict says which is faster,
// with a picture of two points and no trend through them.
func TestVerdictOfTwoBraceHeights(t *testing.T) {
	s := open(t)
	bow, setup, trial := id(), id(), id()
	s.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Wren 66", "style": "recurve"}).want(201)
	s.do("PUT", "/api/v1/setups/"+setup, obj{"bow": bow, "reason": "as bought", "settings": settings()}).want(201)
	s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": obj{"order": "abba", "stop_a": "215 mm", "stop_b": "225 mm"}}).want(201)
	stops := s.do("GET", "/api/v1/trials/"+trial, nil).want(200).at("plan/stops").([]any)
	for i, stop := range stops {
		height := stop.(obj)["brace_height"].(obj)["si"].(float64) * 1000
		s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "trial": trial, "stop": i, "kind": "brace_height", "text": fmt.Sprintf("%.1f mm", height)}).want(201)
		for k := range 3 {
			speed := 60 - 0.3*(height-215) + 0.05*float64(i) + 0.02*float64((3*i+2*k)%4)
			s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "trial": trial, "stop": i, "kind": "speed", "repeat": k + 1, "text": fmt.Sprintf("%.2f m/s", speed)}).want(201)
		}
	}
	v := s.do("POST", "/api/v1/trials/"+trial+"/verdict", obj{}).want(200)
	if said := v.at("text").(string); v.at("outcome") != "difference" || !strings.Contains(said, "faster than B at ") || len(v.at("contrasts").([]any)) != 1 {
		t.Errorf("%v: %s", v.at("outcome"), said)
	}
	if lines := v.at("figures").([]any)[0].(obj)["series"].([]any); len(lines) != 1 {
		t.Errorf("%d lines in the picture of two brace heights", len(lines))
	}
}
