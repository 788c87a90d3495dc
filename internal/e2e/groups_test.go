package e2e

import (
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

const plotSetUp2 = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c5d6f"

// putBow puts the bow of the plotting tests with two set-ups.
func (n *notebook) putBow() {
	n.t.Helper()
	n.put("/bows/"+plotBow, `{"name": "Kestrel 68", "style": "recurve"}`)
	settings := `{"limbs": {"bow_length": "68 in"}, "draw": {"length": "28.5 in", "weight": "38 lbf"}, "brace_height": {"value": "%s"}, "arrow": {"mass": "330 gr", "diameter": "5.5 mm"}}`
	n.put("/setups/"+plotSetUp, `{"bow": "`+plotBow+`", "reason": "first", "settings": `+fmt.Sprintf(settings, "22 cm")+`}`)
	n.put("/setups/"+plotSetUp2, `{"bow": "`+plotBow+`", "parent": "`+plotSetUp+`", "reason": "three turns more", "settings": `+fmt.Sprintf(settings, "22.4 cm")+`}`)
}

// putEnds puts invented ends of a circular group. Ids are made in the order of
// shooting.
func (n *notebook) putEnds(setup string, ends, arrows int, sigma float64, rng *rand.Rand) {
	n.t.Helper()
	for e := range ends {
		var impacts []string
		for a := range arrows {
			impacts = append(impacts, fmt.Sprintf(`{"arrow": "%d", "x_m": %.4f, "y_m": %.4f}`, a%12+1, min(1, max(-1, sigma*rng.NormFloat64())), min(1, max(-1, sigma*rng.NormFloat64()))))
		}
		n.put("/ends/"+n.newID(rng), fmt.Sprintf(`{"bow": %q, "setup": %q, "number": %d, "distance": "70 m", "face": "122", "impacts": [%s]}`, plotBow, setup, e%20+1, strings.Join(impacts, ",")))
	}
}

// TestManyImpacts opens a hundred thousand impacts on one page: a picture on
// one canvas, not a node each, and a touch redraws it with a bounded number of
// strokes. Nothing is judged by its time.
func TestManyImpacts(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	n.putEnds(plotSetUp, 695, 144, 0.12, rand.New(rand.NewPCG(1, 2)))
	b.size(390, 844)
	b.open(n.url("/bows/" + plotBow + "/groups"))
	b.see("100,080 arrows as a density")
	b.shot("density")
	const count = `document.querySelectorAll("*").length`
	nodes := evaluate[int](b, count)
	if nodes > 800 {
		t.Errorf("a page of 100,080 impacts has %d nodes, more than 800", nodes)
	}
	evaluate[bool](b, `(() => {
		window.strokes = 0;
		const proto = CanvasRenderingContext2D.prototype;
		for (const name of ["fillRect", "fill", "stroke", "fillText", "strokeText"]) {
			const before = proto[name];
			proto[name] = function (...args) { window.strokes++; return before.apply(this, args); };
		}
		return true; })()`)
	for range 3 {
		b.tap("Close up")
		b.tap("Whole face")
	}
	drawn := evaluate[int](b, "window.strokes")
	// The picture is 360 pixels wide in cells of 3: 14,400 at most, six times.
	if drawn == 0 || drawn > 6*15_000 {
		t.Errorf("six touches drew %d strokes; wanted some, and at most 15,000 a picture", drawn)
	}
	if after := evaluate[int](b, count); after > nodes+10 {
		t.Errorf("six touches grew the page from %d to %d nodes", nodes, after)
	}
	t.Logf("%d nodes, %d strokes a picture", nodes, drawn/6)
	b.fits("many impacts")
	b.accessible("many impacts")
	b.fault()
}

func evaluate[T any](b *browser, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatal(err)
	}
	return v
}

