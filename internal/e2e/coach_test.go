package e2e

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// member is somebody of a club, as a program that is logged in as them.
type member struct {
	n          *notebook
	id, cookie string
}

// ask sends a request and reads the answer into what is given, if anything.
func (m *member) ask(method, path string, body, into any) {
	m.n.t.Helper()
	raw, err := json.Marshal(body)
	if err != nil {
		m.n.t.Fatal(err)
	}
	req, err := http.NewRequestWithContext(m.n.t.Context(), method, m.n.url("/api/v1"+path), bytes.NewReader(raw))
	if err != nil {
		m.n.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Cookie", m.cookie)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		m.n.t.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // read to its end
	text, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode >= 300 {
		m.n.t.Fatalf("%s %s: %d, %v: %s", method, path, res.StatusCode, err, text)
	}
	for _, k := range res.Cookies() {
		if k.Name == "__Host-tautline" {
			m.cookie = k.Name + "=" + k.Value
		}
	}
	if into != nil {
		if err := json.Unmarshal(text, into); err != nil {
			m.n.t.Fatal(err)
		}
	}
}

// joins comes in by a link.
func (n *notebook) joins(link, name, login string) *member {
	n.t.Helper()
	_, secret, _ := strings.Cut(link, "#")
	m := &member{n: n}
	var in struct{ Account struct{ Person string } }
	m.ask("POST", "/join", map[string]string{"secret": secret, "name": name, "login": login, "password": clubPassword}, &in)
	m.id = in.Account.Person
	return m
}

// squad is a coach with archers who each call their bow the same.
type squad struct {
	coach   string // login
	names   []string
	bows    []string // by name
	setups  []string
	archers []*member
}

const squadBow = "Club 66"

// openSquad lets a coach and three archers in. The first one's bow drifts, and
// what was measured on the second one's before its last change no longer counts.
func openSquad(n *notebook) squad {
	n.t.Helper()
	rng := rand.New(rand.NewPCG(3, 3))
	owner := n.joins(joining.FindString(n.said.String()), "Ida Falk", "ida")
	invite := func(name, login, role string) *member {
		var link struct{ Path string }
		owner.ask("PUT", "/invitations/"+n.newID(rng), map[string]string{"name": name, "role": role}, &link)
		return n.joins(link.Path, name, login)
	}
	coach := invite("Vera Lund", "vera", "coach")
	s := squad{coach: "vera", names: []string{"Ann Berg", "Ben Osei", "Cleo Marsh"}}
	for i, name := range s.names {
		m := invite(name, strings.ToLower(strings.Fields(name)[0]), "archer")
		bow, setup := n.newID(rng), n.newID(rng)
		m.ask("PUT", "/shares/"+n.newID(rng), map[string]string{"with": coach.id, "may": "work"}, nil)
		m.ask("PUT", "/bows/"+bow, map[string]string{"name": squadBow, "style": "recurve"}, nil)
		m.ask("PUT", "/setups/"+setup, squadSetUp(bow, "", "22 cm"), nil)
		switch i {
		case 0:
			for day := range 9 {
				text := "220 mm"
				if day > 5 {
					text = "212 mm"
				}
				at := time.Now().Add(time.Duration(24*(day-9)) * time.Hour).UTC().Format(time.RFC3339)
				m.ask("PUT", "/readings/"+n.newID(rng), map[string]string{"bow": bow, "setup": setup, "kind": "brace_height", "text": text, "at": at}, nil)
			}
		case 1:
			m.ask("PUT", "/readings/"+n.newID(rng), map[string]string{"bow": bow, "setup": setup, "kind": "speed", "text": "56.1 m/s"}, nil)
			next := n.newID(rng)
			m.ask("PUT", "/setups/"+next, squadSetUp(bow, setup, "23 cm"), nil)
			setup = next
		}
		s.bows, s.setups, s.archers = append(s.bows, bow), append(s.setups, setup), append(s.archers, m)
	}
	return s
}

func squadSetUp(bow, parent, brace string) map[string]any {
	out := map[string]any{"bow": bow, "reason": "as it is", "settings": map[string]any{
		"limbs": map[string]string{"bow_length": "66 in", "range_low": "21 cm", "range_high": "23.5 cm"}, "draw": map[string]string{"length": "27 in", "weight": "30 lbf"},
		"brace_height": map[string]string{"value": brace}, "arrow": map[string]string{"mass": "300 gr", "spine": "800", "shaft_length": "27 1/2 in", "point_mass": "90 gr"},
		"nocking_point": map[string]string{"value": "8 mm"}, "tiller": "3 mm", "centre_shot": "1.5 mm", "button": map[string]any{"spring": "medium", "turns": 3},
	}}
	if parent != "" {
		out["parent"] = parent
	}
	return out
}

// TestCoach is an evening of a coach on a phone: the bench, where three bows
// have one name; the week, with a bow that drifts and a result that no longer
// counts; a bow entered for an archer; a round over three archers' bows by
// their labels; an archer's card as PDF. What was done stands in the database,
// under the coach's name and on the archers' bows.
func TestCoach(t *testing.T) {
	n, b := openNotebook(t, "--accounts", "--no-refit"), openBrowser(t)
	s := openSquad(n)
	b.size(390, 844)
	b.open(n.url("/"))
	logsIn(b, s.coach)
	for _, name := range s.names {
		b.see(name)
	}
	b.do("a heading for each archer", waitFor(`[...document.querySelectorAll("main section.archer h2")].map((h) => h.innerText).join() === "`+strings.Join(s.names, ",")+`"`))
	b.fits("the coach's bench")
	b.accessible("the coach's bench")
	b.shot("bench")
	b.do("open the first archer's bow", calm(), chromedp.Click(chromedp.CSS(`main h3 a[href="/bows/`+s.bows[0]+`"]`), chromedp.NodeVisible))
	b.do("whose it is, in the head and under the menu", waitFor(`document.querySelector("main .whose")?.innerText === "Ann Berg" && document.querySelector(".copy strong")?.innerText === "`+squadBow+`, Ann Berg"`))

	b.open(n.url("/week"))
	b.do("it is all judged", waitFor(`document.querySelector("main h2") && !document.body.innerText.includes("Judging old results")`))
	b.do("a bow that drifts, and a result that no longer counts", waitFor(`(() => { const card = (of) => [...document.querySelectorAll("main section")].find((s) => s.querySelector("h2")?.innerText === of)?.innerText ?? ""; return card("Ann Berg").includes("left their own scatter") && card("Ben Osei").includes("Measure again: arrow speed"); })()`))
	b.fits("the week")
	b.accessible("the week")
	b.shot("week")
	pdf := s.card(b)
	for _, want := range []string{"Ann Berg", squadBow, "look at: brace height", "left their own scatter"} {
		if !strings.Contains(strings.ToLower(pdf), strings.ToLower(want)) {
			t.Errorf("the card on paper lacks %q:\n%s", want, pdf)
		}
	}
	entersFor(n, b, "Ben Osei")
	s.round(n, b)
	b.fault()
	s.check(n)
}

// card opens the first archer's card from the week and reads its PDF back.
func (s squad) card(b *browser) string {
	b.t.Helper()
	b.tap("Card to print")
	b.see("PDF, A4")
	b.see("This week")
	b.accessible("the card")
	raw, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`(async () => { const r = await fetch([...document.querySelectorAll("main a")].find((a) => a.innerText.startsWith("PDF")).href), bytes = new Uint8Array(await r.arrayBuffer()); return btoa(Array.from(bytes, (v) => String.fromCharCode(v)).join("")); })()`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatal(err)
	}
	file, err := base64.StdEncoding.DecodeString(raw)
	if err != nil || !bytes.HasPrefix(file, []byte("%PDF-")) {
		b.t.Fatalf("the card is no PDF: %v, %.40q", err, file)
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		b.t.Fatal("pdftotext is missing: make test installs poppler-utils")
	}
	path := filepath.Join(b.t.TempDir(), "card.pdf")
	if err := os.WriteFile(path, file, 0o600); err != nil {
		b.t.Fatal(err)
	}
	text, err := exec.CommandContext(b.t.Context(), tool, "-layout", path, "-").Output()
	if err != nil {
		b.t.Fatal(err)
	}
	return string(text)
}

