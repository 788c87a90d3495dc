package e2e

import (
	"fmt"
	"net/http"
	"path"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"tautline/unit"
)

// changeTakes changes the recordings that wait here, oldest first, the way a
// program from before left them.
const changeTakes = `new Promise((done, fail) => { const ask = indexedDB.open("tautline-takes"); ask.onsuccess = () => {
	const t = ask.result.transaction("takes", "readwrite"), takes = t.objectStore("takes"), all = takes.getAll();
	all.onsuccess = () => { const list = all.result.sort((a, b) => a.started.localeCompare(b.started)); (CHANGE)(list); list.forEach((take) => takes.put(take)); };
	t.oncomplete = () => { ask.result.close(); done("changed"); };
	t.onerror = () => fail(t.error);
}; })`

// TestRecordingsWaitForTheirWriter has two archers share a phone. What the first
// recorded and left there is not sent under the second's login, and goes by
// itself when the first is back: also what a program from before tried under the
// second's name, and what was given up meanwhile. One whose writer was not noted
// is asked about.
func TestRecordingsWaitForTheirWriter(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t, "--accounts"), openBrowser(t)
	w := openBetween(t, n)
	b.fails = true // a busy proxy, and refusals
	b.size(390, 844)
	comesIn(b, w.URL+joining.FindString(n.said.String()), "Ida Falk", "ida")
	b.tap("I have it")
	b.open(w.URL + "/people")
	b.tap("Make a link")
	b.see("Give this link to that person alone")
	invited := text(b, "form + .note .code")
	if said := b.promised("a bow of Ida's", `fetch("/api/v1/bows/`+soundBow+`", {method: "PUT", headers: {"Content-Type": "application/json"}, body: '{"name": "Plover 68", "style": "recurve"}'}).then((r) => String(r.status))`); said != "201" {
		t.Fatal("the bow is answered ", said)
	}
	var tries atomic.Int32
	way := func(open bool) {
		w.set(func(res http.ResponseWriter, req *http.Request) bool {
			if (req.Method != http.MethodPut && req.Method != http.MethodPatch) || !strings.Contains(req.URL.Path, "/recordings/") {
				return false
			}
			tries.Add(1)
			if !open {
				says(res, http.StatusServiceUnavailable, "text/html", "<h1>busy</h1>")
			}
			return !open
		})
	}
	way(false)
	b.open(w.URL + "/bows/" + soundBow + "/sound")
	b.see("Record with this device")
	var files []string
	for seed := range uint64(3) {
		files = append(files, earSession(t, 2, 22050, 220*unit.Millimetre, 71+seed))
		b.upload("A new recording", files[seed])
		b.do("it is kept here", waitFor(fmt.Sprintf(`document.querySelectorAll(".heard").length === %d`, seed+1)))
	}
	b.promised("one refused under another login, and one that nobody's name was noted for", strings.Replace(changeTakes, "CHANGE", `(list) => {
		list[1].why = list[2].why = "It names a record that is not in the notebook. Send that record first, or check the id.";
		list[1].hash = "0".repeat(64);
		delete list[2].by;
	}`, 1))
	leaves := func() {
		t.Helper()
		b.open(w.URL + "/account")
		b.see("You are logged in as")
		b.tap("Log out")
		b.see("On this device, and nowhere else: 3 recordings")
		b.tap("Log out and keep it here")
		b.see("This notebook belongs to several people")
	}
	other := b.again() // a tab that stays open
	other.open(w.URL + "/help")
	other.see("connected")
	leaves()
	way(true)
	tries.Store(0)
	comesIn(b, invited, "Ben Osei", "ben")
	b.tap("I have it")
	b.open(w.URL + "/unsent")
	b.see("it goes to the notebook when they log in here again")
	for range 3 {
		b.do("the notebook is asked again", waitFor(`dispatchEvent(new Event("online"))`), calm())
		other.do("by the other tab too", waitFor(`dispatchEvent(new Event("online"))`), calm())
	}
	b.do("each says whose it is", waitFor(`[...document.querySelectorAll(".heard")].map((h) => /for whoever recorded it/.test(h.innerText) ? "theirs" : /Send as mine/.test(h.innerText) ? "unknown" : "?").join() === "theirs,theirs,unknown"`))
	b.fits("recordings of two")
	b.accessible("recordings of two")
	b.shot("theirs")
	if tries.Load() > 0 {
		t.Errorf("%d times something of Ida's recordings was sent under Ben's login", tries.Load())
	}
	leaves()
	b.open(w.URL + "/unsent")
	logsIn(b, "ida")
	b.do("hers go by themselves", waitFor(`document.querySelector("[data-unsent]")?.dataset.unsent === "1"`))
	b.see(path.Base(files[2]))
	b.tap("Send as mine")
	b.sent()
	sharedOnce(b, w.URL)
	got := column(t, n.database(), "SELECT json_extract(r.body, '$.name') || ' by ' || json_extract(p.body, '$.name') FROM recordings r JOIN people p ON p.id = r.by_person")
	slices.Sort(got)
	if len(got) != 3 || !strings.HasSuffix(got[0], "by Ida Falk") || !strings.HasSuffix(got[1], "by Ida Falk") || !strings.HasSuffix(got[2], "by Ida Falk") {
		t.Errorf("the notebook holds %q", got)
	}
}

