package e2e

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"tautline/unit"
)

const halfTrial = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c5e00"

// TestHalfASession lets the phone die after arrow 23 of 36 of a comparison,
// without a network at that moment. Another phone goes on with the trial from
// what the notebook has; it, too, is without a network at the end and still
// takes the stop decision. When the first phone wakes, what lay on it goes out,
// and its two arrows of an end that was never finished are still on it.
func TestHalfASession(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	n.put("/trials/"+halfTrial, `{"setup": "`+plotSetUp2+`", "ask": {"what": "two set-ups", "setting": "button", "a": "3 turns", "b": "5 turns", "rounds": 6, "arrows": 3, "distance": "30 m", "seed": 4}}`)
	w := openWire(t, n.addr)
	first := openPhone(t)
	first.b.open(w.url("/trials/" + halfTrial))
	first.must("the first stop", ready+`; await wait("the pages on the device", () => navigator.serviceWorker.controller)`)
	for stop := range 7 {
		if stop == 6 {
			first.must("all is sent", `await wait("nothing waits", () => state().Unsent === 0)`)
			w.set(cut)
		}
		shootStop(first, stop)
		first.must("on to the next", `button("Next stop").click(); `+atStop(stop+1))
	}
	first.must("arrow 22", place(1, 1))
	first.must("arrow 23", place(2, 1))
	first.kill()
	w.set(whole)

	second := openPhone(t)
	second.b.open(w.url("/trials/" + halfTrial))
	second.must("it goes on where the notebook stands", ready+"; "+atStop(6))
	for stop := 6; stop < 12; stop++ {
		if stop == 11 {
			w.set(cut)
		}
		shootStop(second, stop)
		if stop < 11 {
			second.must("on to the next", `button("Next stop").click(); `+atStop(stop+1))
		}
	}
	second.b.see("Evidence")
	second.b.see("from 6 pairs")
	second.b.shot("decided-without-network")
	w.set(whole)
	second.b.open(w.url("/trials/" + halfTrial))
	second.must("all is sent", `await wait("nothing waits", () => document.querySelector("[data-unsent]")?.dataset.unsent === "0")`)

	first.start()
	first.b.open(w.url("/trials/" + halfTrial + "?stop=7"))
	first.must("its two arrows are there", ready+`; await wait("two arrows", () => state().Open === 2 && state().Unsent === 0)`)
	byStop := map[int]int{}
	for _, row := range n.ends("trial=" + halfTrial) {
		byStop[*row.End.Stop] += len(row.End.Impacts)
	}
	for stop := range 12 {
		want := 3
		if stop == 6 {
			want = 6 // both phones shot it; both ends are kept, and the trial takes them as two
		}
		if byStop[stop] != want {
			t.Errorf("stop %d holds %d arrows, want %d", stop+1, byStop[stop], want)
		}
	}
	first.b.fault()
	second.b.fault()
}

// shootStop plots the three arrows of a stop.
func shootStop(p *phone, stop int) {
	p.t.Helper()
	for a := range 3 {
		p.must(fmt.Sprintf("arrow %d of stop %d", a+1, stop+1), place((stop*a)%4, (stop+2*a)%3))
	}
	p.must("end done", endDone)
}

// atStop waits until a stop is on the page.
func atStop(stop int) string {
	return fmt.Sprintf(`await wait("stop %d", () => document.body.innerText.includes("Stop %d of 12") && document.querySelector(".board-face"))`, stop+1, stop+1)
}

// TestUploadBreaks cuts the line in the middle of a recording's upload, kills
// the browser, loses the answer of the second try: in the end the notebook has
// the recording once, to the last byte.
func TestUploadBreaks(t *testing.T) {
	n := openNotebook(t)
	n.putBow()
	w := openWire(t, n.addr)
	p := openPhone(t)
	page := w.url("/bows/" + plotBow + "/sound")
	p.b.open(page)
	p.b.see("Record with this device")
	p.must("the pages on the device", `await wait("the pages on the device", () => navigator.serviceWorker.controller)`)
	w.breakAfter(700_000)
	// What the recorder leaves behind when a recording of twelve seconds ends.
	p.must("a recording on the device", `
		const db = await new Promise((ok, no) => { const r = indexedDB.open("tautline-takes"); r.onsuccess = () => ok(r.result); r.onerror = () => no(r.error); });
		await new Promise((ok, no) => {
			const t = db.transaction(["takes", "pieces"], "readwrite"), pieces = 24, frames = 24000, id = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c5eff";
			for (let k = 0; k < pieces; k++) t.objectStore("pieces").put(new Int16Array(frames).map((_, i) => 3000 * Math.sin((k * frames + i) / 20)).buffer, [id, k]);
			t.objectStore("takes").put({ id, name: "evening.wav", started: new Date().toISOString(), rate: 48000, frames: pieces * frames, pieces, ended: true, clipped: 0, treated: [], gaps: 0, of: { bow: "`+plotBow+`" }, where: { phone: "", where: "", bale: "" }, taps: [] });
			t.oncomplete = ok; t.onerror = () => no(t.error);
		}); db.close()`)
	p.b.open(page)
	p.b.see("not yet sent")
	for w.state() != cut {
		p.must("the upload is under way", `await tick()`)
	}
	p.restart(page)
	p.b.see("1 not yet sent")
	w.set(mute)
	p.b.do("try again, into a line that loses the answer", chromedp.Reload())
	p.b.see("1 not yet sent")
	w.set(whole)
	p.b.do("try again", chromedp.Reload())
	p.must("it is sent", `await wait("nothing waits", () => document.querySelector("[data-unsent]")?.dataset.unsent === "0")`)
	list := n.recordingsOf(plotBow, 1)
	res, err := http.Get(n.url("/api/v1/recordings/" + list[0].ID + "/sound"))
	if err != nil {
		t.Fatal(err)
	}
	sound, err := io.ReadAll(res.Body)
	if closed := res.Body.Close(); err != nil || closed != nil || len(sound) != 44+24*24000*2 || !bytes.HasPrefix(sound, []byte("RIFF")) {
		t.Errorf("the notebook holds %d bytes, %v; wanted the whole recording", len(sound), err)
	}
	p.b.fault()
}

