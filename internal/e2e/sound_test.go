package e2e

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tautline/sound"
	"tautline/sound/soundtest"
	"tautline/unit"
)

const soundBow = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d71"

// earSession is a synthesised session at a blank bale: a shot every 1.5 s.
func earSession(t *testing.T, shots int, rate int, brace unit.Length, seed uint64) string {
	t.Helper()
	var file bytes.Buffer
	if err := sound.EncodeWAV(&file, soundtest.DefaultBow().Session(brace, shots, 1.5, rate, seed), rate); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), fmt.Sprintf("session-%d.wav", seed))
	if err := os.WriteFile(path, file.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// withMicrophone gives the browser a microphone that plays a file.
func withMicrophone(path string) []chromedp.ExecAllocatorOption {
	return []chromedp.ExecAllocatorOption{
		chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-audio-capture", path), chromedp.Flag("autoplay-policy", "no-user-gesture-required"),
	}
}

// heardRow is what the tests read of a listening.
type heardRow struct {
	Seconds float64 `json:"seconds"`
	Rate    int     `json:"sample_rate_hz"`
	Shots   []struct {
		Number  int      `json:"number"`
		Stop    int      `json:"stop"`
		At      float64  `json:"release_s"`
		Auto    *float64 `json:"auto_release_s"`
		Moved   bool     `json:"corrected"`
		Arrow   string   `json:"arrow"`
		Ring    string   `json:"ring"`
		Clicker *float64 `json:"clicker_s"`
	} `json:"shots"`
	Automatic []struct {
		At float64 `json:"release_s"`
	} `json:"automatic"`
}

type recordingRow struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Where string `json:"where"`
	Place string `json:"place"`
	Media string `json:"media"`
	Taps  []struct {
		Stop int     `json:"stop"`
		At   float64 `json:"at_s"`
	} `json:"taps"`
}

// recordings waits until the bow has so many.
func (n *notebook) recordingsOf(bow string, want int) []recordingRow {
	n.t.Helper()
	ctx, cancel := context.WithTimeout(n.t.Context(), patience)
	defer cancel()
	for {
		var list rows[recordingRow]
		n.get("/recordings?bow="+bow, &list)
		if len(list.Rows) == want {
			return list.Rows
		}
		select {
		case <-ctx.Done():
			n.t.Fatalf("%d recordings in the notebook, wanted %d", len(list.Rows), want)
		case <-time.After(100 * time.Millisecond):
		}
	}
}

func (n *notebook) heard(id string) (h heardRow) {
	n.t.Helper()
	n.get("/recordings/"+id+"/listening", &h)
	return h
}

// regular demands that the shots heard are those that the microphone played:
// 1.5 s apart, or more by the pause where the file begins anew.
func (h heardRow) regular(t *testing.T, least int) {
	t.Helper()
	if len(h.Shots) < least {
		t.Errorf("%d shots in %.1f s, wanted at least %d", len(h.Shots), h.Seconds, least)
	}
	for i := 1; i < len(h.Shots); i++ {
		if gap := h.Shots[i].At - h.Shots[i-1].At; math.Abs(gap-1.5) > 0.02 && gap < 2 {
			t.Errorf("shots %d and %d are %.3f s apart; played were 1.5 s", i, i+1, gap)
		}
	}
}

