package e2e

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// freeWords are the fields of each kind of record that take any text.
var freeWords = map[string][]string{
	"person": {"name"}, "bow": {"name", "notes"},
	"setup": {"reason", "settings/notes", "settings/tab", "settings/nock_fit", "settings/limbs/marked_at", "settings/string/serving", "settings/nocking_point/of",
		"settings/button/spring", "settings/rest/name", "settings/arrow/name"},
	"session": {"place", "air", "note"}, "recording": {"name", "phone", "where", "place", "started_at_stop"}, "reading": {"instrument", "note"},
	"trial_event": {"note"}, "end": {"note"}, "onsets": {"note"}, "ruling": {"reason"}, "retraction": {"reason"},
}

// unseen are those that no page shows: they are in exports and sheets.
var unseen = []string{"onsets/note", "reading/instrument", "reading/note", "recording/started_at_stop", "trial_event/note"}

// computing are pages of numbers, which take a while; they are looked at with
// TAUTLINE_LONG.
var computing = []string{"/bows/:id/fit", "/bows/:id/heights", "/bows/:id/forgiveness", "/bows/:id/target", "/bows/:id/shafts", "/bows/:id/explain", "/bows/:id/standing",
	"/bows/:id/trial", "/bows/:id/signature", "/bows/:id/groups", "/bows/:id/upkeep", "/bows/:id/ledger", "/week"}

// hostile makes the nth text that careless pages run, load, follow or are
// turned round by; the mark in front tells where it came from.
func hostile(n int) string {
	kinds := []string{
		"<script id=planted>planted()</script>", "\"><img id=planted src=x onerror=planted()>", "'><svg id=planted onload=planted()>", "</title><script>planted()</script>",
		"</textarea><iframe id=planted src=javascript:planted()>", "<a id=planted href=javascript:planted()>x</a>", "javascript:planted()", "<style>*{display:none}</style>",
		"<base href=//evil.example/>", "<meta http-equiv=refresh content=0;//evil.example>", "<form id=planted action=//evil.example><input name=x>", "<object data=//evil.example>",
		"<link rel=stylesheet href=//evil.example/x.css>", "\" onfocus=planted() autofocus x=\"", "' style='position:fixed;inset:0' x='", "&lt;b&gt; &#60;b&#62;", "]]><b>", "<!--", "-->",
		"{{constructor.constructor('planted()')()}}", "${planted()}", "=HYPERLINK(\"//evil.example\")", "=1+1", "+1-1", "-1+1", "@SUM(A1)", "\u202eturned round\u202c", "\ufeff\u200b",
		"\x1b[31mred\x1b[2J", "\u009b31m", "\a\b\x7f", "%s%n%x", "../../etc/passwd", "<b>bold</b>",
	}
	return fmt.Sprintf("Q%dQ%s", n, kinds[n%len(kinds)])
}

// planted is what was planted: by its mark, the field and the whole text.
type planted struct {
	field map[string]string
	text  map[string]string
	told  map[string]bool // fields that were said to be shown otherwise
}

// plant writes a hostile text into every free field of an exported notebook.
func plant(t *testing.T, folder string) planted {
	t.Helper()
	file := filepath.Join(folder, "notebook.json")
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p, out := planted{map[string]string{}, map[string]string{}, map[string]bool{}}, []string{}
	for line := range strings.Lines(string(raw)) {
		whole := strings.TrimSuffix(strings.TrimSuffix(line, "\n"), ",")
		if !strings.HasPrefix(whole, "{") {
			continue
		}
		var one struct {
			Kind   string         `json:"kind"`
			Record map[string]any `json:"record"`
		}
		in := json.NewDecoder(strings.NewReader(whole))
		in.UseNumber()
		if err := in.Decode(&one); err != nil {
			t.Fatal(err)
		}
		p.record(one.Kind, one.Record)
		again, err := json.Marshal(one)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, string(again))
	}
	if err := os.WriteFile(file, []byte("[\n"+strings.Join(out, ",\n")+"\n]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	// the checksum's line is taken out, as the manual says of a change by hand
	sums := filepath.Join(folder, "SHA256SUMS")
	list, err := os.ReadFile(sums)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(sums, regexp.MustCompile(`(?m)^.* notebook\.json\n`).ReplaceAll(list, nil), 0o600); err != nil {
		t.Fatal(err)
	}
	return p
}

func (p planted) record(kind string, record map[string]any) {
	fields := freeWords[kind]
	if kind == "reading" && record["kind"] == "note" {
		fields = append(slices.Clone(fields), "text")
	}
	for _, field := range fields {
		at, parts := record, strings.Split(field, "/")
		for _, name := range parts[:len(parts)-1] {
			next, ok := at[name].(map[string]any)
			if !ok {
				next = map[string]any{}
				at[name] = next
			}
			at = next
		}
		text := hostile(len(p.text))
		mark := fmt.Sprintf("Q%dQ", len(p.text))
		p.field[mark], p.text[mark] = kind+"/"+field, text
		at[parts[len(parts)-1]] = text
	}
	impacts, _ := record["impacts"].([]any)
	for _, x := range impacts {
		if one, ok := x.(map[string]any); ok && one["arrow"] != nil {
			one["arrow"] = fmt.Sprint("<i>", one["arrow"]) // as long as a shaft's number may be
		}
	}
}

// TestPlantedTexts shows a notebook of the demo's size whose every word is
// hostile on every page (T18): the words appear as words; nothing of them is an
// element, runs, asks or is reported by the content policy, and no page breaks.
func TestPlantedTexts(t *testing.T) {
	t.Parallel()
	demo := openDemo(t)
	of := demo.manyWords()
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "out")
	tautline(t, "export", "--data", demo.dir, out)
	p := plant(t, out)
	tautline(t, "import", "--data", dir, out)
	n := &notebook{t: t, dir: dir, addr: freeAddress(t)}
	n.start()
	t.Cleanup(n.kill)
	b := openBrowser(t)
	b.size(390, 844)
	b.refuseDialogs()
	seen := map[string]bool{}
	for _, pattern := range append(pagePatterns(t), "/sheets/trial/"+of.trial, "/sheets/plan/"+of.trial, "/sheets/setup/"+of.setup) {
		path, there := of.fill(pattern)
		if !there || slices.Contains(computing, pattern) && os.Getenv("TAUTLINE_LONG") == "" {
			continue
		}
		b.open(n.url(path))
		b.settled()
		b.do("open what is folded", waitFor(`(document.querySelectorAll("main details").forEach((d) => { d.open = true; }), true)`), calm())
		p.look(b, path, seen)
	}
	kinds := kindsOf(p.field)
	for _, f := range slices.Sorted(maps.Keys(kinds)) {
		if !seen[f] && !slices.Contains(unseen, f) {
			t.Errorf("no page shows %s: nothing is known of how it is shown", f)
		}
	}
	t.Logf("%d texts in %d kinds of fields, of which pages show %d", len(p.text), len(kinds), len(seen))
	b.fault()
}

