package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tautline/internal/report"
	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// desk is one bow in an open notebook and as a file: what a page, the API, a
// sheet and the terminal say of it is compared.
type desk struct {
	t     *testing.T
	url   string
	dir   string // the notebook's folder
	bow   string // the bow's file
	setup string // the same set-up in the notebook
}

func openDesk(t *testing.T) *desk {
	t.Helper()
	d := &desk{t: t, dir: t.TempDir(), bow: filepath.Join("..", "..", "examples", "heron-70.json")}
	book, err := store.Open(t.Context(), d.dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h, err := server.New(server.Config{Notebook: book, RefitAfter: -1, Sheets: report.Maker{Notebook: book}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(h)
	t.Cleanup(func() {
		srv.Close()
		h.Close()
		if err := book.Close(); err != nil {
			t.Error(err)
		}
	})
	d.url = srv.URL
	raw, err := os.ReadFile(d.bow)
	if err != nil {
		t.Fatal(err)
	}
	bow := notebook.NewID()
	d.setup = string(notebook.NewID())
	d.asks("PUT", "/api/v1/bows/"+string(bow), map[string]any{"name": "Heron 70"})
	d.asks("PUT", "/api/v1/setups/"+d.setup, map[string]any{"bow": bow, "reason": "first", "settings": json.RawMessage(raw)})
	return d
}

// asks gives the answer of the API, or a face of a sheet.
func (d *desk) asks(method, path string, body any) []byte {
	d.t.Helper()
	raw, err := json.Marshal(body)
	if err != nil {
		d.t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(d.t.Context(), method, d.url+path, bytes.NewReader(raw))
	if err != nil {
		d.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		d.t.Fatal(err)
	}
	text, err := io.ReadAll(answer.Body)
	if closed := answer.Body.Close(); err != nil || closed != nil || answer.StatusCode > 201 {
		d.t.Fatalf("%s: %d, %v: %s", path, answer.StatusCode, err, text)
	}
	return text
}

func (d *desk) told(path string, body any, into any) {
	d.t.Helper()
	if err := json.Unmarshal(d.asks("POST", path, body), into); err != nil {
		d.t.Fatal(err)
	}
}

// prints gives what the terminal prints.
func (d *desk) prints(args ...string) string {
	d.t.Helper()
	var out, errw bytes.Buffer
	if code := Main(args, strings.NewReader(""), &out, &errw); code != 0 {
		d.t.Fatalf("%v: %d: %s", args, code, errw.String())
	}
	return out.String()
}

// shown is a quantity as the API words it, which the pages print as it is.
type shown struct{ Name, Text, Doubt string }

var printed = regexp.MustCompile(`[+−-]?\d+(?:[.,]\d+)?`)

// figures are the numbers of a text, a plus left out.
func figures(text string) []string {
	list := printed.FindAllString(text, -1)
	for i, n := range list {
		list[i] = strings.TrimPrefix(n, "+")
	}
	return list
}

// line finds the terminal's line that begins with these words.
func (d *desk) line(text, begins string) string {
	d.t.Helper()
	for l := range strings.SplitSeq(text, "\n") {
		if rest, ok := strings.CutPrefix(strings.TrimSpace(l), begins); ok {
			return rest
		}
	}
	d.t.Errorf("the terminal has no line %q in\n%s", begins, text)
	return ""
}

// alike demands value and interval of a quantity in a line.
func (d *desk) alike(what string, of shown, line string) {
	d.t.Helper()
	want := figures(of.Text + " " + of.Doubt)
	if got := figures(line); len(want) != 3 || len(got) < 3 || !slices.Equal(got[:3], want) {
		d.t.Errorf("%s: pages and the API say %q, %q; the terminal %q", what, of.Text, of.Doubt, line)
	}
}

// TestTheSameNumberEverywhere: pages, the API, a sheet as text, table and PDF,
// and the terminal round alike and carry the same interval
// (../shared/design/bars.md, section 4, 6).
func TestTheSameNumberEverywhere(t *testing.T) {
	d := openDesk(t)
	forecast := d.prints("predict", d.bow)
	t.Run("forecast", func(t *testing.T) { d.in(t).forecast(forecast) })
	t.Run("target", func(t *testing.T) { d.in(t).target(forecast) })
	t.Run("heights", func(t *testing.T) { d.in(t).heights(forecast) })
	t.Run("shafts", func(t *testing.T) { d.in(t).shafts() })
	t.Run("forgiveness", func(t *testing.T) {
		if os.Getenv("TAUTLINE_LONG") == "" {
			t.Skip("it shoots seven brace heights twice: TAUTLINE_LONG=1")
		}
		d.in(t).forgiveness()
	})
	t.Run("brace heights", func(t *testing.T) { d.in(t).braceHeights() })
	t.Run("groups", func(t *testing.T) { d.in(t).groups() })
}

func (d *desk) in(t *testing.T) *desk {
	c := *d
	c.t = t
	return &c
}

// forecast is said by the API, on the set-up's sheet and in the terminal.
func (d *desk) forecast(terminal string) {
	var api struct{ Predicted []shown }
	d.told("/api/v1/predict", map[string]any{"setup": d.setup}, &api)
	rows := map[string]string{
		"draw_weight": "draw weight", "stored_energy": "stored energy", "speed": "arrow speed", "efficiency": "efficiency", "time_on_string": "time on the string",
		"residual_energy": "energy left in limbs and string", "string_length": "string length", "string_tension_brace": "string tension at rest",
	}
	faces := d.faces("setup", d.setup)
	seen := 0
	for _, q := range api.Predicted {
		begins, printed := rows[q.Name]
		if !printed {
			continue
		}
		seen++
		d.alike(q.Name, q, d.line(terminal, begins))
		if slices.Contains([]string{"efficiency", "string_length", "string_tension_brace"}, q.Name) {
			continue // not on the sheet
		}
		for face, text := range faces {
			if !strings.Contains(text, q.Text) || !strings.Contains(text, q.Doubt) {
				d.t.Errorf("%s: the sheet as %s has not %q and %q", q.Name, face, q.Text, q.Doubt)
			}
		}
	}
	if seen != len(rows) {
		d.t.Errorf("%d of %d quantities were compared", seen, len(rows))
	}
	if own := string(d.asks("GET", "/sheets/setup/"+d.setup+".txt", nil)); d.prints("sheet", "setup", d.setup, "--data", d.dir) != own {
		d.t.Errorf("the terminal's sheet is not the page's:\n%s", own)
	}
}

// faces are a sheet's: text, table, and paper read back by poppler's pdftotext
// where that is installed.
func (d *desk) faces(kind, id string) map[string]string {
	d.t.Helper()
	out := map[string]string{}
	for _, face := range []string{"txt", "csv"} {
		out[face] = string(d.asks("GET", "/sheets/"+kind+"/"+id+"."+face, nil))
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		d.t.Log("pdftotext is not installed: paper is not read; make test installs poppler-utils")
		return out
	}
	cmd := exec.CommandContext(d.t.Context(), tool, "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(d.asks("GET", "/sheets/"+kind+"/"+id+".pdf", nil))
	paper, err := cmd.Output()
	if err != nil {
		d.t.Fatal(err)
	}
	out["pdf"] = strings.Join(strings.Fields(string(paper)), " ")
	return out
}

// target is where arrows land.
func (d *desk) target(terminal string) {
	type pair struct {
		Name string
		Now  shown
	}
	var api struct {
		Distances []struct {
			Distance           struct{ SI float64 }
			Bare, Drift, Speed pair
		}
		Quantities []pair
	}
	d.told("/api/v1/target", map[string]any{"setup": d.setup}, &api)
	for _, at := range api.Distances {
		switch at.Distance.SI {
		case 18, 30:
			name := fmt.Sprintf("bare minus fletched at %.0f m", at.Distance.SI)
			_, after, _ := strings.Cut(terminal, "On the target")
			d.alike(name, at.Bare.Now, d.line(after, name))
		case 70:
			d.alike("drift", at.Drift.Now, strings.TrimPrefix(d.line(terminal, "drift at 70 m,"), " 1 m/s crosswind"))
			d.alike("speed at 70 m", at.Speed.Now, d.line(terminal, "speed at 70 m"))
		}
	}
	for _, q := range api.Quantities {
		if begins, ok := map[string]string{"tail_clearance": "tail passes the button by", "button_contact_end": "last touch of the button"}[q.Name]; ok {
			d.alike(q.Name, q.Now, d.line(terminal, begins))
		}
	}
}

// heights are what the model sees up and down.
func (d *desk) heights(terminal string) {
	var bow struct{ SetUp struct{ Bow string } }
	if err := json.Unmarshal(d.asks("GET", "/api/v1/setups/"+d.setup, nil), &bow); err != nil {
		d.t.Fatal(err)
	}
	var api struct {
		Say   string
		Looks []shown
	}
	d.told("/api/v1/bows/"+bow.SetUp.Bow+"/nocking", map[string]any{"readings": []map[string]any{{"nocking_point": "10 mm", "distance": "30 m", "bare_up": "-12 cm"}}}, &api)
	_, tall, _ := strings.Cut(terminal, "Up and down")
	rows := map[string]string{
		"bare_minus_fletched_18m_up": "bare minus fletched at 18 m", "bare_minus_fletched_30m_up": "bare minus fletched at 30 m", "bare_30m_up_per_nock_mm": "nocking point 1 mm higher, 30 m",
		"nock_travel_static": "nock rises, brace to full draw", "nock_travel_dynamic": "nock moves during the shot", "rest_contact_end": "last touch of the rest",
		"tail_gap_rest": "tail passes the rest by", "lower_limb_first": "lower limb arrives earlier by",
	}
	seen := 0
	for _, q := range api.Looks {
		if begins, ok := rows[q.Name]; ok {
			seen++
			d.alike(q.Name, q, d.line(tall, begins))
		}
	}
	if seen != len(rows) {
		d.t.Errorf("%d of %d heights were compared", seen, len(rows))
	}
	if told := d.prints("nocking", d.bow, "--reading", "10 mm; 30 m; -12 cm"); !strings.HasPrefix(told, api.Say+"\n") {
		d.t.Errorf("the API advises %q, the terminal\n%s", api.Say, told)
	}
}

// shafts are those to try.
func (d *desk) shafts() {
	var api struct {
		Shafts []struct {
			Bare      shown `json:"bare_minus_fletched"`
			Clearance shown `json:"tail_clearance"`
			Speed     shown
		}
	}
	d.told("/api/v1/shafts", map[string]any{"setup": d.setup, "count": 2}, &api)
	terminal := d.prints("shafts", d.bow, "--count", "2")
	for i, s := range api.Shafts {
		_, own, found := strings.Cut(terminal, fmt.Sprintf("%d. spine", i+1))
		if !found {
			d.t.Fatalf("no shaft %d in\n%s", i+1, terminal)
		}
		d.alike("bare shaft", s.Bare, d.line(own, "bare shaft"))
		_, gap, _ := strings.Cut(own, "tail passes the button by")
		d.alike("clearance", s.Clearance, gap)
		_, speed, _ := strings.Cut(own, "forward of the middle,")
		d.alike("speed", s.Speed, speed)
	}
	if len(api.Shafts) == 0 {
		d.t.Error("no shaft to compare")
	}
}

// forgiveness is the spread against brace height.
func (d *desk) forgiveness() {
	var api struct {
		Summary string
		Rows    []struct {
			At       struct{ Text string }
			Sideways shown
		}
	}
	d.told("/api/v1/forgiveness", map[string]any{"setup": d.setup}, &api)
	terminal := d.prints("forgive", d.bow)
	if !strings.HasPrefix(terminal, api.Summary) {
		d.t.Errorf("the API sums up %q, the terminal\n%.300s", api.Summary, terminal)
	}
	seen := 0
	for _, r := range api.Rows {
		place := strings.TrimSuffix(r.At.Text, " mm")
		for l := range strings.SplitSeq(terminal, "\n") {
			if fields := strings.Fields(l); len(fields) > 3 && fields[0] == place {
				seen++
				d.alike("spread at "+r.At.Text, r.Sideways, strings.Join(fields[1:], " "))
			}
		}
	}
	if seen < 2 {
		d.t.Errorf("%d of %d rows were compared:\n%s", seen, len(api.Rows), terminal)
	}
}

// braceHeights are the stops of a trial.
func (d *desk) braceHeights() {
	var api struct {
		Stops []struct {
			Number             int
			Turns              float64 `json:"turns_from_previous"`
			Brace              shown   `json:"brace_height"`
			Predicted, Changes []shown
		}
	}
	d.told("/api/v1/trials/plan", map[string]any{"setup": d.setup, "ask": map[string]any{"what": "brace height"}}, &api)
	terminal := d.prints("brace", d.bow)
	one := func(list []shown, name string) shown {
		return list[slices.IndexFunc(list, func(s shown) bool { return s.Name == name })]
	}
	for _, s := range api.Stops {
		line := figures(d.line(terminal, fmt.Sprintf("%d  %5s", s.Number, fmt.Sprintf("%+g", s.Turns))))
		var want []string
		for _, q := range []shown{s.Brace, one(s.Predicted, "speed"), one(s.Changes, "speed"), one(s.Predicted, "residual_energy")} {
			want = append(want, figures(q.Text+" "+q.Doubt)...)
		}
		if !slices.Equal(line, want) {
			d.t.Errorf("stop %d: the terminal has %q, the API %q", s.Number, line, want)
		}
	}
	if len(api.Stops) < 3 {
		d.t.Errorf("%d stops", len(api.Stops))
	}
}

// groups are what arrows tell: sentences and numbers.
func (d *desk) groups() {
	terminal := d.prints("group", filepath.Join("..", "..", "examples", "group-a.csv"), "--face", "122")
	table, err := os.ReadFile(filepath.Join("..", "..", "examples", "group-a.csv"))
	if err != nil {
		d.t.Fatal(err)
	}
	var impacts []map[string]any
	for i, l := range strings.Split(strings.TrimSpace(string(table)), "\n") {
		var end int
		var arrow string
		var x, y float64
		if i == 0 {
			continue
		}
		if _, err := fmt.Sscanf(strings.NewReplacer(",", " ").Replace(l), "%d %s %g %g", &end, &arrow, &x, &y); err != nil {
			d.t.Fatal(l, err)
		}
		impacts = append(impacts, map[string]any{"end": end, "arrow": arrow, "x_m": x / 100, "y_m": y / 100})
	}
	var api struct {
		Groups []struct{ Sentences []string }
	}
	d.told("/api/v1/groups/describe", map[string]any{"impacts": impacts, "face": "122"}, &api)
	for _, s := range api.Groups[0].Sentences {
		if !strings.Contains(terminal, s) {
			d.t.Errorf("the API says %q, the terminal\n%s", s, terminal)
		}
	}
	if len(api.Groups[0].Sentences) < 3 {
		d.t.Errorf("%d sentences", len(api.Groups[0].Sentences))
	}
}
