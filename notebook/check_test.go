package notebook

import (
	"strings"
	"testing"
	"time"
)

// good is a bow file that has no problem.
const good = `{
 "riser":{"length":"25 in","offset":"4 mm","mass":"2.6 kg","rods":[{"place":"long","length":"30 in","mass":"180 g"}]},
 "limbs":{"bow_length":"70 in","marked_weight":"38 lbf","range_low":"21 cm","range_high":"8 7/8 in"},
 "string":{"material":"hmpe","strands":18,"twists":20,"mass":"6.2 g","nocking_mass":"0.5 g"},
 "draw":{"length":"28.5 in","from":"standard","weight":"40 lbf","points":[{"at":"50 cm","force":"24 lbf"},{"at":"60 cm","force":"31 lbf"}]},
 "brace_height":{"value":"22,2 cm"},
 "nocking_point":{"value":"7 mm"}, "tiller":"4 mm", "centre_shot":"2 mm",
 "button":{"spring":"medium","turns":3.5}, "rest":{"height":"40 mm","wire_reach":"2 mm"},
 "arrow":{"mass":"331 gr","spine":"550","shaft_length":"73 cm","point_mass":"110 gr","nock_mass":"6 gr","fletching_mass":"9 gr"}}`

func read(t *testing.T, raw string) Settings {
	t.Helper()
	s, err := ReadSettings([]byte(raw))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestGoodSettingsHaveNoProblem(t *testing.T) {
	if p := read(t, good).Check(); len(p) > 0 {
		t.Error(p)
	}
}

// Every slip is refused under its own field, with what was perhaps meant.
func TestSlipsAreNamedBesideTheirField(t *testing.T) {
	for _, c := range []struct{ key, text, field, hint string }{
		{"brace_height", "22.5 mm", "/brace_height/value", "22.5 cm"},
		{"brace_height", "8 3/4 cm", "/brace_height/value", "8.75 in"},
		{"draw_weight", "200 lbf", "/draw/weight", "200 N"},
		{"draw_length", "28.5 cm", "/draw/length", "28.5 in"},
		{"arrow_mass", "331 g", "/arrow/mass", "331 gr"},
		{"point_mass", "110 g", "/arrow/point_mass", "110 gr"},
		{"limbs.range_high", "20 cm", "/limbs/range_high", "21 cm and 23 cm"},
		{"limbs.range_low", "", "/limbs/range_high", "21 cm and 23 cm"},
		{"string.material", "hemp", "/string/material", "hmpe"},
		{"strands", "180", "/string/strands", "16 to 20"},
		{"twists", "400", "/string/twists", "count"},
		{"draw.from", "floor", "/draw/from", "pivot"},
		{"draw.length", "", "/draw/length", "28.5 in"},
		{"brace_height.from", "button", "/brace_height/button_behind_pivot", "12 mm"},
		{"brace_height.from", "moon", "/brace_height/from", "button"},
		{"arrow_mass", "9.2 g", "/arrow/mass", "parts"}, // the point, nock and vanes alone weigh 125 gr = 8.1 g; see below
		{"riser.offset", "40 cm", "/riser/offset", "mm"},
		{"string.shots_on_it", "-3", "/string/shots_on_it", "0"},
		{"arrow.id", "7", "/arrow/id", "UUIDv7"},
		{"notes", strings.Repeat("x", maxText+1), "/notes", "letters"},
	} {
		s := read(t, good)
		if c.hint == "parts" {
			s = read(t, strings.Replace(good, `"point_mass":"110 gr"`, `"point_mass":"140 gr"`, 1))
		}
		s, err := s.With(c.key, c.text)
		if err != nil {
			t.Fatalf("%s=%q: %v", c.key, c.text, err)
		}
		found := s.Check()
		if len(found) != 1 || found[0].Field != c.field || !strings.Contains(found[0].Hint+found[0].Message, c.hint) {
			t.Errorf("%s=%q gave %v", c.key, c.text, found)
		}
	}
}

// All problems at once, so that a form shows every one.
func TestAllProblemsAtOnce(t *testing.T) {
	s := read(t, `{"draw":{"length":"28.5 cm","weight":"200 lbf"},"brace_height":{"value":"22 m"},"arrow":{"mass":"331 g"}}`)
	if found := s.Check(); len(found) != 4 {
		t.Errorf("%d problems: %v", len(found), found)
	}
}

func stamp() Stamp {
	return Stamp{ID: NewID(), By: NewID(), At: time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)}
}