// manyWords are the records of the demo's bow that has readings, sessions and a
// trial.
func (n *notebook) manyWords() (of ids) {
	n.t.Helper()
	of = n.someIDs()
	var one struct {
		Trial struct{ Bow, SetUp string } `json:"trial"`
	}
	n.get("/trials/"+of.trial, &one)
	of.bow, of.setup = one.Trial.Bow, one.Trial.SetUp
	if of.bow == "" || of.setup == "" || of.session == "" || of.recording == "" {
		n.t.Fatalf("the demo's records are %+v", of)
	}
	return of
}

func kindsOf(field map[string]string) map[string]bool {
	out := map[string]bool{}
	for _, f := range field {
		out[f] = true
	}
	return out
}

// look holds a page against what was planted.
func (p planted) look(b *browser, path string, seen map[string]bool) {
	b.t.Helper()
	for _, e := range evaluate[[]string](b, `(() => {
		const out = window.wasPlanted ? ["something planted ran"] : [];
		for (const e of document.querySelectorAll("[id=planted], iframe, object, embed, base, script:not([src]), form[action], meta[http-equiv=refresh], img[src='x'], link:not([href^='/']), main style, main b:empty, main i > i"))
			out.push(e.outerHTML.slice(0, 120));
		for (const e of document.querySelectorAll("*")) for (const a of e.attributes)
			if (a.name.startsWith("on") || /^\s*javascript:/i.test(a.value) && a.name !== "value" && !a.name.startsWith("aria-")) out.push(a.name + "=" + a.value.slice(0, 80));
		return out;
	})()`) {
		b.t.Errorf("%s: %s", path, e)
	}
	text := evaluate[string](b, `[document.title, document.body.textContent, ...[...document.querySelectorAll("input, textarea")].map((e) => e.value), ...[...document.querySelectorAll("[aria-label], [title], [placeholder]")].map((e) => [e.ariaLabel, e.title, e.placeholder].join(" "))].join("\n")`)
	for _, found := range regexp.MustCompile(`Q\d+Q`).FindAllString(text, -1) {
		field := p.field[found]
		seen[field] = true
		if whole := p.text[found]; !p.told[field] && !strings.Contains(text, whole) && !strings.Contains(text, strings.Join(strings.Fields(whole), " ")) {
			p.told[field] = true
			at := strings.Index(text, found)
			b.t.Errorf("%s: %s is shown otherwise: %q as %q", path, field, whole, text[at:min(len(text), at+len(whole)+20)])
		}
	}
}

// refuseDialogs fails the test when a page opens one; none of ours does by
// being looked at.
func (b *browser) refuseDialogs() {
	b.t.Helper()
	err := chromedp.Listen(b.ctx, func(ev any) {
		if e, ok := ev.(*page.EventJavascriptDialogOpening); ok {
			b.mu.Lock()
			defer b.mu.Unlock()
			b.faults = append(b.faults, "a dialog opened: "+e.Message)
		}
	})
	if err != nil {
		b.t.Fatal(err)
	}
	b.do("listen for what was planted", b.always(`window.planted = () => { window.wasPlanted = true; }`))
}

// tautline runs another command of the program.
func tautline(t *testing.T, args ...string) {
	t.Helper()
	path, err := program()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, args...)
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Run(); err != nil {
		t.Fatalf("tautline %v: %v\n%s", args, err, said.String())
	}
}
