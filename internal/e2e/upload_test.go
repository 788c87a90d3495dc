package e2e

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"os"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"tautline/unit"
)

// TestUploadGoesOn sends a recording of some minutes over a line that breaks
// five times while it is on its way, with the program killed and started again
// in two of them, and the page loaded anew in another: it arrives byte for byte,
// and of no part more than one is sent twice (bars.md, U18).
func TestUploadGoesOn(t *testing.T) {
	t.Parallel()
	const part = 1 << 20
	n, b := openNotebook(t), openBrowser(t)
	w := openWire(t, n.addr)
	n.put("/bows/"+soundBow, `{"name": "Plover 68", "style": "recurve"}`)
	file := earSession(t, 60, 48000, 220*unit.Millimetre, 61)
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if len(want) < 8*part {
		t.Fatalf("%d bytes are too few to break five times", len(want))
	}
	b.size(390, 844)
	b.open(w.url("/bows/" + soundBow + "/sound"))
	b.see("Record with this device")
	before := w.sent()
	cuts := []int64{part / 3, 2*part + part/2, part - 1, 1, part + 7}
	for i, bytes := range cuts {
		w.breakAfter(bytes + 2000) // heads of requests
		if i == 0 {
			b.upload("A new recording", file)
		} else {
			b.do("the network is back", waitFor(`dispatchEvent(new Event("online"))`))
		}
		w.broken(t)
		b.see("as soon as that answers")
		switch i {
		case 1, 3:
			n.kill()
			n.start()
		case 2:
			w.set(whole)
			w.breakAfter(1_000_000_000)
			b.do("reload", onDisk(), chromedp.Reload())
			b.see("A new recording")
		}
	}
	w.set(whole)
	b.do("the network is back", waitFor(`dispatchEvent(new Event("online"))`))
	got := n.recordingsOf(soundBow, 1)[0]
	answer, err := http.Get(n.url("/api/v1/recordings/" + got.ID + "/sound"))
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close() //nolint:errcheck // it was read to its end
	if back, err := io.ReadAll(answer.Body); err != nil || !bytes.Equal(back, want) {
		t.Errorf("%d of %d bytes arrived, or others, %v", len(back), len(want), err)
	}
	if over := w.sent() - before - int64(len(want)); over > int64(len(cuts))*part+200_000 {
		t.Errorf("%d bytes too many went up over %d breaks of parts of %d", over, len(cuts), part)
	}
	b.do("nothing waits any more", waitFor(`!document.body.innerText.includes("not yet sent")`))
}

// broken waits until the line has broken.
func (w *wire) broken(t testing.TB) {
	t.Helper()
	for range 600 {
		if w.state() == cut {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("the line never broke: the test proves nothing")
}

// TestThrownAwayWhileItGoesOut throws a recording away while a slow link sends
// its first part: it stays away, here and in the notebook.
func TestThrownAwayWhileItGoesOut(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t)
	n.put("/bows/"+soundBow, `{"name": "Plover 68", "style": "recurve"}`)
	b.size(390, 844)
	b.open(n.url("/bows/" + soundBow + "/sound"))
	b.see("Record with this device")
	link := func(c network.Conditions) {
		b.do("a link", chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{&c}})
			return err
		}))
	}
	link(slowLink)
	b.upload("A new recording", earSession(t, 60, 48000, 220*unit.Millimetre, 61))
	b.see("Sending: ")
	const taken = `new Promise((done) => { const ask = indexedDB.open("tautline-takes"); ask.onsuccess = () => { const all = ask.result.transaction("takes").objectStore("takes").getAllKeys(); all.onsuccess = () => { ask.result.close(); done(all.result.join()); }; }; })`
	ids, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](taken, chromedp.EvalAwaitPromise))
	if err != nil || len(ids) != 36 {
		t.Fatalf("one recording waits here: %q, %v", ids, err)
	}
	b.do("a part is on its way", waitFor(`document.querySelector(".heard progress")?.value > 0.005`))
	b.tap("Throw away")
	b.tap("Yes, throw it away for good")
	b.do("it is gone", waitFor(`!document.querySelector(".heard")`))
	link(network.Conditions{Latency: 0, DownloadThroughput: -1, UploadThroughput: -1})
	status := `(async () => (await fetch("/api/v1/recordings/` + ids + `/upload")).status)()`
	for range 4 { // what still went on would come to its end now
		b.do("the notebook is asked again", waitFor(`dispatchEvent(new Event("online"))`), calm())
		said, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](status, chromedp.EvalAwaitPromise))
		left, asked := chromedp.Run(b.ctx, chromedp.Evaluate[string](taken, chromedp.EvalAwaitPromise))
		if err != nil || asked != nil || said != 404 || left != "" {
			t.Fatalf("the notebook answers %d, here is %q: %v, %v", said, left, err, asked)
		}
	}
	n.recordingsOf(soundBow, 0)
	b.fails = true // a request that was ended
}

// A recording that is thrown away while its record is on the way does not stay
// in the notebook either.
func TestThrownAwayAtTheLastMoment(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t)
	n.put("/bows/"+soundBow, `{"name": "Plover 68", "style": "recurve"}`)
	b.size(390, 844)
	b.open(n.url("/bows/" + soundBow + "/sound"))
	b.see("Record with this device")
	b.do("its record is held up", waitFor(`(() => {
		const real = fetch;
		window.held = [];
		window.fetch = (at, how) => how?.method === "PUT" && /\/recordings\/[^/]+$/.test(String(at)) ? new Promise((done) => held.push(() => done(real(at, how)))) : real(at, how);
		return true;
	})()`))
	b.upload("A new recording", earSession(t, 2, 48000, 220*unit.Millimetre, 62))
	b.do("its record is on the way", waitFor(`held.length > 0`))
	b.tap("Throw away")
	b.tap("Yes, throw it away for good")
	b.do("it is gone", waitFor(`!document.querySelector(".heard")`))
	b.do("its record arrives", waitFor(`(held.forEach((go) => go()), true)`), calm())
	b.sent()
	n.recordingsOf(soundBow, 0)
}
