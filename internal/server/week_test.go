package server_test

import (
	"context"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/notebook"
)

// judged asks for the week until nothing is being computed.
func (s *site) judgedWeek() reply {
	s.t.Helper()
	for range 300 {
		r := s.do("GET", "/api/v1/week", nil).want(200)
		if r.at("state") == "done" {
			return r
		}
		time.Sleep(100 * time.Millisecond)
	}
	s.t.Fatal("the week is never done")
	return reply{}
}

// bowIn finds a bow of a week by its name.
func bowIn(r reply, name string) obj {
	for _, a := range r.at("archers").([]any) {
		for _, b := range a.(obj)["bows"].([]any) {
			if b.(obj)["name"] == name {
				return b.(obj)
			}
		}
	}
	return nil
}

// The coach's week: what the bows want that the coach may see, and nothing of
// others'; on paper too.
func TestCoachsWeek(t *testing.T) {
	c := openClub(t)
	bow, setup := id(), id()
	c.as["ann"].do("PUT", "/api/v1/bows/"+bow, obj{"name": "Heron 70", "style": "recurve", "growing": true, "at": "2026-05-04T09:30:00Z"}).want(201)
	worn := settings()
	worn["string"] = obj{"material": "hmpe", "strands": 18, "shots_on_it": 11000}
	c.as["ann"].do("PUT", "/api/v1/setups/"+setup, obj{"bow": bow, "reason": "indoor", "settings": worn, "at": "2026-05-04T09:30:00Z"}).want(201)
	for day := 1; day <= 9; day++ {
		text := "22.1 cm"
		if day > 6 {
			text = "21.4 cm"
		}
		c.as["coach"].do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": text, "at": fmt.Sprintf("2026-05-%02dT18:00:00Z", 4+day)}).want(201)
	}
	c.as["ben"].do("PUT", "/api/v1/bows/"+id(), obj{"name": "Kestrel 66", "style": "recurve"}).want(201)
	r := c.as["coach"].judgedWeek()
	b := bowIn(r, "Heron 70")
	if b == nil || bowIn(r, "Kestrel 66") != nil {
		t.Fatalf("the coach's week: %s", r.body)
	}
	if b["wants"] != true || b["judged"] != true || len(b["drifted"].([]any)) != 1 || b["next"] == "" {
		t.Errorf("the bow: %v", b)
	}
	if b["string"].(obj)["state"] != "due" || b["draw_length"].(obj)["state"] != "due" {
		t.Errorf("what falls due: %v, %v", b["string"], b["draw_length"])
	}
	drawn := id()
	c.as["ann"].do("PUT", "/api/v1/readings/"+drawn, obj{"bow": bow, "setup": setup, "kind": "draw_length", "text": "28 in"}).want(201)
	draw := func(want, when string) {
		t.Helper()
		if again := bowIn(c.as["coach"].judgedWeek(), "Heron 70"); again["draw_length"].(obj)["state"] != want {
			t.Errorf("%s: %v, want %s", when, again["draw_length"], want)
		}
	}
	draw("fine", "after the draw length was read")
	gone := id()
	c.as["ann"].do("PUT", "/api/v1/retractions/"+gone, obj{"target": drawn}).want(201)
	draw("due", "after that was taken back")
	c.as["ann"].do("PUT", "/api/v1/retractions/"+id(), obj{"target": gone}).want(201)
	draw("fine", "after it was brought back")
	card := string(c.as["coach"].do("GET", "/sheets/week/"+c.ids["ann"]+".txt", nil).want(200).body)
	list := string(c.as["coach"].do("GET", "/sheets/weeklist/"+c.ids["coach"]+".txt", nil).want(200).body)
	for _, want := range []string{"Heron 70", "brace height", "change: string", "ann"} {
		if !strings.Contains(card, want) || !strings.Contains(list, want) {
			t.Errorf("%q is missing on paper:\n%s\n%s", want, card, list)
		}
	}
	if pdf := c.as["coach"].do("GET", "/sheets/week/"+c.ids["ann"]+".pdf", nil).want(200); !strings.HasPrefix(string(pdf.body), "%PDF") {
		t.Error("the card is no PDF")
	}
	for _, who := range []string{"ben", "other coach"} {
		c.as[who].do("GET", "/sheets/week/"+c.ids["ann"]+".txt", nil).want(404)
		if r := c.as[who].judgedWeek(); strings.Contains(string(r.body), "Heron") {
			t.Errorf("%s sees %s", who, r.body)
		}
	}
	c.as["ben"].do("GET", "/api/v1/setups/"+setup+"/putback", nil).want(404)
}

