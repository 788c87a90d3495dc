package e2e

import (
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// deviceHolds is all that this device keeps of the notebook, as text.
const deviceHolds = `(async () => {
	const ask = (r) => new Promise((done) => { r.onsuccess = () => done(r.result); r.onerror = () => done([]); });
	let all = "";
	for (const { name } of await indexedDB.databases()) {
		const db = await ask(indexedDB.open(name));
		for (const store of db.objectStoreNames) { const s = db.transaction(store).objectStore(store); all += JSON.stringify([await ask(s.getAllKeys()), await ask(s.getAll())]); }
		db.close();
	}
	return all + JSON.stringify({ ...localStorage }) + JSON.stringify({ ...sessionStorage });
})()`

func (b *browser) holds() string {
	b.t.Helper()
	b.do("all is on the disk", onDisk())
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](deviceHolds, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatal(err)
	}
	return s
}

// ASVS 14.3.1, T16: logging out leaves nothing of the notebook in the browser.
// What is nowhere else is named first, and stays or goes as the person says. A
// session elsewhere is seen by its device, and ended from here.
func TestLoggingOutClears(t *testing.T) {
	n, b := openNotebook(t, "--accounts"), openBrowser(t)
	link := regexp.MustCompile(`/join#[\w-]+`).FindString(n.said.String())
	b.size(390, 844)
	comesIn(b, n.url(link), "Ida Falk", "ida")
	b.tap("I have it")
	b.see("Enter")
	b.open(n.url("/bows/new"))
	b.fill("name", "Heron of Ida")
	b.do("it is kept", onDisk())
	if held := b.holds(); !strings.Contains(held, "Heron of Ida") || !strings.Contains(held, `"ida"`) {
		t.Fatalf("the search finds nothing while it is there: %.500s", held)
	}
	b.open(n.url("/account"))
	b.see("(this device)")
	b.see("Chrome on Linux")
	b.tap("Log out")
	b.see("On this device, and nowhere else: 1 form or plot begun")
	b.fits("before logging out")
	b.accessible("before logging out")
	b.shot("before logging out")
	b.tap("Stay")
	b.tap("Log out")
	b.tap("Log out and keep it here")
	b.see("This notebook belongs to several people")
	if held := b.holds(); !strings.Contains(held, "Heron of Ida") {
		t.Error("what was to be kept is gone")
	}
	b.open(n.url("/bows/new"))
	logsIn(b, "ida")
	b.see("Its name")
	if name := b.value("name"); name != "Heron of Ida" {
		b.t.Errorf("the form kept holds %q", name)
	}
	b.open(n.url("/account"))
	b.see("(this device)")
	b.tap("Log out")
	b.tap("Log out and delete it")
	b.see("This notebook belongs to several people")
	if held := b.holds(); strings.Contains(held, "Heron") || strings.Contains(strings.ToLower(held), "ida") {
		t.Errorf("the device still holds %s", held)
	}
	b.fault()
}