// entersFor enters a bow of an archer's.
func entersFor(n *notebook, b *browser, archer string) {
	b.t.Helper()
	b.open(n.url("/bows/new"))
	b.see("Whose bow it is")
	b.fill("name", "Loan 64")
	b.do("for "+archer, waitFor(fmt.Sprintf(`(() => { const s = [...document.querySelectorAll("select")].find((s) => [...s.options].some((o) => o.text === %q)); if (!s) return false; s.value = [...s.options].find((o) => o.text === %q).value; s.dispatchEvent(new Event("change", { bubbles: true })); return true; })()`, archer, archer)))
	b.fill("/draw/length", "26 in")
	b.fill("/draw/weight", "26 lbf")
	b.accessible("a bow for an archer")
	b.tap("Save the bow")
	b.at("/bows/([0-9a-f-]+)")
	b.do("it is "+archer+"'s", waitFor(fmt.Sprintf(`document.querySelector("main .whose")?.innerText === %q`, archer)))
}

// round reads three bows, each opened by the address on its label.
func (s squad) round(n *notebook, b *browser) {
	b.t.Helper()
	b.open(n.url("/round"))
	b.see("Print labels for these bows")
	b.fits("the coach's round")
	b.accessible("the coach's round")
	b.shot("round")
	b.tap("Print labels for these bows")
	b.see("Bow labels")
	for _, name := range s.names {
		b.see(squadBow + " (" + name + ")")
	}
	for i, bow := range s.bows {
		b.do("the label of "+s.names[i], waitFor(`[...document.querySelectorAll("main li a")].some((a) => new URL(a.innerText).pathname === "/bows/`+bow+`/round")`))
	}
	for i, bow := range s.bows {
		b.open(n.url("/bows/" + bow + "/round"))
		b.do("whose bow it is", waitFor(fmt.Sprintf(`document.querySelector("main .whose")?.innerText === %q && document.activeElement?.name === "brace_height"`, s.names[i])))
		b.do("read three times", chromedp.KeyEvent(fmt.Sprintf("2%d1 mm%s9 mm%s%d mm%s", i+1, kb.Enter, kb.Enter, i+2, kb.Enter)))
		b.see(fmt.Sprintf("%s, %s: 3 readings noted", squadBow, s.names[i]))
	}
}