// TestRecorder records a session with the page itself, offline half of the
// time, through a tab that is killed, and finds its shots in the notebook.
func TestRecorder(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t, withMicrophone(earSession(t, 6, 48000, 220*unit.Millimetre, 21))...)
	n.put("/bows/"+soundBow, `{"name": "Plover 68", "style": "recurve"}`)
	b.size(390, 844)
	b.open(n.url("/bows/" + soundBow + "/sound"))
	b.see("Record with this device")
	b.tap("Which phone, and where it lies")
	b.fill("where", "on a stool, 1 m left")
	b.fill("place", "club hall, lane 3")
	b.accessible("the recorder")

	// online, with a second setting
	b.tap("Record with this device")
	b.see("Stop the recording")
	b.do("it runs", waitFor(`document.querySelector("[role=timer]")?.innerText >= "0:03"`))
	b.tap("Next setting (2)")
	b.see("Marks: 1 from 0:00")
	b.accessible("recording")
	b.shot("recording")
	b.do("it runs on", waitFor(`document.querySelector("[role=timer]")?.innerText >= "0:07"`))
	b.tap("Stop the recording")
	got := n.recordingsOf(soundBow, 1)[0]
	if got.Where != "on a stool, 1 m left" || got.Place != "club hall, lane 3" || len(got.Taps) != 2 || got.Taps[1].Stop != 1 || got.Taps[1].At < 2.5 {
		t.Errorf("stored as %+v", got)
	}
	heard := n.heard(got.ID)
	if heard.Seconds < 6.5 {
		t.Errorf("%.2f s were stored of at least 7", heard.Seconds)
	}
	heard.regular(t, 3)
	b.do("the microphone is given back", waitFor(`!document.querySelector("[role=timer]")`))

	// the tab dies while it records, and the notebook is gone too
	b.do("reload", onDisk(), chromedp.Reload()) // what is loaded from now on passes the service worker
	b.do("the pages are kept", waitFor("navigator.serviceWorker.controller"))
	b.see("Record with this device")
	n.kill()
	b.tap("Record with this device")
	b.do("it runs", waitFor(`document.querySelector("[role=timer]")?.innerText >= "0:06"`))
	b.fault()
	b.crash()
	b = b.again()
	b.size(390, 844)
	b.open(n.url("/bows/" + soundBow + "/sound"))
	b.see("everything up to then is here")
	b.see("not yet sent")
	b.shot("recovered")
	n.start()
	b.do("reload", onDisk(), chromedp.Reload())
	list := n.recordingsOf(soundBow, 2)
	heard = n.heard(list[1].ID)
	if heard.Seconds < 5 {
		t.Errorf("%.2f s were kept of at least 6 when the tab died; at most the last second may be lost", heard.Seconds)
	}
	heard.regular(t, 2)
	b.do("nothing waits any more", waitFor(`!document.body.innerText.includes("not yet sent")`))
	b.fits("the bow's sound")
	b.fault()
}

// TestTrialTape records a trial with the page: "next stop" marks where the
// next one begins, and the notebook's shots fall to their stops. Then a file
// that only the browser can decode is sent as WAV.
func TestTrialTape(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t, withMicrophone(earSession(t, 6, 48000, 220*unit.Millimetre, 23))...)
	trial(n)
	b.size(390, 844)
	b.open(n.url("/trials/" + slipTrial))
	b.see("The square should read")
	b.fill("brace_height", expected(b))
	b.tap("Record with this device")
	b.do("it runs", waitFor(`document.querySelector("[role=timer]")?.innerText >= "0:04"`))
	b.accessible("a stop that is recorded")
	b.shot("trial-recording")
	b.tap("Save this stop")
	b.tap("Next stop")
	b.see("2 of ")
	b.do("it runs on through the stops", waitFor(`document.querySelector("[role=timer]")?.innerText >= "0:08"`))
	b.tap("Stop the recording")
	rec := n.recordingsOf(slipBow, 1)[0]
	if len(rec.Taps) != 2 || rec.Taps[0].At != 0 || rec.Taps[1].Stop != 1 || rec.Taps[1].At < 4 {
		t.Errorf("taps %+v; wanted stop 0 from 0 s, stop 1 from 4 s or later", rec.Taps)
	}
	stops := map[int]int{}
	for _, s := range n.heard(rec.ID).Shots {
		stops[s.Stop]++
	}
	if stops[0] == 0 || stops[1] == 0 {
		t.Errorf("shots by stop: %v; wanted some at both", stops)
	}
	b.do("a file that only the browser reads", waitForAnswer(foreignFile))
	if list := n.recordingsOf(slipBow, 2); list[1].Media != "audio/wav" {
		t.Errorf("sent as %q, wanted audio/wav", list[1].Media)
	} else if h := n.heard(list[1].ID); h.Seconds < 2 {
		t.Errorf("%.1f s arrived of 3", h.Seconds)
	}
	b.fault()
}

// foreignFile makes three seconds of WebM with the browser's own recorder, a
// format that the notebook does not read, and chooses it as a file.
const foreignFile = `(async () => {
	const stream = await navigator.mediaDevices.getUserMedia({audio: true}), tape = new MediaRecorder(stream, {mimeType: "audio/webm"}), parts = [];
	tape.ondataavailable = (e) => parts.push(e.data);
	const ended = new Promise((done) => { tape.onstop = done; });
	tape.start();
	await new Promise((done) => setTimeout(done, 3000));
	tape.stop();
	await ended;
	stream.getTracks().forEach((t) => t.stop());
	const carrier = new DataTransfer(), input = document.querySelector("[aria-label='Recording of this stop'] input[type=file]");
	carrier.items.add(new File(parts, "phone.webm", {type: "audio/webm"}));
	input.files = carrier.files;
	input.dispatchEvent(new Event("change", {bubbles: true}));
	return true;
})()`