// TestCompareOnPage compares two set-ups twice: once it cannot tell yet, once
// it can. Both answers take the same room on the page.
func TestCompareOnPage(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	rng := rand.New(rand.NewPCG(3, 4))
	n.putEnds(plotSetUp, 4, 6, 0.12, rng)
	n.putEnds(plotSetUp2, 4, 6, 0.09, rng)
	b.size(390, 844)
	b.open(n.url("/bows/" + plotBow + "/groups"))
	b.see("Cannot tell yet:")
	b.do("the answer is marked", waitFor(`document.querySelector(".answers .here")?.innerText.includes("cannot tell yet")`))
	b.see("more arrows a set-up would show")
	if uneven := evaluate[int](b, `new Set([...document.querySelectorAll(".answers li")].map((li) => li.offsetWidth + "x" + li.offsetHeight)).size`); uneven != 1 {
		t.Errorf("the three answers have %d different sizes, wanted one", uneven)
	}
	b.tap("What it scores at other distances and faces")
	b.see("of 720")
	b.fill("expect_score", "600")
	b.see("need a spread of")
	b.see("Every arrow counts")
	b.see("observed, not randomised")
	themes(b, "groups")
	n.putEnds(plotSetUp2, 16, 6, 0.04, rng)
	b.do("look again", chromedp.Reload())
	b.do("B is tighter, or A where it stands first", waitFor(`/[AB] is tighter/.test(document.querySelector(".answers .here")?.innerText ?? "")`))
	b.shot("decided")
	b.fault()
}

// TestTables brings a table in: its mistakes stand beside their lines and the
// text is kept; mended, all of it is kept, and comes out again as a table.
func TestTables(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	b.size(390, 844)
	b.open(n.url("/bows/" + plotBow + "/ends"))
	b.see("Bring a table in")
	const wrong = "end,arrow,x_cm,y_cm\n1,1,3.2,-1.5\n1,2,four,2.1\n1,3,0.5,600\n"
	b.do("paste a table with mistakes", chromedp.Focus(chromedp.CSS("#table-text")), chromedp.SendKeys(chromedp.CSS("#table-text"), strings.ReplaceAll(wrong, "\n", "\r")))
	b.tap("Read it")
	b.see("Nothing of this table was taken")
	b.do("the lines are named", waitFor(`[...document.querySelectorAll(".csv-lines li.bad .n")].map((e) => e.innerText).includes("3")`))
	if kept := evaluate[string](b, `document.querySelector("#table-text").value`); kept != wrong {
		t.Errorf("the text is now %q", kept)
	}
	if got := len(n.ends("bow=" + plotBow)); got != 0 {
		t.Errorf("%d ends were taken of a table with mistakes", got)
	}
	b.shot("mistakes")
	b.accessible("mistakes")
	b.do("reload", chromedp.Reload())
	b.do("the text is kept", waitFor(`document.querySelector("#table-text")?.value.includes("four")`))
	b.do("mend it", waitFor(`(() => { const t = document.querySelector("#table-text"); t.value = "end,arrow,x_cm,y_cm\n1,1,3.2,-1.5\n1,2,4,2.1\n1,3,0.5,6\n2,1,-3,-4\n"; t.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`))
	b.tap("Read it")
	b.see("4 arrows in 2 ends")
	b.fill("table_distance", "50 m")
	b.shot("understood")
	b.accessible("understood")
	b.tap("Keep all 4 arrows")
	b.see("2 ends are in the notebook now")
	ends := n.ends("bow=" + plotBow)
	if len(ends) != 2 || len(ends[0].End.Impacts) != 3 || ends[0].End.Distance != "50 m" || *ends[0].End.Impacts[0].X != 0.032 {
		t.Errorf("the notebook holds %+v", ends)
	}
	text := n.text("/ends.csv?bow=" + plotBow)
	if !strings.Contains(text, "3.2,-1.5") || strings.Count(strings.TrimSpace(text), "\n") != 4 {
		t.Errorf("the table comes out as\n%s", text)
	}
	var read struct {
		Arrows int `json:"arrows"`
	}
	if err := json.Unmarshal(n.read(text), &read); err != nil || read.Arrows != 4 {
		t.Errorf("what came out goes in again as %d arrows, %v", read.Arrows, err)
	}
	b.fits("tables")
	again(n, b)
	largeFile(n, b)
	b.fault()
}