// An earlier set-up is put back in order, as the bow now reads; on paper too.
func TestPutBack(t *testing.T) {
	s := open(t)
	bow, indoor, outdoor := id(), id(), id()
	s.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Heron 70", "style": "recurve"}).want(201)
	s.do("PUT", "/api/v1/setups/"+indoor, obj{"bow": bow, "reason": "indoor", "settings": settings()}).want(201)
	changed := settings()
	changed["nocking_point"] = obj{"value": "12 mm"}
	changed["brace_height"] = obj{"value": "21.5 cm"}
	s.do("PUT", "/api/v1/setups/"+outdoor, obj{"bow": bow, "parent": indoor, "reason": "outdoor", "settings": changed}).want(201)
	r := s.do("GET", "/api/v1/setups/"+indoor+"/putback", nil).want(200)
	first := r.at("steps").([]any)[0].(obj)
	if first["part"] != "Brace height" || first["tool"] != "stringer, bow square" || !strings.HasPrefix(fmt.Sprint(first["changes"].([]any)[0].(obj)["by"]), "+") || len(r.at("cautions").([]any)) == 0 {
		t.Errorf("%s", r.body)
	}
	text := string(s.do("GET", "/sheets/putback/"+indoor+".txt", nil).want(200).body)
	if !strings.Contains(text, "1. Brace height (stringer, bow square)") || !strings.Contains(text, "Never loose a string") {
		t.Error(text)
	}
	if same := s.do("GET", "/api/v1/setups/"+outdoor+"/putback", nil).want(200); len(same.at("steps").([]any)) != 0 {
		t.Errorf("to itself: %s", same.body)
	}
}

// BenchmarkWeek is a coach's first look at thirty archers with three bows each,
// all judged before.
func BenchmarkWeek(b *testing.B) {
	c := openClub(b, func(cfg *server.Config) { cfg.RefitAfter = -1 })
	ctx := context.Background()
	stamp := func(by notebook.ID, day int) notebook.Stamp {
		return notebook.Stamp{ID: notebook.NewID(), By: by, At: time.Date(2026, 5, 1+day, 18, 0, 0, 0, time.UTC)}
	}
	base, err := notebook.ReadSettings([]byte(`{"draw":{"length":"28.5 in","weight":"40 lbf"},"limbs":{"bow_length":"70 in","range_low":"21 cm","range_high":"24 cm"},"brace_height":{"value":"22.2 cm"},"arrow":{"mass":"331 gr","spine":"550"}}`))
	if err != nil {
		b.Fatal(err)
	}
	check := func(_ any, _ notebook.Outcome, err error) {
		if err != nil {
			b.Fatal(err)
		}
	}
	for a := range 30 {
		p := notebook.Person{Stamp: stamp("", 0), Name: fmt.Sprintf("Archer %02d", a), Hand: notebook.RightHanded, Role: notebook.ArcherRole, Version: 1}
		p.By = p.ID
		stored, o, err := c.store.People().Put(ctx, p.ID, p)
		check(stored, o, err)
		share := notebook.Share{Stamp: stamp(p.ID, 0), Archer: p.ID, With: notebook.ID(c.ids["coach"]), May: notebook.MayWork}
		sh, o, err := c.store.Shares().Put(ctx, p.ID, share)
		check(sh, o, err)
		for k := range 3 {
			bow := notebook.Bow{Stamp: stamp(p.ID, 0), Owner: p.ID, Name: fmt.Sprintf("Bow %d", k), Style: notebook.Recurve, Version: 1}
			x, o, err := c.store.Bows().Put(ctx, p.ID, bow)
			check(x, o, err)
			setup := notebook.SetUp{Stamp: stamp(p.ID, 0), Bow: bow.ID, Reason: "as it is", Settings: base}
			y, o, err := c.store.SetUps().Put(ctx, p.ID, setup)
			check(y, o, err)
			for day := range 40 {
				r := notebook.Reading{Stamp: stamp(p.ID, day), Bow: bow.ID, SetUp: setup.ID, Kind: notebook.ReadBrace, Value: 0.222, Text: "22.2 cm", Unit: "cm"}
				z, o, err := c.store.Readings().Put(ctx, p.ID, r)
				check(z, o, err)
			}
		}
	}
	notebook.Forget(c.book)
	c.as["coach"].judgedWeek()
	b.ResetTimer()
	for range b.N {
		c.as["coach"].do("GET", "/api/v1/week", nil).want(200)
	}
}

// One bow that cannot be read leaves the others their week.
func TestWeekSurvivesOneBow(t *testing.T) {
	broken := ""
	s := open(t, func(c *server.Config) { c.Notebook = oneFails{c.Notebook, &broken} })
	bad, _ := s.bowWithSetUp()
	s.bowWithSetUp()
	broken = bad
	for _, a := range s.judgedWeek().at("archers").([]any) {
		for _, b := range a.(obj)["bows"].([]any) {
			one := b.(obj)
			if said := fmt.Sprint(one["string"]); (one["bow"] == bad) != strings.Contains(said, "could not be read") || (one["bow"] != bad) != (one["judged"] == true) {
				t.Errorf("the broken one is %s: %v", bad, one)
			}
		}
	}
}