// TestNoMicrophoneOverPlainHTTP: from another machine over plain http the page
// may not use the microphone; it says why and offers the file way.
func TestNoMicrophoneOverPlainHTTP(t *testing.T) {
	n, b := openNotebook(t, "--host", "bale.example"), openBrowser(t, chromedp.Flag("host-resolver-rules", "MAP bale.example 127.0.0.1"))
	n.put("/bows/"+soundBow, `{"name": "Plover 68", "style": "recurve"}`)
	b.size(390, 844)
	b.open(strings.Replace(n.url("/bows/"+soundBow+"/sound"), "127.0.0.1", "bale.example", 1))
	b.see("cannot use the microphone")
	b.see("A file from a recorder")
	b.accessible("no microphone")
	b.shot("no-microphone")
	b.upload("A new recording", earSession(t, 3, 22050, 220*unit.Millimetre, 24))
	n.recordingsOf(soundBow, 1)
}

// crash kills the page as a phone does that runs out of memory.
func (b *browser) crash() {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 2*time.Second)
	defer cancel()
	// it never answers: the page that should is gone
	_ = chromedp.Do(ctx, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		return t.Call(ctx, "Page.crash", struct{}{}, nil)
	}))
}

// TestOnsetByHand moves an onset with the keyboard, strikes a shot out and
// adds one with buttons, ties one to its arrow, and finds all of it again.
func TestOnsetByHand(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.put("/bows/"+soundBow, `{"name": "Plover 68", "style": "recurve"}`)
	b.size(390, 844)
	b.open(n.url("/bows/" + soundBow + "/sound"))
	b.see("A file from a recorder")
	b.upload("A new recording", earSession(t, 4, 22050, 220*unit.Millimetre, 22))
	rec := n.recordingsOf(soundBow, 1)[0]
	b.tap(rec.Name)
	b.at("/recordings/(" + rec.ID + ")")
	b.see("4 counted, 4 found")
	before := n.heard(rec.ID)

	slider := chromedp.CSS("[role=slider]")
	b.do("come to the waveform", chromedp.Focus(slider, chromedp.NodeVisible))
	for range 3 {
		b.do("right", key("ArrowRight", "ArrowRight"))
	}
	want := before.Shots[0].At + 0.003
	b.do("it moved by 3 ms", waitFor(fmt.Sprintf(`Math.abs(Number(document.querySelector("[role=slider]").getAttribute("aria-valuenow")) - %g) < 2e-4`, want)))
	b.do("reload keeps what is not saved", onDisk(), chromedp.Reload())
	b.see("moved by 3.0 ms")
	b.fill("arrow", "7")
	b.fill("ring", "X")
	b.do("the second shot", chromedp.Click(`//ol[@aria-label="Shots"]/li[2]/button`, chromedp.NodeVisible))
	b.tap("This is no shot")
	b.see("3 counted, 4 found")
	b.tap("Undo")
	b.see("4 counted, 4 found")
	b.tap("This is no shot")
	b.accessible("the recording")
	b.shot("corrected")
	b.tap("Save the corrections")
	b.see("What the program had found is kept beside it")
	b.do("reload", onDisk(), chromedp.Reload())
	b.see("3 counted, 4 found")
	b.see("moved by 3.0 ms")
	after := n.heard(rec.ID)
	if len(after.Shots) != 3 || len(after.Automatic) != 4 || math.Abs(after.Shots[0].At-want) > 2e-4 || !after.Shots[0].Moved || after.Shots[0].Arrow != "7" || after.Shots[0].Ring != "X" {
		t.Errorf("kept as %+v; wanted three shots, the first moved to %g, arrow 7, X", after, want)
	}

	// add one that was missed: where the struck-out one is
	b.tap("A shot was missed")
	b.see("Cursor")
	b.tap("Add a shot at the cursor")
	b.see("added by hand")
	b.tap("Save the corrections")
	b.see("kept beside it")
	if got := n.heard(rec.ID); len(got.Shots) != 4 {
		t.Errorf("%d shots after one was added, wanted 4", len(got.Shots))
	}
	offlineOnset(n, b, rec.ID)
	b.see("Measured")
	b.do("pictures are drawn", waitFor(`[...document.querySelectorAll("canvas")].length >= 3 && document.body.innerText.includes("Loudest at")`))
	b.fits("the recording")
	b.size(1366, 768)
	b.accessible("the recording on a laptop")
	b.shot("recording-laptop")
	b.fault()
}

