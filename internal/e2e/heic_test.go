package e2e

import (
	"bytes"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// inHEIC packs a JPEG anew with Debian's heif-enc, which takes the camera's note
// along and turns nothing. The container's own turn is put in here, as phones
// do: whoever then turns by the note as well turns twice. It takes the place
// of a box of the same length that says how many bits a colour has, which the
// picture itself says too.
func inHEIC(t *testing.T, photo string) string {
	t.Helper()
	tool, err := exec.LookPath("heif-enc")
	if err != nil {
		t.Skip("no heif-enc to make HEIC with: install Debian's package libheif-examples")
	}
	path := filepath.Join(t.TempDir(), "face.heic")
	if out, err := exec.Command(tool, "-q", "90", "-o", path, photo).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	const bits, quarter = "pixi\x00\x00\x00\x00\x03\x08\x08\x08", "irot\x03\x00\x00\x00\x00\x00\x00\x00"
	raw, err := os.ReadFile(path)
	if err != nil || bytes.Count(raw, []byte(bits)) != 1 || !bytes.Contains(raw, []byte(cameraName)) || !bytes.Contains(raw, []byte(tellsPlace)) {
		t.Fatalf("the HEIC is not made as expected, or lacks the camera's note: %v", err)
	}
	if err := os.WriteFile(path, bytes.Replace(raw, []byte(bits), []byte(quarter), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// marked finds the rings of the picture that is open and says what is upright.
func (f *thumb) marked(c leaning, wide, high float64) {
	f.b.t.Helper()
	sheet := func(x, y float64) (float64, float64) {
		px, py := c.pixel(x, y)
		return (px + 0.5 - wide/2) / wide, (high/2 - py - 0.5) / wide
	}
	f.b.see("Tap the middle of the face")
	x, y := sheet(0.02, -0.01)
	f.aimed(sheetSpan, x, y)
	f.b.see("The rings fit the picture to")
	f.b.tap("The rings lie right")
	f.b.see("straight above the middle")
	x, y = sheet(0, 0.61)
	f.aimed(sheetSpan, x, y)
	f.b.do("it is seen from straight ahead", waitFor(`document.querySelector(".photo [data-residual]") && document.body.innerText.includes("Look at the rings again")`), calm())
}

// TestPhotoInHEIC chooses a HEIC picture, which this browser does not show by
// itself, with the server gone: the part that reads it is kept with the pages.
// It stands upright, and its holes are where the arrows hit. What is no HEIC
// inside, and what is cut short, is told in a sentence.
func TestPhotoInHEIC(t *testing.T) {
	n, b := openPlot(t)
	camera := leaning{f: 1400, away: 2.2, cx: 600, cy: 450, yaw: 0.3, pitch: -0.2}
	whole := inHEIC(t, photographed(t, camera, 1200, 900))
	raw, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	short := filepath.Join(t.TempDir(), "short.heic")
	if err := os.WriteFile(short, raw[:len(raw)/3], 0o600); err != nil {
		t.Fatal(err)
	}
	b.do("a phone's sharp screen", chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch, chromedp.EmulateScale(3)))
	b.do("the pages are kept on the device", waitFor("navigator.serviceWorker.controller"))
	b.keptParts()
	b.tap("From a photo")
	b.see("Take or choose a picture")
	n.kill()
	b.upload("Photo of the face", short)
	b.see("damaged, or of a kind that cannot be read here")
	b.accessible("a picture refused")
	b.upload("Photo of the face", whole)
	f := &thumb{b: b}
	f.marked(camera, 1200, 900)
	for i, s := range b.shownHoles() {
		if off := math.Hypot(s[0]-holes[i][0], s[1]-holes[i][1]); off > 0.004 {
			t.Errorf("hole %d is shown %.2f mm from where it is, more than 4 mm", i+1, 1e3*off)
		}
	}
	b.shot("heic")
	b.do("reload without a server", onDisk(), chromedp.Reload())
	b.do("the picture is there again", waitFor(`document.querySelector(".photo [data-residual]")`))
	b.fault()
}

// TestPhotoLeavesNoPosition: where a picture was taken is neither sent nor
// kept, in JPEG and in HEIC (T27). Everything that the device keeps for the
// pages, everything that went up the line, the notebook's own folder and the
// browser's are searched for the camera's name and for the position, after an
// end was plotted on the picture and sent.
func TestPhotoLeavesNoPosition(t *testing.T) {
	profile := t.TempDir()
	n, b := openNotebook(t), openBrowser(t, chromedp.UserDataDir(profile))
	n.putBow()
	w := openWire(t, n.addr)
	w.listens = true
	b.do("a phone with a touch screen", chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch, chromedp.EmulateScale(3)))
	b.open(w.url("/bows/" + plotBow + "/plot"))
	b.see("Plot an end")
	camera := leaning{f: 1400, away: 2.2, cx: 600, cy: 450, yaw: 0.3, pitch: -0.2}
	photo := photographed(t, camera, 1200, 900)
	told, err := os.ReadFile(photo)
	if err != nil || !bytes.Contains(told, []byte(cameraName)) || !bytes.Contains(told, []byte(tellsPlace)) {
		t.Fatal("the picture tells nothing to be found: ", err)
	}
	b.tap("From a photo")
	f := &thumb{b: b}
	for _, path := range []string{inHEIC(t, photo), photo} {
		b.upload("Photo of the face", path)
		b.see("Tap the middle of the face")
		b.do("it is kept", onDisk())
		for name, text := range map[string]string{"the camera's name": cameraName, "the position": tellsPlace} {
			if found := b.keeps(text); found != "" {
				t.Errorf("%s of %s is kept in %s", name, filepath.Base(path), found)
			}
		}
		if filepath.Ext(path) == ".heic" {
			b.tap("Another picture")
			b.see("Take or choose a picture")
		}
	}
	f.marked(camera, 1200, 900)
	b.inSight()
	f.place(holes[0][0], holes[0][1], rand.New(rand.NewPCG(27, 1)))
	b.plotted(1)
	b.tap("End done")
	b.sent()
	if end := n.ends("bow=" + plotBow); len(end) != 1 || len(end[0].End.Impacts) != 1 {
		t.Fatalf("stored: %+v", end)
	}
	n.kill() // everything is on the disk
	up := w.heard.String()
	if !strings.Contains(up, "/api/v1/ends/") {
		t.Error("the line heard no end go up")
	}
	for _, text := range []string{cameraName, tellsPlace} {
		if strings.Contains(up, text) {
			t.Errorf("%q went up the line", text)
		}
		for _, dir := range []string{n.dir, profile} {
			if files := holding(t, dir, text); len(files) > 0 {
				t.Errorf("%q lies in %v", text, files)
			}
		}
	}
	b.plant(cameraName + tellsPlace) // the search must be able to find
	if b.keeps(cameraName) == "" || b.keeps(tellsPlace) == "" {
		t.Error("the search does not find what lies there")
	}
	b.fault()
}

// holding lists the files below a folder that hold a text.
func holding(t *testing.T, dir, text string) (files []string) {
	t.Helper()
	seen := 0
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return nil // the browser takes files away while we look
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			return nil
		}
		seen++
		if bytes.Contains(raw, []byte(text)) {
			files = append(files, path)
		}
		return nil
	})
	if err != nil || seen < 2 {
		t.Fatalf("%d files in %s: %v", seen, dir, err)
	}
	return files
}

