package e2e

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestPagesWithoutNetwork looks at the bench once, then cuts the network and
// opens the pages of the range, none of them opened before: each stands with
// what this device saw last, and says that it is old. A page that computes says
// that the notebook does not answer.
func TestPagesWithoutNetwork(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	n.put("/trials/"+halfTrial, `{"setup": "`+plotSetUp2+`", "ask": {"what": "two set-ups", "setting": "button", "a": "3 turns", "b": "5 turns", "rounds": 6, "arrows": 3, "distance": "30 m", "seed": 4}}`)
	w := openWire(t, n.addr)
	p := openPhone(t)
	p.b.open(w.url("/"))
	p.b.see("Kestrel 68")
	p.must("the bench takes the range along", pagesHeld+`
		const db = await new Promise((ok, no) => { const r = indexedDB.open("tautline-kept"); r.onsuccess = () => ok(r.result); r.onerror = () => no(r.error); });
		const has = (end) => new Promise((ok) => { const r = db.transaction("seen").objectStore("seen").getAllKeys(); r.onsuccess = () => ok(r.result.some((k) => k.endsWith(end))); });
		while (!(await has("/ends?trial=`+halfTrial+`"))) await new Promise((r) => setTimeout(r, 100)); db.close()`)
	w.set(cut)
	bow := "/bows/" + plotBow
	for _, page := range []struct {
		path, shows string
		old         bool // what it shows is what was seen last
	}{
		{"/", "Kestrel 68", true}, {bow, "How it came here", true}, {bow + "/plot", "Plot an end", true}, {"/trials/" + halfTrial, "Stop 1 of 12", true},
		{"/trials/" + halfTrial + "?view=plan", "Every stop, in its order", true}, {"/round", "Read the square", false}, {bow + "/round", "Save, next bow", true}, {bow + "/change", "What do you change?", true},
		{bow + "/ends", "Tables", true}, {bow + "/sound", "Record with this device", true}, {"/settings", "Recordings of this device", false}, {"/unsent", "Nothing waits", false},
		{bow + "/standing", "does not answer", true},
	} {
		p.b.open(w.url(page.path))
		p.b.see(page.shows)
		p.b.do(page.path+" says what it is", waitFor(fmt.Sprintf(`document.querySelector("[data-link=down]") && (!%t || document.body.innerText.includes("as seen")) && !document.body.innerText.includes("not on this device yet")`, page.old)))
		p.b.fits(page.path + " without a network")
		p.b.shot("without-network")
	}
	p.b.do("back to the bench", chromedp.Navigate(w.url("/")))
	p.b.settled()
	p.b.accessible("the bench without a network")
	p.b.fault()
}