// heldEnds is a store whose ends are read one by one, when they are let.
type heldEnds struct {
	notebook.Store
	begun *atomic.Int32
	hold  *atomic.Pointer[chan struct{}] // nil: nobody waits
}

type heldList struct {
	notebook.Records[notebook.End]
	of heldEnds
}

func (h heldEnds) Ends() notebook.Records[notebook.End] { return heldList{h.Store.Ends(), h} }

func (l heldList) List(ctx context.Context, actor notebook.ID, q notebook.Query) (notebook.Page[notebook.End], error) {
	if hold := l.of.hold.Load(); hold != nil {
		l.of.begun.Add(1)
		select {
		case <-*hold:
		case <-ctx.Done():
			return notebook.Page[notebook.End]{}, ctx.Err()
		}
	}
	return l.Records.List(ctx, actor, q)
}

// countedRulings counts how often the rulings are read.
type countedRulings struct {
	notebook.Store
	read *atomic.Int32
}

type countedList struct {
	notebook.Records[notebook.Ruling]
	read *atomic.Int32
}

func (c countedRulings) Rulings() notebook.Records[notebook.Ruling] {
	return countedList{c.Store.Rulings(), c.read}
}

func (c countedList) List(ctx context.Context, actor notebook.ID, q notebook.Query) (notebook.Page[notebook.Ruling], error) {
	c.read.Add(1)
	return c.Records.List(ctx, actor, q)
}

// The rulings are read once for all bows, and again for one that changed
// meanwhile: it may be by a ruling.
func TestWeekKnowsTheLastRuling(t *testing.T) {
	var begun, read atomic.Int32
	var hold atomic.Pointer[chan struct{}]
	s := open(t, func(c *server.Config) {
		c.Notebook, c.RefitAfter = countedRulings{heldEnds{c.Notebook, &begun, &hold}, &read}, -1
	})
	bows := map[string]string{}
	for range 3 {
		bow, setup := s.bowWithSetUp()
		bows[bow] = setup
	}
	gate := make(chan struct{})
	hold.Store(&gate)
	read.Store(0)
	s.do("GET", "/api/v1/week", nil).want(200) // the first bow is being looked at
	if n := read.Load(); n != 1 || begun.Load() != 1 {
		t.Fatalf("rulings were read %d times for %d bows", n, begun.Load())
	}
	for bow, setup := range bows {
		s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "tiller", "text": "4 mm"}).want(201)
	}
	read.Store(0)
	hold.Store(nil)
	close(gate)
	s.judgedWeek()
	if n := read.Load(); n < 3 { // for the two that followed, and for the first, which is looked at anew
		t.Errorf("for three bows that changed meanwhile the rulings were read %d times", n)
	}
}

// However often the week is asked for, and whatever is noted meanwhile, a bow
// is looked at once at a time; until then what is known of it is shown, and
// that it is judged anew.
func TestWeekLooksOnceAtATime(t *testing.T) {
	var begun atomic.Int32
	var hold atomic.Pointer[chan struct{}]
	s := open(t, func(c *server.Config) { c.Notebook, c.RefitAfter = heldEnds{c.Notebook, &begun, &hold}, -1 })
	bow, setup := s.bowWithSetUp()
	first := func(r reply) obj { return r.at("archers").([]any)[0].(obj)["bows"].([]any)[0].(obj) }
	known := first(s.judgedWeek())
	gate := make(chan struct{})
	hold.Store(&gate)
	for range 3 {
		s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "tiller", "text": "4 mm"}).want(201)
		r := s.do("GET", "/api/v1/week", nil).want(200)
		b := first(r)
		if r.at("state") != "computing" || r.at("bows_computing") != 1.0 || b["judged"] != false {
			t.Errorf("while it is looked at: %s", r.body)
		}
		if fmt.Sprint(b["string"]) != fmt.Sprint(known["string"]) || b["next"] != nil {
			t.Errorf("what was known, %v, became %v", known, b)
		}
	}
	waiting := strings.Contains(string(s.do("GET", "/metrics", nil).want(200).body), "tautline_waiting_work 0\n")
	if n := begun.Load(); n != 1 || !waiting {
		t.Errorf("the bow was looked at %d times at once, and %v that nobody waits to", n, waiting)
	}
	hold.Store(nil)
	close(gate)
	if b := first(s.judgedWeek()); b["judged"] != true {
		t.Errorf("afterwards: %v", b)
	}
}
