package e2e

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// phone is a browser with a profile that outlives it: it can be killed as a
// phone that runs out of battery, and started again.
type phone struct {
	t       testing.TB
	profile string
	b       *browser        // the tab that is looked at
	root    context.Context // of the browser, with an empty tab that stays
	cmd     *exec.Cmd
	stop    func()
	endTab  func()
}

func openPhone(t testing.TB) *phone {
	t.Helper()
	p := &phone{t: t, profile: t.TempDir()}
	p.start()
	t.Cleanup(func() {
		if p.stop != nil {
			p.kill()
		}
	})
	return p
}

func (p *phone) start() {
	p.t.Helper()
	path := chromium(p.t)
	options := append(browserOptions(path), chromedp.UserDataDir(p.profile), chromedp.ModifyCmdFunc(func(cmd *exec.Cmd) {
		cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // all its processes die together
		p.cmd = cmd
	}))
	alloc, stop := chromedp.NewExecAllocator(context.WithoutCancel(p.t.Context()), options...)
	root, end := chromedp.NewContext(alloc)
	p.stop = func() { end(); stop() }
	if err := chromedp.Do(root, chromedp.Navigate("about:blank")); err != nil {
		p.t.Fatal("starting Chromium:", err)
	}
	p.root, p.b = root, nil
	p.newTab()
}

// newTab opens a tab of its own.
func (p *phone) newTab() {
	p.t.Helper()
	ctx, end := chromedp.NewContext(p.root)
	p.endTab, p.b = end, &browser{t: p.t, ctx: ctx}
	p.b.watched("opening a tab")
	p.b.size(390, 844)
}

// kill ends the browser with every process of it, at once.
func (p *phone) kill() {
	p.t.Helper()
	p.b.fault() // what the tab that dies did counts too
	if err := syscall.Kill(-p.cmd.Process.Pid, syscall.SIGKILL); err != nil {
		p.t.Error("killing the browser:", err)
	}
	p.stop()
	p.stop = nil
}

// restart is a kill and a fresh start at an address.
func (p *phone) restart(url string) {
	p.t.Helper()
	p.kill()
	p.start()
	p.b.open(url)
}

// tab closes the tab and opens another at the same address.
func (p *phone) tab(url string) {
	p.t.Helper()
	p.b.fault()
	p.endTab()
	p.newTab()
	p.b.open(url)
}

// seen is what a page of the range shows.
type seen struct{ Open, Ends, Unsent int }

// helpers are what a thumb does, on the page's own controls.
const helpers = `
const why = async () => { const r = await navigator.serviceWorker?.getRegistration(); return JSON.stringify({ at: location.href, shows: document.querySelector(".copy") && state(), link: document.querySelector(".copy")?.dataset.link, controller: !!navigator.serviceWorker?.controller, registered: !!r, active: r?.active?.state, installing: r?.installing?.state, waiting: r?.waiting?.state, held: (await (await caches.open("pages")).keys()).length }); };
const wait = (what, c) => new Promise((ok, no) => { const end = Date.now() + 90000; const look = () => { let met = false; try { met = c(); } catch {} if (met) ok(); else if (Date.now() > end) why().then((w) => no(new Error("never: " + what + "; " + w))); else setTimeout(look, 4); }; look(); });
const tick = () => new Promise((r) => setTimeout(r));
const count = (q) => document.querySelectorAll(q).length;
const state = () => ({ Open: count(".arrow-list > li"), Ends: count(".end-line"), Unsent: Number(document.querySelector("[data-unsent]").dataset.unsent) });
const safe = () => wait("on the disk", () => document.documentElement.dataset.kept === "yes");
const press = async (k, n = 1) => { for (; n > 0; n--) { document.querySelector(".board-face").dispatchEvent(new KeyboardEvent("keydown", { key: k, bubbles: true })); await tick(); } };
const button = (text) => [...document.querySelectorAll("button")].find((b) => b.innerText.includes(text) && !b.disabled);
const type = (name, text) => { const f = document.querySelector("[name=" + name + "]"); f.value = text; f.dispatchEvent(new InputEvent("input", { bubbles: true })); };
`

// act runs a script on the page and gives what the page shows afterwards, once
// all of it is on the disk.
func (p *phone) act(script string) (seen, error) {
	ctx, cancel := context.WithTimeout(p.b.ctx, 6*patience)
	defer cancel()
	raw, err := chromedp.Run(ctx, chromedp.Evaluate[json.RawMessage](`(async () => {`+helpers+script+`; await safe(); return state(); })()`, chromedp.EvalAwaitPromise))
	var s seen
	if err == nil {
		err = json.Unmarshal(raw, &s)
	}
	return s, err
}

// must is act where nothing may go wrong.
func (p *phone) must(what, script string) seen {
	p.t.Helper()
	s, err := p.act(script)
	if err != nil {
		p.b.shot("failed")
		p.t.Fatalf("%s: %v", what, err)
	}
	return s
}

// ready waits until the range stands, with what the device keeps.
const ready = `await wait("the face", () => document.querySelector(".board-face") && document.querySelector("[data-unsent]"))`

// pagesHeld waits until the device has every page of the program.
const pagesHeld = `await wait("the pages", () => navigator.serviceWorker.controller);
	const list = await (await fetch("/parts.json")).json(), held = await caches.open("pages"); for (const part of list) { while (!(await held.match(part))) await new Promise((r) => setTimeout(r, 50)); }`

// place plots the next arrow so many centimetres right and up.
func place(right, up int) string {
	return fmt.Sprintf(`%s; { const n = count(".arrow-list > li"); await press("Escape"); await press("ArrowLeft"); await press("ArrowRight", %d); await press("ArrowUp", %d); await press("Enter"); await wait("the arrow", () => count(".arrow-list > li") === n + 1); }`, ready, right+1, up)
}

const endDone = ready + `; { const n = count(".end-line"); button("End done").click(); await wait("the end", () => count(".end-line") === n + 1); }`

// whileKilled runs a script and kills the browser somewhere in the middle.
func (p *phone) whileKilled(script string, after time.Duration, url string) {
	p.t.Helper()
	done := make(chan struct{})
	go func() {
		defer close(done)
		_, _ = p.act(script) // whether it got through shows when the page is opened again
	}()
	time.Sleep(after)
	p.kill()
	<-done
	p.start()
	p.b.open(url)
}

func chromium(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			return found
		}
	}
	t.Skip("no Chromium here: install Debian's package chromium")
	return ""
}

// browserOptions are those of every browser of these tests.
func browserOptions(path string) []chromedp.ExecAllocatorOption {
	return append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.Flag("headless", "new"), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-component-update", true), chromedp.Flag("lang", "en-GB"))
}

// long gives how many rounds a drill has: few in every test run, the number in
// the environment in make drills.
func long(t *testing.T, few int) int {
	n := few
	if text := os.Getenv("OFFLINE_SESSIONS"); text != "" {
		if _, err := fmt.Sscan(text, &n); err != nil {
			t.Fatalf("OFFLINE_SESSIONS=%q is no number", text)
		}
	}
	return n
}