// check holds the database against the evening.
func (s squad) check(n *notebook) {
	n.t.Helper()
	db := n.database()
	for i, bow := range s.bows {
		got := column(n.t, db, `SELECT json_extract(r.body, '$.kind') || ' ' || json_extract(r.body, '$.text') || ' by ' || json_extract(p.body, '$.name') FROM readings r JOIN people p ON p.id = r.by_person
			WHERE r.bow = '`+bow+`' AND p.id <> '`+s.archers[i].id+`' AND p.version = (SELECT max(version) FROM people WHERE id = p.id) ORDER BY r.seq`)
		want := map[string]bool{fmt.Sprintf("brace_height 2%d1 mm by Vera Lund", i+1): true, "nocking_point 9 mm by Vera Lund": true, fmt.Sprintf("tiller %d mm by Vera Lund", i+2): true}
		for _, line := range got {
			if !want[line] {
				n.t.Errorf("on %s's bow stands %q", s.names[i], line)
			}
			delete(want, line)
		}
		for line := range want {
			n.t.Errorf("%q is not on %s's bow: %v", line, s.names[i], got)
		}
	}
	bows := column(n.t, db, `SELECT json_extract(b.body, '$.owner') || ' ' || json_extract(s.body, '$.settings.draw.weight') FROM bows b JOIN setups s ON s.bow = b.id WHERE json_extract(b.body, '$.name') = 'Loan 64'`)
	if len(bows) != 1 || bows[0] != s.archers[1].id+" 26 lbf" {
		n.t.Errorf("the bow entered for Ben stands as %v", bows)
	}
}