// sharedOnce loses the answer to a share: the second press is the same share.
func sharedOnce(b *browser, at string) {
	b.t.Helper()
	b.open(at + "/people")
	b.see("Ben Osei")
	b.do("an answer is lost", waitFor(`(() => {
		const real = window.fetch;
		window.fetch = (at, how) => how?.method === "PUT" && String(at).includes("/shares/") ? (window.fetch = real, real(at, how).then(() => { throw new TypeError("lost"); })) : real(at, how);
		return true;
	})()`))
	b.tap("Share")
	b.see("No answer")
	b.tap("Share")
	b.see("may see all bows of you")
	if n := evaluate[int](b, `[...document.querySelectorAll("li")].filter((l) => l.innerText.includes("may see all bows of you")).length`); n != 1 {
		b.t.Errorf("shared %d times", n)
	}
}

// A recording stays on the device until a record names its sound: the notebook
// gives a sound that nothing names up after a day, and the record alone may wait
// for longer than that.
func TestRecordingStaysUntilItIsNamed(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t)
	n.put("/bows/"+soundBow, `{"name": "Plover 68", "style": "recurve"}`)
	w := openBetween(t, n)
	b.fails = true
	b.size(390, 844)
	var sounds, records atomic.Int32
	w.set(func(res http.ResponseWriter, req *http.Request) bool {
		switch at := req.URL.Path; {
		case !strings.Contains(at, "/recordings/") || req.Method != http.MethodPut && req.Method != http.MethodPatch:
		case strings.HasSuffix(at, "/sound"), strings.HasSuffix(at, "/upload"):
			sounds.Add(1)
		default:
			records.Add(1)
			says(res, http.StatusServiceUnavailable, "text/html", "<h1>busy</h1>")
			return true
		}
		return false
	})
	b.open(w.URL + "/bows/" + soundBow + "/sound")
	b.see("Record with this device")
	b.upload("A new recording", earSession(t, 2, 22050, 220*unit.Millimetre, 91))
	b.do("its record is tried", waitFor(`document.querySelector("[data-unsent]").dataset.unsent === "1"`))
	for range 300 {
		if records.Load() > 0 {
			break
		}
		b.do("wait", waitForAnswer(`new Promise((done) => setTimeout(() => done(true), 100))`))
	}
	b.do("wait until the form no longer waits", waitForAnswer(`new Promise((done) => setTimeout(() => done(true), 6000))`))
	if sounds.Load() == 0 || records.Load() == 0 {
		t.Fatalf("%d sounds and %d records went", sounds.Load(), records.Load())
	}
	b.do("it is here still, once", waitFor(`document.querySelectorAll(".heard").length === 1 && document.querySelector("[data-unsent]").dataset.unsent === "1"`))
	w.set(nil)
	b.open(w.URL + "/bows/" + soundBow + "/sound")
	b.do("it went", waitFor(`document.querySelector("[data-unsent]").dataset.unsent === "0"`))
	n.recordingsOf(soundBow, 1)
	b.fault()
}
