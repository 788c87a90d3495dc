package server_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"strings"
	"testing"
)

// typedHere are the settings and readings as TestDecimalComma types them: what
// somebody typed is shown as it was typed.
var typedHere = strings.NewReplacer("1.5 mm", "typed", "2.5 mm", "typed", "57.3 m/s", "typed", "28.5 in", "typed", "23.5 cm", "typed")

var (
	digitsApart = regexp.MustCompile(`(\d),(\d)`)
	withPoint   = regexp.MustCompile(`\d\.\d`)
)

// TestDecimalComma: whoever writes 22,5 reads the same numbers with commas, on
// every page and sheet of the job, and no decimal point that nobody typed; the
// findings under pictures too.
func TestDecimalComma(t *testing.T) {
	s := open(t)
	j := &archersJob{s: s, flip: 1}
	j.does(rand.New(rand.NewPCG(5, 2)))
	sheets := append(job,
		question{"set-up sheet", "GET", func(j *archersJob) string { return "/sheets/setup/" + j.now + ".txt" }, nil},
		question{"plan's card", "GET", of("bare", "/sheets/plan/%s.txt"), nil},
		question{"sheet of two set-ups", "GET", of("pairs", "/sheets/trial/%s.txt"), nil},
	)
	if os.Getenv("TAUTLINE_LONG") != "" { // it asks for forgiveness twice
		sheets = append(sheets, question{"explanation sheet", "GET", func(j *archersJob) string { return "/sheets/explain/" + j.now + ".txt" }, nil})
	}
	points := make([]reply, len(sheets))
	for i, q := range sheets {
		points[i] = j.reads(s, q)
	}
	me := s.do("GET", "/api/v1/me", nil).want(200)
	s.do("PUT", "/api/v1/me", obj{"name": "Archer", "hand": "right", "units": "mixed", "decimal_comma": true}, "If-Match", me.header.Get("ETag")).want(200)
	commas := 0
	for i, q := range sheets {
		point, comma := points[i], j.reads(s, q)
		if strings.HasPrefix(q.path(j), "/sheets/") {
			commas += sameButMark(t, q.what, string(point.body), string(comma.body))
			continue
		}
		a, b := map[string]string{}, map[string]string{}
		textsIn("", point.tree(), a)
		textsIn("", comma.tree(), b)
		for at, text := range a {
			commas += sameButMark(t, q.what+at, text, b[at])
		}
	}
	if commas < 100 {
		t.Errorf("only %d texts have a comma", commas)
	}
}

// sameButMark holds a text against the same with a decimal point, and counts
// the commas.
func sameButMark(t *testing.T, at, point, comma string) int {
	t.Helper()
	plain := func(text string) string {
		return strings.ReplaceAll(stamps.ReplaceAllString(uuids.ReplaceAllString(text, ""), ""), `"`, "") // a table quotes what has a comma
	}
	point, comma = plain(point), plain(comma)
	if digitsApart.ReplaceAllString(comma, "$1.$2") != digitsApart.ReplaceAllString(point, "$1.$2") {
		t.Errorf("%s: with a comma it reads\n%q, with a point\n%q", at, comma, point)
	}
	comma = typedHere.Replace(comma)
	if at := withPoint.FindStringIndex(comma); at != nil {
		t.Errorf("a decimal point for who writes commas: … %s …", comma[max(0, at[0]-60):min(len(comma), at[1]+30)])
	}
	return len(digitsApart.FindAllString(comma, -1))
}

// textsIn lists the texts of an answer by place.
func textsIn(at string, node any, out map[string]string) {
	switch n := node.(type) {
	case string:
		if !strings.HasSuffix(at, "/version") && !strings.Contains(at, "/settings/") {
			out[at] = n
		}
	case []any:
		for i, v := range n {
			textsIn(fmt.Sprint(at, "/", i), v, out)
		}
	case map[string]any:
		for key, v := range n {
			textsIn(at+"/"+key, v, out)
		}
	}
}
