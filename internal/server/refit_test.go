package server_test

import (
	"context"
	"fmt"
	"regexp"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/notebook"
)

// refitting is a site that fits bows soon after a reading.
func refitting(t testing.TB) *site {
	return open(t, func(c *server.Config) { c.RefitAfter = 100 * time.Millisecond })
}

// fits are a bow's kept fits, oldest first.
func (s *site) fits(bow string) []notebook.Fit {
	s.t.Helper()
	page, err := s.store.Fits().List(context.Background(), "", notebook.Query{Bow: notebook.ID(bow), Limit: 100})
	if err != nil {
		s.t.Fatal(err)
	}
	return page.Rows
}

// waitForFits waits until the bow has so many kept fits, as long as something
// is being computed.
func (s *site) waitForFits(bow string, n int) []notebook.Fit {
	s.t.Helper()
	const rest = 5 * time.Second // with nothing computed: nothing will come
	for busy := time.Now(); time.Since(busy) < rest; time.Sleep(20 * time.Millisecond) {
		if list := s.fits(bow); len(list) >= n {
			return list
		}
		if s.computes() {
			busy = time.Now()
		}
	}
	s.t.Fatalf("%d fits kept, want %d, and nothing is being computed", len(s.fits(bow)), n)
	return nil
}

var openWork = regexp.MustCompile(`(?m)^tautline_(open|waiting)_work [1-9]`)

// computes reports whether a long calculation runs or waits for its turn.
func (s *site) computes() bool {
	return openWork.Match(s.do("GET", "/metrics", nil).want(200).body)
}

func (s *site) reading(bow, setup string, more obj) string {
	s.t.Helper()
	one := id()
	body := obj{"bow": bow, "setup": setup}
	for k, v := range more {
		body[k] = v
	}
	s.do("PUT", "/api/v1/readings/"+one, body).want(201)
	return one
}

// A reading fits the bow anew and keeps the fit with what it saw; readings in
// quick succession make one fit, of the last of them; one that says nothing
// new, or is sent again, makes none; the old fit stays.
func TestReadingsRefitTheBow(t *testing.T) {
	s := refitting(t)
	bow, setup := s.bowWithSetUp()
	speed := s.reading(bow, setup, obj{"kind": "speed", "text": "57.3 m/s"})
	time.Sleep(400 * time.Millisecond)
	if n := len(s.fits(bow)); n != 0 {
		t.Fatalf("a speed alone is fewer than intervals were tested with, and made %d fits", n)
	}
	bare := s.reading(bow, setup, obj{"kind": "bare_shaft_right", "text": "6 cm", "distance": "30 m"})
	first := s.waitForFits(bow, 1)[0]
	if got, want := fmt.Sprint(first.Readings), fmt.Sprint([]string{speed, bare}); got != want || first.SetUp != notebook.ID(setup) || first.Inputs == "" {
		t.Errorf("the fit saw %s of set-up %s, want %s of %s", got, first.SetUp, want, setup)
	}
	for range 100 {
		if r := s.do("GET", "/api/v1/bows/"+bow+"/fit", nil).want(200); r.at("state") == "done" {
			if r.at("kept/0/id") != string(first.ID) || r.at("kept/0/current") != true {
				t.Errorf("the kept fit is not what the page is given: %v", r.at("kept"))
			}
			break
		}
	}

	// what the kept fit says is sealed, and the next reading judges it
	for range 200 {
		if n := len(s.do("GET", "/api/v1/bows/"+bow+"/ledger", nil).want(200).at("waiting").([]any)); n >= 3 {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	s.reading(bow, setup, obj{"kind": "speed", "text": "57.1 m/s"})
	if l := s.do("GET", "/api/v1/bows/"+bow+"/ledger", nil).want(200); l.at("counted") != 2.0 || l.at("entries/0/fitted") != true { // the first speed met what the set-up sealed
		t.Errorf("a speed after the fit was kept: %v judged, %v", l.at("counted"), l.at("entries"))
	}
	last := obj{"bow": bow, "setup": setup, "kind": "speed", "text": "57.6 m/s"}
	again := id()
	s.do("PUT", "/api/v1/readings/"+again, last).want(201)
	s.do("PUT", "/api/v1/readings/"+again, last).want(200)
	list := s.waitForFits(bow, 2)
	if len(list) != 2 || list[0].ID != first.ID || len(list[1].Readings) != 4 || string(list[1].Readings[3]) != again {
		t.Errorf("after two readings in quick succession: %d fits, the last of %v", len(list), list[len(list)-1].Readings)
	}
	s.do("PUT", "/api/v1/readings/"+again, last).want(200)
	s.reading(bow, setup, obj{"kind": "brace_height", "text": "22 cm"}) // without turns: nothing to fit
	time.Sleep(600 * time.Millisecond)
	if n := len(s.fits(bow)); n != 2 {
		t.Errorf("nothing new to fit made %d fits of 2", n)
	}
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": again}).want(201)
	if list := s.waitForFits(bow, 3); len(list[2].Readings) != 3 {
		t.Errorf("without the retracted reading the fit saw %v", list[2].Readings)
	}
}

// A refit that runs is cancelled by a newer reading, and its progress is what
// GET /bows/{id}/fit shows; a new set-up gets its forecasts sealed before the
// bow is fitted to it; the end of the server waits for nothing long.
func TestNewerReadingCancelsRefit(t *testing.T) {
	s := refitting(t)
	bow, setup := s.bowWithSetUp()
	s.reading(bow, setup, obj{"kind": "speed", "text": "57.3 m/s"})
	s.reading(bow, setup, obj{"kind": "bare_shaft_right", "text": "6 cm", "distance": "30 m"})
	time.Sleep(130 * time.Millisecond) // it has begun
	newest := s.reading(bow, setup, obj{"kind": "bare_shaft_right", "text": "9 cm", "distance": "30 m"})
	list := s.waitForFits(bow, 1)
	time.Sleep(300 * time.Millisecond)
	if n := len(s.fits(bow)); n != 1 || len(list[0].Readings) != 3 || string(list[0].Readings[2]) != newest {
		t.Errorf("%d fits, the first of %v", n, list[0].Readings)
	}

	s.reading(bow, setup, obj{"kind": "speed", "text": "57.4 m/s"})
	time.Sleep(150 * time.Millisecond)
	next := id()
	higher := settings()
	higher["brace_height"] = obj{"value": "22.5 cm"}
	s.do("PUT", "/api/v1/setups/"+next, obj{"bow": bow, "parent": setup, "settings": higher}).want(201)
	list = s.waitForFits(bow, 2)
	if len(list) != 2 || string(list[1].SetUp) != next || len(list[1].Readings) != 4 {
		t.Errorf("%d fits, the last of set-up %s (want %s) and %v", len(list), list[1].SetUp, next, list[1].Readings)
	}
	forecasts, err := s.store.Forecasts().List(context.Background(), "", notebook.Query{Bow: notebook.ID(bow), Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	sealed := map[notebook.ID]int{} // of the new set-up, by fit
	for _, f := range forecasts.Rows {
		if string(f.SetUp) == next {
			sealed[f.Fit]++
		}
	}
	if sealed[list[0].ID] == 0 {
		t.Errorf("no forecast of the new set-up was sealed with the fit kept before it: %v", sealed)
	}
	s.reading(bow, next, obj{"kind": "speed", "text": "57 m/s"})
	time.Sleep(150 * time.Millisecond) // the cleanup meets a running one
}