// TestChosenFileWaits chooses a recorder's file where the line is cut: it is on
// the device, counted among what is not yet sent, through a killed browser and a
// line that breaks in the middle of the upload, until the notebook has it once.
func TestChosenFileWaits(t *testing.T) {
	n := openNotebook(t)
	n.putBow()
	w := openWire(t, n.addr)
	p := openPhone(t)
	page := w.url("/bows/" + plotBow + "/sound")
	p.b.open(page)
	p.b.see("A file from a recorder")
	p.must("the pages on the device", `await wait("the pages on the device", () => navigator.serviceWorker.controller)`)
	path := earSession(t, 3, 22050, 220*unit.Millimetre, 24)
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	w.set(cut)
	p.b.upload("A new recording", path)
	p.b.see("1 not yet sent")
	p.b.see("Kept on this device")
	p.b.accessible("a file that waits")
	p.restart(page)
	p.b.see("1 not yet sent")
	p.b.see(filepath.Base(path))
	w.breakAfter(int64(len(want)) / 2)
	p.b.do("the line is back, for a while", chromedp.Reload())
	for w.state() != cut {
		p.must("the upload is under way", `await tick()`)
	}
	p.b.see("1 not yet sent")
	w.set(whole)
	p.b.do("try again", chromedp.Reload())
	p.must("it is sent", `await wait("nothing waits", () => document.querySelector("[data-unsent]")?.dataset.unsent === "0")`)
	p.b.see(filepath.Base(path))
	list := n.recordingsOf(plotBow, 1)
	res, err := http.Get(n.url("/api/v1/recordings/" + list[0].ID + "/sound"))
	if err != nil {
		t.Fatal(err)
	}
	sound, err := io.ReadAll(res.Body)
	if closed := res.Body.Close(); err != nil || closed != nil || !bytes.Equal(sound, want) {
		t.Errorf("the notebook holds %d bytes, %v; wanted the %d of the file", len(sound), err, len(want))
	}
	p.b.fault()
}

// TestUnsentAsAFile brings what waits on a phone without a network to the
// notebook through another phone; when the first one sends too, all of it is
// there once. A file that is none is refused whole.
func TestUnsentAsAFile(t *testing.T) {
	n := openNotebook(t)
	n.putBow()
	w := openWire(t, n.addr)
	far := openPhone(t)
	far.b.open(w.url("/bows/" + plotBow + "/plot"))
	far.must("the face", ready+`; await wait("the pages on the device", () => navigator.serviceWorker.controller)`)
	w.set(cut)
	for k := range 3 {
		far.must("an arrow", place(k, 2))
	}
	far.must("end done", endDone)
	far.b.tap("not yet sent")
	far.b.see("2 not yet sent")
	far.b.see("How safely this device keeps it")
	far.b.accessible("what is not yet sent")
	far.b.fits("what is not yet sent")
	far.b.shot("unsent")
	file, err := chromedp.Run(far.b.ctx, chromedp.Evaluate[string](`(async () => { let blob; const make = URL.createObjectURL; URL.createObjectURL = (b) => { blob = b; return make(b); }; [...document.querySelectorAll("button")].find((b) => b.innerText === "Save as a file").click(); return await blob.text(); })()`, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	near := openBrowser(t)
	near.size(390, 844)
	near.open(n.url("/unsent"))
	near.see("Take a file in")
	dir := t.TempDir()
	for name, content := range map[string]string{"other.json": `{"records": [{"path": "/api/v1/people", "body": {}}]}`, "unsent.json": file} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	near.upload("As a file", filepath.Join(dir, "other.json"))
	near.see("Nothing was taken over")
	near.upload("As a file", filepath.Join(dir, "unsent.json"))
	near.see("2 records taken over")
	near.sent()
	near.undone("The whole file is taken back.")
	if ends := n.ends("bow=" + plotBow); len(ends) != 0 {
		t.Errorf("after the file was undone %d ends are in sight", len(ends))
	}
	near.open(n.url("/taken-back"))
	near.bringsBack("2 records")
	near.see("2 records are back")
	w.set(whole)
	far.b.do("the first phone comes home", chromedp.Reload())
	far.b.sent()
	if ends := n.ends("bow=" + plotBow); len(ends) != 1 || len(ends[0].End.Impacts) != 3 {
		t.Errorf("the notebook holds %+v; wanted the one end", ends)
	}
	far.b.do("nothing was refused", waitFor(`!document.body.innerText.includes("refused")`))
	far.b.fault()
	near.fault()
}