func TestRecordsThatCannotStand(t *testing.T) {
	minus, far := -1, 120.0
	reading := Reading{Stamp: stamp(), Bow: NewID(), SetUp: NewID(), Kind: ReadBrace, Value: 0.222, Text: "22.2 cm", Unit: "cm"}
	with := func(change func(*Reading)) Reading { r := reading; change(&r); return r }
	recording := Recording{Stamp: stamp(), Hash: strings.Repeat("a", 64), Bytes: 3}
	for name, c := range map[string]struct {
		record Record
		field  string
	}{
		"fine":                  {reading, ""},
		"fine, comma":           {with(func(r *Reading) { r.Text = "22,2"; r.Unit = "cm" }), ""},
		"centimetres as metres": {with(func(r *Reading) { r.Value = 22.2 }), "/value"},
		"text says otherwise":   {with(func(r *Reading) { r.Text = "23.2 cm" }), "/value"},
		"unknown kind":          {with(func(r *Reading) { r.Kind = "colour" }), "/kind"},
		"other edge":            {with(func(r *Reading) { r.Edge = "shelf" }), "/edge"},
		"corrects itself":       {with(func(r *Reading) { r.Corrects = r.ID }), "/corrects"},
		"no set-up":             {with(func(r *Reading) { r.SetUp = "" }), "/setup"},
		"stop before the first": {with(func(r *Reading) { r.Stop = &minus }), "/stop"},
		"a NUL in the note":     {with(func(r *Reading) { r.Note = "a\x00b" }), "/note"},
		"not UTF-8":             {with(func(r *Reading) { r.Note = "a\xff" }), "/note"},
		"id of another version": {with(func(r *Reading) { r.ID = "9f2b6f0e-1f3a-4c2d-8a0b-6d1f0a7e9c11" }), "/id"},
		"id in capitals":        {with(func(r *Reading) { r.ID = ID(strings.ToUpper(string(r.ID))) }), "/id"},
		"no time":               {with(func(r *Reading) { r.At = time.Time{} }), "/at"},
		"nameless bow":          {Bow{Stamp: stamp(), Owner: NewID(), Name: " ", Style: Recurve, Version: 1}, "/name"},
		"bow of another trade":  {Bow{Stamp: stamp(), Owner: NewID(), Name: "x", Style: "longbow", Version: 1}, "/style"},
		"person without a hand": {Person{Stamp: stamp(), Name: "x", Version: 1}, "/hand"},
		"trial without plan":    {Trial{Stamp: stamp(), Bow: NewID(), SetUp: NewID(), What: "brace height"}, "/plan"},
		"reached nowhere":       {TrialEvent{Stamp: stamp(), Trial: NewID(), What: Reached}, "/stop"},
		"empty verdict":         {Verdict{Stamp: stamp(), Trial: NewID()}, "/content"},
		"damp beyond wet":       {Session{Stamp: stamp(), Humidity: &far}, "/humidity_percent"},
		"no hash":               {Recording{Stamp: stamp(), Hash: "zz"}, "/hash"},
		"taps out of order":     {func() Record { r := recording; r.Taps = []Tap{{0, 5}, {1, 2}}; return r }(), "/taps/1"},
		"retracts nothing":      {Retraction{Stamp: stamp()}, "/target"},
	} {
		found := c.record.Check()
		if c.field == "" {
			if len(found) > 0 {
				t.Errorf("%s: %v", name, found)
			}
			continue
		}
		if len(found) != 1 || found[0].Field != c.field || found[0].Code != Invalid || found[0].Hint == "" {
			t.Errorf("%s gave %v", name, found)
		}
	}
}

func TestSlipOfAReadingIsGuessed(t *testing.T) {
	r := Reading{Stamp: stamp(), Bow: NewID(), SetUp: NewID(), Kind: ReadSpeed, Value: 196, Text: "196 m/s", Unit: "m/s"}
	if p := r.Check(); len(p) != 1 || !strings.Contains(p[0].Hint, "196 ft/s") {
		t.Errorf("%v", p)
	}
}

// Every noun names its writer, and each reference the record it stands for.
func TestReferencesAreComplete(t *testing.T) {
	r := Reading{Stamp: stamp(), Bow: NewID(), SetUp: NewID(), Session: NewID(), Trial: NewID(), Corrects: NewID()}
	want := map[ID]Noun{r.By: PersonNoun, r.Bow: BowNoun, r.SetUp: SetUpNoun, r.Session: SessionNoun, r.Trial: TrialNoun, r.Corrects: ReadingNoun}
	got := r.Refers()
	if len(got) != len(want) {
		t.Errorf("%d references, want %d", len(got), len(want))
	}
	for _, ref := range got {
		if want[ref.ID] != ref.Noun {
			t.Errorf("%s is called a %s", ref.Field, ref.Noun)
		}
	}
	r.Session, r.Trial, r.Corrects = "", "", ""
	if n := len(r.Refers()); n != 3 {
		t.Errorf("unset references are listed: %d", n)
	}
}