// offlineOnset moves an onset while the notebook is out of reach: it shows at
// once and is sent when the notebook is back.
func offlineOnset(n *notebook, b *browser, rec string) {
	b.t.Helper()
	before := n.heard(rec).Shots[0].At
	b.do("the first shot", chromedp.Click(`//ol[@aria-label="Shots"]/li[1]/button`, chromedp.NodeVisible))
	n.kill()
	b.do("come to the waveform", chromedp.Focus(chromedp.CSS("[role=slider]"), chromedp.NodeVisible), key("ArrowLeft", "ArrowLeft"))
	b.see("moved by 2.0 ms")
	b.tap("Save the corrections")
	b.see("Kept on this device")
	b.see("moved by 2.0 ms")
	b.see("not yet sent")
	n.start()
	b.do("reload", onDisk(), chromedp.Reload())
	b.do("all is sent", waitFor(`document.querySelector("[data-unsent]")?.dataset.unsent === "0"`))
	b.see("moved by 2.0 ms")
	if after := n.heard(rec).Shots[0].At; math.Abs(after-before+0.001) > 2e-4 {
		b.t.Errorf("the onset is at %g s, wanted a millisecond before %g", after, before)
	}
}

// key presses one key.
func key(code, name string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		for _, kind := range []string{"rawKeyDown", "keyUp"} {
			codes := map[string]int{"ArrowLeft": 37, "ArrowRight": 39, "Delete": 46}
			params := map[string]any{"type": kind, "key": name, "code": code, "windowsVirtualKeyCode": codes[name]}
			if err := t.Call(ctx, "Input.dispatchKeyEvent", params, nil); err != nil {
				return err
			}
		}
		return nil
	})
}

// TestTwoSettings compares two recordings on the page, and reads the bow's
// signature.
func TestTwoSettings(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.put("/bows/"+soundBow, `{"name": "Plover 68", "style": "recurve"}`)
	b.size(390, 844)
	b.open(n.url("/bows/" + soundBow + "/sound"))
	b.upload("A new recording", earSession(t, 6, 22050, 205*unit.Millimetre, 31))
	n.recordingsOf(soundBow, 1)
	b.upload("A new recording", earSession(t, 6, 22050, 235*unit.Millimetre, 32))
	list := n.recordingsOf(soundBow, 2)
	b.see(list[1].Name)
	b.open(n.url("/bows/" + soundBow + "/sound?a=" + list[0].ID + "&b=" + list[1].ID))
	b.see("dB lower") // 3 cm more brace height: 2.4 dB quieter by the synthesiser's truth
	b.see("Spectra of both settings")
	b.do("the pair is sound", waitForAnswer(`fetch("/api/v1/sound/pair?a=`+list[0].ID+`&b=`+list[1].ID+`").then((r) => r.arrayBuffer()).then((a) => new OfflineAudioContext(1, 1, 48000).decodeAudioData(a)).then((s) => s.duration > 2 && s.duration < 3)`))
	b.tap("Test your ears blind")
	for i := range 12 {
		b.see(fmt.Sprintf("Pair %d of 12", i+1))
		b.tap("No difference")
	}
	b.see("Between equals you preferred one in 0 of 6 pairs")
	b.accessible("two settings")
	b.fits("two settings")
	b.shot("two-settings")
	b.tap("Signature and odd shots")
	b.see("Too few shots so far")
	b.accessible("the signature")
	b.fits("the signature")
	b.shot("signature")
	b.fault()
}

// waitForAnswer waits for a promise of true.
func waitForAnswer(promise string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		ok, err := chromedp.Evaluate[bool](promise, chromedp.EvalAwaitPromise)(ctx, t)
		if err == nil && !ok {
			err = fmt.Errorf("not so: %s", promise)
		}
		return err
	})
}
