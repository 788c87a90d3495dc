package server_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/notebook"
)

// slowBook gives the pages of readings one at a time: each waits to be let
// through, so that an answer that is held until all is read never begins.
type slowBook struct {
	notebook.Store
	let chan struct{} // one for each page
}

type slowReadings struct {
	notebook.Records[notebook.Reading]
	let chan struct{}
}

func (b slowBook) Readings() notebook.Records[notebook.Reading] {
	return slowReadings{b.Store.Readings(), b.let}
}

func (r slowReadings) List(ctx context.Context, actor notebook.ID, q notebook.Query) (notebook.Page[notebook.Reading], error) {
	if !q.Correcting && q.Limit > 200 {
		select {
		case <-r.let:
		case <-ctx.Done():
			return notebook.Page[notebook.Reading]{}, ctx.Err()
		}
	}
	return r.Records.List(ctx, actor, q)
}

// Rows leave while the store still has pages to give: no export is held until
// it is whole, whatever its length.
func TestExportsBeginBeforeTheyAreRead(t *testing.T) {
	let := make(chan struct{}, 10)
	s := open(t, func(c *server.Config) { c.Notebook = slowBook{c.Notebook, let} })
	bow, setup := s.bowWithSetUp()
	me := s.do("GET", "/api/v1/me", nil).at("person/id").(string)
	const many = 1100 // three pages
	for i := range many {
		r := notebook.Reading{Stamp: notebook.Stamp{ID: notebook.NewID(), By: notebook.ID(me), At: time.Now().UTC()}, Bow: notebook.ID(bow), SetUp: notebook.ID(setup),
			Kind: notebook.ReadBrace, Value: 0.2 + float64(i)/1e5, Unit: "mm", Text: fmt.Sprintf("%.2f mm", 200+float64(i)/100)}
		if _, _, err := s.store.Readings().Put(t.Context(), notebook.ID(me), r); err != nil {
			t.Fatal(err)
		}
	}
	for path, of := range map[string]string{"/api/v1/readings.csv?bow=" + bow: ",brace_height,", "/api/v1/export.jsonl?bow=" + bow: `"noun":"reading"`} {
		ctx, stop := context.WithTimeout(t.Context(), 20*time.Second)
		r, err := http.NewRequestWithContext(ctx, "GET", s.url+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		let <- struct{}{} // one page, and no more
		answer, err := http.DefaultTransport.RoundTrip(r)
		if err != nil {
			t.Fatalf("%s: no answer while the store is asked: %v", path, err)
		}
		lines, n := bufio.NewScanner(answer.Body), 0
		lines.Buffer(nil, 1<<20)
		for n < 500 && lines.Scan() {
			n += strings.Count(lines.Text(), of)
		}
		if n < 500 {
			t.Fatalf("%s: %d rows of the first page while the second is held (%v)", path, n, lines.Err())
		}
		let <- struct{}{}
		let <- struct{}{}
		for lines.Scan() {
			n += strings.Count(lines.Text(), of)
		}
		if n != many || lines.Err() != nil {
			t.Errorf("%s: %d rows, %d meant (%v)", path, n, many, lines.Err())
		}
		if err := answer.Body.Close(); err != nil {
			t.Error(err)
		}
		stop()
	}
}

// jsonLines reads one record a line, by noun.
func jsonLines(t *testing.T, body []byte) map[string][]obj {
	t.Helper()
	out := map[string][]obj{}
	for line := range bytes.Lines(body) {
		var one struct {
			Noun   string
			Record obj
		}
		if err := json.Unmarshal(line, &one); err != nil {
			t.Fatalf("%v: %s", err, line)
		}
		out[one.Noun] = append(out[one.Noun], one.Record)
	}
	return out
}

// exportsOf: everything of Ann's bow is in its lines once, as the API gives it,
// and nothing of another's; a token that may only read gets them too.
func (c *clubSite) exportsOf(t *testing.T, told []exchange) {
	t.Helper()
	benBow, benSetUp := c.as["ben"].bowWithSetUp()
	c.as["ben"].do("PUT", "/api/v1/readings/"+id(), obj{"bow": benBow, "setup": benSetUp, "kind": "brace_height", "text": "219.9 mm", "note": "of Ben"}).want(201)
	spare := id()
	c.as["ann"].do("PUT", "/api/v1/bows/"+spare, obj{"name": "Spare of Ann's"}).want(201)
	bow, undo := "", ""
	for _, e := range told {
		switch {
		case bow == "" && e.operation == "PUT /api/v1/bows/{id}":
			bow = e.path[strings.LastIndexByte(e.path, '/')+1:]
		case e.operation == "PUT /api/v1/retractions/{id}":
			undo = e.path[strings.LastIndexByte(e.path, '/')+1:]
		}
	}
	back := id()
	c.as["ann"].do("PUT", "/api/v1/retractions/"+back, obj{"target": undo, "reason": "it was right"}).want(201)
	token := c.as["ann"].do("PUT", "/api/v1/tokens/"+id(), obj{"name": "sheet", "may": "read", "days": 9}).want(200).at("secret")
	bearer := []string{"Authorization", fmt.Sprint("Bearer ", token)}

	one := c.as["nobody"].do("GET", "/api/v1/export.jsonl?bow="+bow, nil, bearer...).want(200)
	got := jsonLines(t, one.body)
	for _, noun := range []string{"bow", "setup", "session", "recording", "onsets", "trial", "trial_event", "verdict", "reading", "end", "fit", "forecast", "ruling", "retraction"} {
		if len(got[noun]) == 0 {
			t.Errorf("no %s in the export of a bow", noun)
		}
	}
	seen := map[string]bool{}
	for noun, rows := range got {
		for _, r := range rows {
			if key := fmt.Sprint(noun, r["id"]); seen[key] {
				t.Errorf("%s stands twice", key)
			} else {
				seen[key] = true
			}
		}
	}
	if !seen["retraction"+undo] || !seen["retraction"+back] || len(got["bow"]) != 1 {
		t.Errorf("what was taken back and brought back, or the bow: %v, %v", got["retraction"], got["bow"])
	}
	for _, r := range got["reading"] {
		stored := c.as["ann"].do("GET", fmt.Sprint("/api/v1/readings/", r["id"]), nil).want(200).at("reading")
		if a, b := fmt.Sprint(stored), fmt.Sprint(r); a != b {
			t.Errorf("a reading is exported as %s, stored %s", b, a)
		}
	}

	everything := c.as["nobody"].do("GET", "/api/v1/export.jsonl", nil, bearer...).want(200)
	all := jsonLines(t, everything.body)
	if n := len(all["bow"]); n != 2 || len(all["reading"]) != len(got["reading"]) {
		t.Errorf("all of Ann's: %d bows, %d readings; of the bow %d", n, len(all["reading"]), len(got["reading"]))
	}
	for path, answer := range map[string]reply{"a bow": one, "all": everything, "the table": c.as["ann"].do("GET", "/api/v1/readings.csv", nil).want(200)} {
		if strings.Contains(string(answer.body), benBow) || strings.Contains(string(answer.body), "of Ben") {
			t.Errorf("%s: something of Ben's is in it", path)
		}
	}
	for _, who := range []string{"ben", "other coach"} {
		c.as[who].do("GET", "/api/v1/export.jsonl?bow="+bow, nil).want(404)
		for _, path := range []string{"/api/v1/export.jsonl", "/api/v1/readings.csv", "/api/v1/readings.csv?bow=" + bow} {
			if body := string(c.as[who].do("GET", path, nil).want(200).body); strings.Contains(body, bow) {
				t.Errorf("%s sees something of Ann's in %s", who, path)
			}
		}
	}
	if viewer := c.as["viewer"].do("GET", "/api/v1/export.jsonl?bow="+bow, nil).want(200); !bytes.Equal(viewer.body, one.body) {
		t.Error("whoever may read the bow gets other lines")
	}
	c.as["nobody"].do("GET", "/api/v1/export.jsonl", nil).want(401)
}

// A table of readings as spreadsheets read it (U19): both dialects say the
// same, corrected and retracted readings are left out, nothing is changed to a
// date, a number or a formula.
func TestReadingsAsATable(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	note := func(more obj) string {
		one := id()
		s.do("PUT", "/api/v1/readings/"+one, with(obj{"bow": bow, "setup": setup, "kind": "brace_height"}, more)).want(201)
		return one
	}
	wrong := note(obj{"text": "22.1 cm"})
	fixed := note(obj{"text": "22.25 cm", "corrects": wrong, "note": "=1+1; \"quoted\"", "instrument": "3/4"})
	gone := note(obj{"text": "22.9 cm"})
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": gone, "reason": "slip"}).want(201)
	bare := note(obj{"kind": "bare_shaft_right", "text": "-4,5 cm", "distance": "30 m", "arrows": 6})

	read := func(dialect string, comma rune) (out [][]string) {
		body := s.do("GET", "/api/v1/readings.csv?bow="+bow+"&dialect="+dialect, nil).want(200).body
		plain, marked := bytes.CutPrefix(body, []byte("\uFEFF"))
		if marked != (comma == ';') {
			t.Errorf("%s: the byte order mark: %v", dialect, marked)
		}
		table := csv.NewReader(bytes.NewReader(plain))
		table.Comma = comma
		out, err := table.ReadAll()
		if err != nil {
			t.Fatalf("%s: %v\n%s", dialect, err, body)
		}
		return out
	}
	commas, semicolons := read("comma", ','), read("semicolon", ';')
	if len(commas) != 3 || len(commas) != len(semicolons) {
		t.Fatalf("%d and %d lines, 3 meant: %q", len(commas), len(semicolons), commas)
	}
	cell := func(table [][]string, row int, column string) string {
		return table[row][slices.Index(table[0], column)]
	}
	for _, want := range []struct {
		row                  int
		column, comma, other string
	}{
		{1, "id", fixed, fixed}, {1, "value_si", "0.2225", "0,2225"}, {1, "unit_si", "m", "m"}, {1, "as_typed", "22.25 cm", "22.25 cm"}, {1, "note", "'=1+1; \"quoted\"", "'=1+1; \"quoted\""},
		{1, "instrument", "'3/4", "'3/4"}, {2, "id", bare, bare}, {2, "value_si", "-0.045", "-0,045"}, {2, "as_typed", "'-4,5 cm", "'-4,5 cm"}, {2, "distance_m", "30", "30"}, {2, "arrows", "6", "6"},
	} {
		if a, b := cell(commas, want.row, want.column), cell(semicolons, want.row, want.column); a != want.comma || b != want.other {
			t.Errorf("%s of line %d: %q and %q, want %q and %q", want.column, want.row, a, b, want.comma, want.other)
		}
	}
	if _, err := time.Parse(time.RFC3339, cell(semicolons, 1, "at_utc")); err != nil {
		t.Error(err)
	}
	s.do("GET", "/api/v1/readings.csv?dialect=tab", nil).want(422)
}

// The other dialect of a table of arrows is read back as the same arrows.
func TestEndsInBothDialects(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	s.do("PUT", "/api/v1/ends/"+id(), obj{"bow": bow, "setup": setup, "number": 1, "distance": "70 m", "face": "122",
		"impacts": []obj{{"arrow": "7; blue", "x_m": 0.0315, "y_m": -0.0525}, {"arrow": "007", "x_m": -0.084, "y_m": 0.017}}}).want(201)
	var read []string
	for _, dialect := range []string{"comma", "semicolon"} {
		table := s.do("GET", "/api/v1/ends.csv?bow="+bow+"&dialect="+dialect, nil).want(200).body
		r := s.do("POST", "/api/v1/ends/read-csv", string(table), "Content-Type", "text/csv").want(200)
		read = append(read, fmt.Sprint(r.at("ends")))
	}
	if read[0] != read[1] || !strings.Contains(read[1], "0.0315") || !strings.Contains(read[1], "7; blue") {
		t.Errorf("one dialect reads\n%s\nthe other\n%s", read[0], read[1])
	}
}

// A reading that was noted on the wrong set-up and corrected to another stands
// nowhere, also where the table is of that set-up alone.
func TestReadingsTableKnowsCorrectionsElsewhere(t *testing.T) {
	s := open(t)
	bow, first := s.bowWithSetUp()
	second, wrong := id(), id()
	s.do("PUT", "/api/v1/setups/"+second, obj{"bow": bow, "parent": first, "reason": "other limbs", "settings": settings()}).want(201)
	s.do("PUT", "/api/v1/readings/"+wrong, obj{"bow": bow, "setup": first, "kind": "tiller", "text": "4 mm"}).want(201)
	s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": second, "kind": "tiller", "text": "4 mm", "corrects": wrong}).want(201)
	for setup, want := range map[string]int{first: 0, second: 1} {
		table := string(s.do("GET", "/api/v1/readings.csv?setup="+setup, nil).want(200).body)
		if n := strings.Count(table, ",tiller,"); n != want {
			t.Errorf("%d readings stand on the set-up, not %d:\n%s", n, want, table)
		}
	}
}