// plant puts bytes into a database of the page's, as a file is kept.
func (b *browser) plant(text string) {
	b.t.Helper()
	b.promised("plant", `new Promise((done, failed) => {
		const ask = indexedDB.open("planted");
		ask.onupgradeneeded = () => ask.result.createObjectStore("files");
		ask.onerror = () => failed(ask.error);
		ask.onsuccess = () => { const put = ask.result.transaction("files", "readwrite").objectStore("files").put({ file: new Blob([Uint8Array.from(`+codes(text)+`)]) }, "one"); put.onsuccess = () => { ask.result.close(); done(""); }; };
	})`)
}

// codes writes a text's bytes as a list that JavaScript reads.
func codes(text string) string {
	return strings.ReplaceAll(fmt.Sprint([]byte(text)), " ", ", ")
}

// promised gives the text that a promise comes to.
func (b *browser) promised(what, script string) string {
	b.t.Helper()
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](script, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatal(what, ": ", err)
	}
	return out
}

// keptParts waits until every part of the pages is on the device.
func (b *browser) keptParts() {
	b.t.Helper()
	b.promised("the parts", `(async () => { const list = await (await fetch("/parts.json")).json(), held = await caches.open("pages"); for (const part of list) { while (!(await held.match(part))) await new Promise((r) => setTimeout(r, 50)); } return ""; })()`)
}

// keeps tells in which of the pages' own stores a text of Latin-1 lies: the
// browser's databases, blobs in them read in whole, caches and the two shelves
// of short texts.
func (b *browser) keeps(text string) string {
	b.t.Helper()
	return b.promised("search", `(async (want) => {
		const found = [], text = String.fromCharCode(...want);
		const has = (bytes) => { for (let i = bytes.indexOf(want[0]); i >= 0; i = bytes.indexOf(want[0], i + 1)) if (want.every((v, k) => bytes[i + k] === v)) return true; return false; };
		const look = async (v, where, deep = 0) => {
			if (v instanceof Blob) v = await v.arrayBuffer();
			if (v instanceof ArrayBuffer) { if (has(new Uint8Array(v))) found.push(where); return; }
			if (ArrayBuffer.isView(v)) { if (has(new Uint8Array(v.buffer, v.byteOffset, v.byteLength))) found.push(where); return; }
			if (typeof v === "string") { if (v.includes(text)) found.push(where); return; }
			if (v && typeof v === "object" && deep < 8) for (const [k, x] of Object.entries(v)) await look(x, where + "." + k, deep + 1);
		};
		const asked = (r) => new Promise((done, failed) => { r.onsuccess = () => done(r.result); r.onerror = () => failed(r.error); });
		let seen = 0;
		for (const { name } of await indexedDB.databases()) {
			const db = await asked(indexedDB.open(name));
			for (const store of db.objectStoreNames) for (const v of await asked(db.transaction(store).objectStore(store).getAll())) { seen++; await look(v, name + "/" + store); }
			db.close();
		}
		for (const shelf of [localStorage, sessionStorage]) await look({ ...shelf }, "shelf");
		for (const name of await caches.keys()) { const c = await caches.open(name); for (const r of await c.keys()) await look(await (await c.match(r)).arrayBuffer(), r.url); }
		if (seen === 0) found.push("nothing at all was kept: the search is blind");
		return found.join(", ");
	})(`+codes(text)+`)`)
}