// largeFile gives a file of 200,000 lines with a mistake near its end: the page
// names the line and shows it, without putting the whole into a field.
func largeFile(n *notebook, b *browser) {
	b.t.Helper()
	var table strings.Builder
	table.WriteString("end,arrow,x_cm,y_cm\r\n")
	for i := range 200_000 {
		fmt.Fprintf(&table, "%d,%d,%d.5,-2\r\n", i/6+1, i%6+1, i%9)
	}
	table.WriteString("40000,1,=1+1,2\r\n")
	path := filepath.Join(b.t.TempDir(), "season.csv")
	if err := os.WriteFile(path, []byte(table.String()), 0o600); err != nil {
		b.t.Fatal(err)
	}
	b.do("choose the file", chromedp.SetUploadFiles(chromedp.CSS("#table-file"), []string{path}, chromedp.NodeReady))
	b.see("Nothing of this table was taken")
	b.do("the line is named", waitFor(`[...document.querySelectorAll(".csv-lines li.bad .n")].map((e) => e.innerText).includes("200002")`))
	if nodes := evaluate[int](b, `document.querySelectorAll("*").length`); nodes > 800 {
		b.t.Errorf("a file of 200,000 lines puts %d nodes on the page, more than 800", nodes)
	}
	if got := len(n.ends("bow=" + plotBow)); got != 2 {
		b.t.Errorf("after a refused file the notebook holds %d ends, wanted 2", got)
	}
}

// again brings the same table in twice, which adds nothing, and then another,
// which is taken back whole.
func again(n *notebook, b *browser) {
	b.t.Helper()
	for _, step := range []struct {
		table, keep, says string
		ends              int
	}{
		{"end,arrow,x_cm,y_cm\n1,1,3.2,-1.5\n1,2,4,2.1\n1,3,0.5,6\n2,1,-3,-4\n", "Keep all 4 arrows", "2 were there already", 2},
		{"end,arrow,x_cm,y_cm\n7,1,9,9\n8,1,9,8\n", "Keep all 2 arrows", "2 ends are in the notebook now", 4},
	} {
		b.do("another table", waitFor(fmt.Sprintf(`(() => { const t = document.querySelector("#table-text"); t.value = %q; t.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`, step.table)))
		b.tap("Read it")
		b.tap(step.keep)
		b.see(step.says)
		if got := len(n.ends("bow=" + plotBow)); got != step.ends {
			b.t.Errorf("after %q the notebook holds %d ends, wanted %d", step.says, got, step.ends)
		}
	}
	b.tap("Take the whole table back")
	b.see("The whole table is taken back")
	if got := len(n.ends("bow=" + plotBow)); got != 2 {
		b.t.Errorf("after taking the table back %d ends stand, wanted 2", got)
	}
}

// text reads one answer of the API that is no JSON.
func (n *notebook) text(path string) string {
	n.t.Helper()
	res, err := http.Get(n.url("/api/v1" + path))
	if err != nil {
		n.t.Fatal(err)
	}
	return string(n.body(res))
}

// read sends a table to be read.
func (n *notebook) read(table string) []byte {
	n.t.Helper()
	res, err := http.Post(n.url("/api/v1/ends/read-csv"), "text/csv", strings.NewReader(table))
	if err != nil {
		n.t.Fatal(err)
	}
	return n.body(res)
}

func (n *notebook) body(res *http.Response) []byte {
	n.t.Helper()
	raw, err := io.ReadAll(res.Body)
	if closing := res.Body.Close(); err != nil || closing != nil || res.StatusCode != http.StatusOK {
		n.t.Fatalf("status %d, %v, %v: %s", res.StatusCode, err, closing, raw)
	}
	return raw
}
