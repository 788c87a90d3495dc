package server_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// lastOn gives what a round says of a bow, nil where it does not name it.
func (s *site) lastOn(bow string) obj {
	s.t.Helper()
	for _, b := range s.do("GET", "/api/v1/round", nil).want(200).at("bows").([]any) {
		if b.(obj)["bow"] == bow {
			return b.(obj)
		}
	}
	return nil
}

func shownOf(last obj, kind string) string {
	line, ok := last[kind].(obj)
	if !ok {
		return ""
	}
	return fmt.Sprint(line["shown"])
}

// The round's answer, on both engines: the last of each kind that nothing
// replaced or took back, however much else was read since; of one's own and of
// shared bows only.
func TestRoundOfABow(t *testing.T) { lastReadings(t, openClub(t)) }

func TestRoundOfABowOnPostgreSQL(t *testing.T) {
	lastReadings(t, openClubOn(t, store.Options{Database: postgreSQL(t)}))
}

func lastReadings(t *testing.T, c *clubSite) {
	bow, setup, away := id(), id(), id()
	ann, coach := c.as["ann"], c.as["coach"]
	ann.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Heron 70"}).want(201)
	ann.do("PUT", "/api/v1/setups/"+setup, obj{"bow": bow, "reason": "first", "settings": settings()}).want(201)
	ann.do("PUT", "/api/v1/bows/"+away, obj{"name": "Old one"}).want(201)
	ann.do("PUT", "/api/v1/bows/"+away+"/about", obj{"name": "Old one", "style": "recurve", "archived": true}, "If-Match", ann.version(away)).want(200)
	read := func(kind, text string, more obj) string {
		body := obj{"bow": bow, "setup": setup, "kind": kind, "text": text}
		for k, v := range more {
			body[k] = v
		}
		name := id()
		coach.do("PUT", "/api/v1/readings/"+name, body).want(201)
		return name
	}
	if last := coach.lastOn(bow); last == nil || len(last) != 1 {
		t.Fatalf("before anything was read: %v", last)
	}
	read("brace_height", "215 mm", nil)
	read("brace_height", "220 mm", nil)
	wrong := read("tiller", "4 mm", nil)
	for range 30 { // more than is looked at together
		read("speed", "58 m/s", nil)
	}
	if last := coach.lastOn(bow); !strings.HasPrefix(shownOf(last, "brace_height"), "220") || !strings.HasPrefix(shownOf(last, "tiller"), "4") || last["nocking_point"] != nil {
		t.Errorf("behind thirty speeds: %v", last)
	}
	fix := read("tiller", "5 mm", obj{"corrects": wrong})
	if last := ann.lastOn(bow); !strings.HasPrefix(shownOf(last, "tiller"), "5") {
		t.Errorf("corrected: %v", last)
	}
	coach.do("PUT", "/api/v1/retractions/"+id(), obj{"target": fix, "reason": "slip"}).want(201)
	if last := ann.lastOn(bow); !strings.HasPrefix(shownOf(last, "tiller"), "4") {
		t.Errorf("the correction taken back: %v", last)
	}
	read("tiller", "6 mm", obj{"corrects": read("nocking_point", "6 mm", nil)}) // written down as the wrong thing
	if last := ann.lastOn(bow); !strings.HasPrefix(shownOf(last, "tiller"), "6") || last["nocking_point"] != nil {
		t.Errorf("corrected to another kind: %v", last)
	}
	trial := id()
	ann.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": obj{"turns_per_step": 4}}).want(201)
	read("brace_height", "238 mm", obj{"trial": trial, "stop": 0})
	if last := ann.lastOn(bow); !strings.HasPrefix(shownOf(last, "brace_height"), "220") {
		t.Errorf("after a stop of a trial: %v", last)
	}
	for who, sees := range map[string]bool{"ann": true, "coach": true, "viewer": true, "owner": true, "ben": false, "other coach": false} {
		if last := c.as[who].lastOn(bow); (last != nil) != sees {
			t.Errorf("%s sees %v", who, last)
		}
		if c.as[who].lastOn(away) != nil {
			t.Errorf("%s sees a bow put away in the round", who)
		}
	}
	c.as["nobody"].do("GET", "/api/v1/round", nil).want(401)
}

// oneFails is a store that cannot read the readings of one bow.
type oneFails struct {
	notebook.Store
	bow *string
}

type failingReadings struct {
	notebook.Records[notebook.Reading]
	bow *string
}

func (o oneFails) Readings() notebook.Records[notebook.Reading] {
	return failingReadings{o.Store.Readings(), o.bow}
}

func (f failingReadings) List(ctx context.Context, actor notebook.ID, q notebook.Query) (notebook.Page[notebook.Reading], error) {
	if string(q.Bow) == *f.bow {
		return notebook.Page[notebook.Reading]{}, errors.New("the disk does not give it back")
	}
	return f.Records.List(ctx, actor, q)
}

