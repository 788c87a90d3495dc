package e2e

import (
	"bytes"
	"encoding/json"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// Ids of the records that TestSlips starts from: made by the test, as any
// client makes them (UUIDv7).
const (
	slipBow   = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"
	slipSetUp = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5f"
	slipTrial = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d60"
)

// TestSlips makes the slips that happen at the range, on a phone: a reading
// that does not fit the turns, one typed wrong, one taken back by mistake; and
// one recording for the whole trial.
func TestSlips(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	trial(n)
	b.size(390, 844)
	b.open(n.url("/trials/" + slipTrial))
	startTape(b)
	question(n, b)
	correction(n, b)
	undo(n, b)
	b.fits("the stop")
	tape(n, b)
	b.fault()
}

// trial begins a trial on an invented bow.
func trial(n *notebook) {
	n.t.Helper()
	n.put("/bows/"+slipBow, `{"name": "Kestrel 68", "style": "recurve"}`)
	n.put("/setups/"+slipSetUp, `{"bow": "`+slipBow+`", "reason": "first", "settings": {
		"limbs": {"bow_length": "68 in", "range_low": "21 cm", "range_high": "23.5 cm"}, "string": {"twists": 22},
		"draw": {"length": "28.5 in", "weight": "38 lbf"}, "brace_height": {"value": "22 cm"}, "arrow": {"mass": "330 gr"}}}`)
	n.put("/trials/"+slipTrial, `{"setup": "`+slipSetUp+`", "ask": {"turns_per_step": 6, "order": "up"}}`)
}

// startTape says that the phone's recorder runs.
func startTape(b *browser) {
	b.t.Helper()
	b.tap("With a recorder beside this page")
	b.tap("I have just started the recorder")
	b.see("Recorder running")
	b.cold("the recorder runs")
}

// question reads as if half of the turns had been forgotten: the page asks,
// refuses nothing, and one tap answers.
func question(n *notebook, b *browser) {
	b.t.Helper()
	b.fill("brace_height", "224 mm")
	b.tap("Save this stop")
	b.see("What happened?")
	b.accessible("the question")
	b.cold("the question")
	b.shot("question")
	b.tap("It was ")
	b.do("the question is settled", waitFor(`!document.body.innerText.includes("What happened?")`))
	b.sent()
	got := n.readings()
	if got["brace_height"] != 1 || got["turns"] != 1 {
		b.t.Errorf("after the answer the notebook holds %v; wanted the reading as typed, and the turns", got)
	}
}

// correction puts a reading right: a new one that names the old.
func correction(n *notebook, b *browser) {
	b.t.Helper()
	b.tapNamed("Correct brace height")
	b.do("retype", setValue("brace_height", "223.5 mm"))
	b.cold("a correction")
	b.tap("Save the correction")
	b.see("223.5 mm")
	b.do("one stands", waitFor(`document.querySelectorAll(".noted li").length === 2`))
	b.shot("corrected")
	b.sent()
	if got := n.readings(); got["brace_height"] != 2 {
		b.t.Errorf("after a correction the notebook holds %v; wanted both readings", got)
	}
}

// undo takes a reading back by mistake, and brings it back.
func undo(n *notebook, b *browser) {
	b.t.Helper()
	b.tapNamed("Take back string turns added")
	b.see("Taken back")
	b.tap("Undo")
	b.do("it is back", waitFor(`document.querySelectorAll(".noted li").length === 2 && !document.body.innerText.includes("Taken back")`))
	b.sent()
	if got := n.readings(); got["turns"] != 1 {
		b.t.Errorf("after the undo the notebook holds %v; wanted the turns again", got)
	}
}

// tape ends the one recording for the whole trial and sends it with its taps.
func tape(n *notebook, b *browser) {
	b.t.Helper()
	b.tap("Next stop")
	b.see("2 of ")
	b.tap("I have stopped the recorder")
	path := filepath.Join(reference, "wesnoth-bow.wav")
	if _, err := os.Stat(path); err != nil {
		b.t.Logf("without a recording: %v", err)
		return
	}
	b.upload("One recording for the whole trial", path)
	b.do("it is listened to", chromedp.WaitVisible(chromedp.CSS("[aria-label='One recording for the whole trial'] .heard[aria-busy=false]")))
	var list rows[struct {
		Stop *int `json:"stop"`
		Taps []struct {
			Stop int     `json:"stop"`
			At   float64 `json:"at_s"`
		} `json:"taps"`
	}]
	n.get("/recordings?trial="+slipTrial, &list)
	if len(list.Rows) != 1 || list.Rows[0].Stop != nil || len(list.Rows[0].Taps) != 2 || list.Rows[0].Taps[0].At != 0 || list.Rows[0].Taps[1].Stop != 1 || !(list.Rows[0].Taps[1].At > 0) {
		b.t.Errorf("the recording of the whole trial is kept as %+v; wanted two taps, stop 0 from 0 s and stop 1 later", list.Rows)
	}
}

// put sends a record.
func (n *notebook) put(path, body string) {
	n.t.Helper()
	req, err := http.NewRequestWithContext(n.t.Context(), http.MethodPut, n.url("/api/v1"+path), bytes.NewBufferString(body))
	if err != nil {
		n.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		n.t.Fatal(err)
	}
	var answer json.RawMessage
	if err := errors.Join(json.NewDecoder(res.Body).Decode(&answer), res.Body.Close()); err != nil || res.StatusCode != http.StatusCreated {
		n.t.Fatalf("PUT %s: status %d, %v: %s", path, res.StatusCode, err, answer)
	}
}

// readings counts the trial's readings in the notebook by kind.
func (n *notebook) readings() map[string]int {
	n.t.Helper()
	var list rows[readingView]
	n.get("/readings?trial="+slipTrial, &list)
	out := map[string]int{}
	for _, r := range list.Rows {
		out[r.Reading.Kind]++
	}
	return out
}