// One bow that cannot be looked up leaves the others their readings.
func TestRoundSurvivesOneBow(t *testing.T) {
	broken := ""
	s := open(t, func(c *server.Config) { c.Notebook = oneFails{c.Notebook, &broken} })
	bad, _ := s.bowWithSetUp()
	good, setup := s.bowWithSetUp()
	s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": good, "setup": setup, "kind": "tiller", "text": "4 mm"}).want(201)
	broken = bad
	if last := s.lastOn(bad); last["failed"] != true {
		t.Errorf("the bow that fails: %v", last)
	}
	if last := s.lastOn(good); shownOf(last, "tiller") == "" || last["failed"] != nil {
		t.Errorf("the other one: %v", last)
	}
}

// What is read and taken back on one bow leaves what is known of the others: a
// full bench is not made anew at every slip.
func TestTakingBackConcernsOneBow(t *testing.T) {
	broken := ""
	s := open(t, func(c *server.Config) { c.Notebook = oneFails{c.Notebook, &broken} })
	one, setup := s.bowWithSetUp()
	other, _ := s.bowWithSetUp()
	slip, back := id(), id()
	s.do("PUT", "/api/v1/readings/"+slip, obj{"bow": one, "setup": setup, "kind": "tiller", "text": "4 mm"}).want(201)
	s.lastOn(one)
	s.do("GET", "/api/v1/bows", nil).want(200)
	broken = other // from here on it is known from memory, or not at all
	s.do("PUT", "/api/v1/retractions/"+back, obj{"target": slip, "reason": "slip"}).want(201)
	if last := s.lastOn(one); last["tiller"] != nil {
		t.Errorf("the reading is still shown: %v", last)
	}
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": back, "reason": "it was right"}).want(201)
	if last := s.lastOn(one); shownOf(last, "tiller") == "" {
		t.Errorf("the reading was brought back and is not shown: %v", last)
	}
	if last := s.lastOn(other); last["failed"] != nil {
		t.Error("the round looked the other bow up again")
	}
	s.do("GET", "/api/v1/bows", nil).want(200)
}

// Two juniors call their bows alike: whoever looks after both sees whose each
// is, on the bench and on every sheet; in a notebook of one archer no name is
// printed.
func TestWhoseBow(t *testing.T) {
	c := openClub(t)
	c.as["ben"].do("PUT", "/api/v1/shares/"+id(), obj{"with": c.ids["coach"], "may": "work"}).want(201)
	bows, setups := map[string]string{}, map[string]string{}
	for _, who := range []string{"ann", "ben"} {
		bows[who], setups[who] = id(), id()
		c.as[who].do("PUT", "/api/v1/bows/"+bows[who], obj{"name": "Club 66"}).want(201)
		c.as[who].do("PUT", "/api/v1/setups/"+setups[who], obj{"bow": bows[who], "reason": "first", "settings": settings()}).want(201)
	}
	coach := c.as["coach"]
	got := map[string]any{}
	for _, v := range coach.do("GET", "/api/v1/bows", nil).want(200).at("bows").([]any) {
		got[v.(obj)["bow"].(obj)["id"].(string)] = v.(obj)["archer"]
	}
	for who, bow := range bows {
		if got[bow] != who {
			t.Errorf("the bench says of %s's bow %v", who, got[bow])
		}
	}
	session, trial := id(), id()
	coach.do("PUT", "/api/v1/sessions/"+session, obj{"bow": bows["ann"]}).want(201)
	coach.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setups["ann"], "ask": obj{"turns_per_step": 3}}).want(201)
	for i, m := range []string{"18 m", "30 m", "50 m"} {
		coach.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bows["ann"], "setup": setups["ann"], "kind": "sight_mark", "text": fmt.Sprintf("%d mm", 20+15*i), "distance": m}).want(201)
	}
	for _, address := range []string{"setup/" + setups["ann"], "session/" + session, "plan/" + trial, "marks/" + setups["ann"], "putback/" + setups["ann"]} {
		if text := string(coach.do("GET", "/sheets/"+address+".txt", nil).want(200).body); !strings.Contains(text, "Club 66, ann") {
			t.Errorf("%s does not say whose bow it is:\n%.300s", address, text)
		}
	}
	labels := string(coach.do("GET", "/sheets/label/"+bows["ann"]+".txt?also="+bows["ben"], nil).want(200).body)
	both := string(coach.do("GET", "/sheets/compare/"+setups["ann"]+".txt?with="+setups["ben"], nil).want(200).body)
	for _, want := range []string{"Club 66 (ann)", "Club 66 (ben)"} {
		if !strings.Contains(labels, want) {
			t.Errorf("the labels lack %q:\n%s", want, labels)
		}
	}
	if !strings.Contains(both, "Club 66, ann and Club 66, ben") {
		t.Errorf("two bows side by side:\n%.300s", both)
	}
	alone := open(t)
	bow, setup := alone.bowWithSetUp()
	for _, address := range []string{"label/" + bow, "setup/" + setup} {
		if text := string(alone.do("GET", "/sheets/"+address+".txt", nil).want(200).body); strings.Contains(text, "Archer") {
			t.Errorf("a notebook of one prints the archer's name on %s:\n%.300s", address, text)
		}
	}
}
