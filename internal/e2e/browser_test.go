package e2e

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"tautline/internal/contract"
)

// patience is how long a page may take to show what a step waits for. Two
// cores shared with other tests are slow; nothing is judged by its time.
const patience = 20 * time.Second

// browser is one tab of a real Chromium with a fresh profile.
type browser struct {
	t      testing.TB
	ctx    context.Context
	shots  int
	fails  bool // others answer in the program's place, or it is made to fail: no answer is a fault
	mu     sync.Mutex
	faults []string
	asked  map[network.RequestID]string // method by request
}

func openBrowser(t testing.TB, more ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	options := append(browserOptions(chromium(t)), chromedp.UserDataDir(t.TempDir()))
	alloc, stop := chromedp.NewExecAllocator(context.WithoutCancel(t.Context()), append(options, more...)...)
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(func() {
		if err := chromedp.Cancel(ctx); err != nil {
			t.Log("closing the browser:", err)
		}
		end()
		stop()
	})
	b := &browser{t: t, ctx: ctx}
	b.watched("starting Chromium")
	return b
}

// watched holds every page that this tab will show against what a page must
// never do, and fails the test at its end if one did.
func (b *browser) watched(what string) {
	b.t.Helper()
	if err := chromedp.Listen(b.ctx, b.watch); err != nil {
		b.t.Fatal(what+":", err)
	}
	b.t.Cleanup(b.fault)
	b.do("report what the content policy refuses", b.always(`
		document.addEventListener("securitypolicyviolation", (e) => console.error("Content Security Policy refused", e.violatedDirective, e.blockedURI, e.sourceFile))`))
}

// always runs a script in every page that this tab will show, before the
// page's own.
func (b *browser) always(script string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
		return err
	})
}

// again opens another tab in the same browser, as after a tab that died.
func (b *browser) again() *browser {
	b.t.Helper()
	ctx, end := chromedp.NewContext(b.ctx)
	b.t.Cleanup(end)
	next := &browser{t: b.t, ctx: ctx, shots: b.shots}
	next.watched("opening another tab")
	return next
}

// watch collects what a page must never do: throw, complain on the console,
// ask for what the content policy forbids, ask any other machine for anything,
// or meet a fault of the server (T18, T21: no report in the whole run).
func (b *browser) watch(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *runtime.EventExceptionThrown:
		b.faults = append(b.faults, fmt.Sprintf("exception: %+v", e.ExceptionDetails))
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeAssert {
			b.faults = append(b.faults, "console: "+said(e.Args))
		}
	case *log.EventEntryAdded:
		if strings.Contains(e.Entry.Text, "Content Security Policy") || e.Entry.Source == log.EntrySourceSecurity {
			b.faults = append(b.faults, e.Entry.Text)
		}
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(e.Request.URL); err == nil && strings.HasPrefix(u.Scheme, "http") && !ownMachine(u.Hostname()) {
			b.faults = append(b.faults, "a request left for "+e.Request.URL)
		}
		if b.asked == nil {
			b.asked = map[network.RequestID]string{}
		}
		b.asked[e.RequestID] = e.Request.Method
	case *network.EventResponseReceived:
		if b.fails {
			return
		}
		if e.Response.Status == 500 {
			b.faults = append(b.faults, fmt.Sprintf("%s is answered %d", e.Response.URL, e.Response.Status))
		}
		if u, err := url.Parse(e.Response.URL); err == nil && !e.Response.FromServiceWorker {
			b.faults = append(b.faults, undeclared(b.asked[e.RequestID], u.EscapedPath(), int(e.Response.Status))...)
		}
	}
}

// promised is the API's description, read from the first notebook that starts.
var promised struct {
	sync.Mutex
	api *contract.Description
}

// promises reads what the API promises, once.
func (n *notebook) promises() {
	n.t.Helper()
	promised.Lock()
	defer promised.Unlock()
	if promised.api != nil {
		return
	}
	res, err := http.Get(n.url("/openapi.json"))
	if err != nil {
		n.t.Fatal(err)
	}
	raw, err := io.ReadAll(res.Body)
	if err := errors.Join(err, res.Body.Close()); err != nil {
		n.t.Fatal(err)
	}
	if promised.api, err = contract.Read(raw); err != nil {
		n.t.Fatal(err)
	}
}

// undeclared says that an answer's status is not in the API's description (U6:
// every status of the whole browser run is in it).
func undeclared(method, path string, status int) []string {
	promised.Lock()
	defer promised.Unlock()
	if promised.api == nil {
		return nil
	}
	o, ok := promised.api.Find(method, path)
	if !ok {
		return nil
	}
	return o.Answer(status, "", nil)
}

// said puts what a page wrote on its console into one line.
func said(args []*runtime.RemoteObject) string {
	var out []string
	for _, a := range args {
		out = append(out, strings.Trim(string(a.Value), `"`)+a.Description)
	}
	return strings.Join(out, " ")
}

// ownMachine reports whether a name is of this machine or of a test's own
// network; names below example are given to this machine by the tests that use
// them, and lead nowhere else (RFC 2606).
func ownMachine(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || strings.HasSuffix(host, ".example") || ip != nil && (ip.IsLoopback() || ip.IsPrivate())
}

// fault fails the test if a page misbehaved.
func (b *browser) fault() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, f := range b.faults {
		b.t.Error(f)
	}
	b.faults = nil // each is told once
}

// do runs steps, or fails with a picture of what was there instead.
func (b *browser) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.shot("failed")
		text, textErr := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.body.innerText"))
		b.fault()
		b.t.Fatalf("%s: %v\nthe page says (%v):\n%s", what, err, textErr, text)
	}
}

// size makes the window a phone's or a laptop's.
func (b *browser) size(width, height int64) { b.do("resize", chromedp.EmulateViewport(width, height)) }

func (b *browser) open(url string) {
	b.t.Helper()
	b.do("open "+url, chromedp.Navigate(url))
}

// see waits for a text to be in sight.
func (b *browser) see(text string) {
	b.t.Helper()
	b.do(fmt.Sprintf("look for %q", text), waitFor(fmt.Sprintf("document.body.innerText.toLowerCase().includes(%s)", strconv.Quote(strings.ToLower(text)))))
}

// tap presses the button or link that says so, the way a finger does: by its
// place on the screen, once the page has come to rest.
func (b *browser) tap(text string) {
	b.t.Helper()
	b.do(fmt.Sprintf("tap %q", text), calm(), chromedp.Click(fmt.Sprintf(`//*[self::button or self::a or self::summary][contains(normalize-space(.), %q)][not(@disabled)]`, text), chromedp.NodeVisible))
}

// tapNamed presses what a screen reader calls by that name.
func (b *browser) tapNamed(label string) {
	b.t.Helper()
	b.do(fmt.Sprintf("tap %q", label), chromedp.Click(chromedp.CSS(fmt.Sprintf("[aria-label=%q]", label)), chromedp.NodeVisible))
}

// fill types into the field with that name, or that spoken label.
func (b *browser) fill(name, text string) {
	b.t.Helper()
	field := chromedp.CSS(fmt.Sprintf(`[name=%q], input[aria-label=%q]`, name, name))
	b.do("fill "+name, chromedp.Focus(field, chromedp.NodeVisible), chromedp.SendKeys(field, text))
}

// value reads a field.
func (b *browser) value(name string) string {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](fmt.Sprintf(`document.querySelector('[name="%s"]')?.value ?? "no such field"`, name)))
	if err != nil {
		b.t.Fatal(err)
	}
	return v
}

// upload gives a file to the file field of the part of the page that a screen
// reader calls by that name.
func (b *browser) upload(part, path string) {
	b.t.Helper()
	whole, err := filepath.Abs(path)
	if err != nil {
		b.t.Fatal(err)
	}
	b.do("upload "+path, chromedp.SetUploadFiles(chromedp.CSS(fmt.Sprintf("[aria-label=%q] input[type=file]", part)), []string{whole}, chromedp.NodeReady))
}

// path gives the page's address below the server.
func (b *browser) path() string {
	b.t.Helper()
	p, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("location.pathname"))
	if err != nil {
		b.t.Fatal(err)
	}
	return p
}

// at waits until the address fits the pattern and gives its first group.
func (b *browser) at(pattern string) string {
	b.t.Helper()
	b.do("go to "+pattern, waitFor(fmt.Sprintf("new RegExp(%s).test(location.pathname)", strconv.Quote("^"+pattern+"$"))))
	return regexp.MustCompile("^" + pattern + "$").FindStringSubmatch(b.path())[1]
}

// fits demands that nothing sticks out sideways: a phone's page scrolls only
// up and down.
func (b *browser) fits(where string) {
	b.t.Helper()
	over, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`document.documentElement.scrollWidth <= document.documentElement.clientWidth ? [] :
		[document.documentElement.scrollWidth - document.documentElement.clientWidth + " px too wide", ...[...document.querySelectorAll("body *")].filter((e) => e.checkVisibility() && !e.closest(".scroll") && e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5).slice(-5).map((e) => e.outerHTML.slice(0, 120))]`))
	if err != nil {
		b.t.Fatal(err)
	}
	if len(over) > 0 {
		b.shot("too-wide")
		b.t.Errorf("%s: the page is wider than the window: %s", where, strings.Join(over, "\n"))
	}
}

// accessible holds the page as it stands against axe-core's rules, with the
// stricter contrast of 7:1 (WCAG 2.2, criterion 1.4.6) among them.
func (b *browser) accessible(where string) {
	b.t.Helper()
	for _, f := range b.axe(true) {
		b.t.Errorf("%s: %s", where, f)
	}
}

// decided are the questions that axe-core leaves open and we have answered:
// contrast, by our own sum (pale).
var decided = []string{"color-contrast", "color-contrast-enhanced"}

// oneSign is the text of a control that shows a sign, a number or a ring's
// letter and no word, such as "−" called "Less brace height" or "M" called "M, a
// miss": its name says what the sign means.
var oneSign = regexp.MustCompile(`^(\P{L}{0,4}|[XM])$`)

// axe runs axe-core over the page: all rules, or those of colour alone. A
// question that it cannot decide is a fault unless it is one of those that
// were looked at; one that arose because the page moved under it, as when what
// was computed arrives, is gone when it is asked again.
func (b *browser) axe(whole bool) []string {
	b.t.Helper()
	faults := b.axeOnce(whole)
	if len(faults) > 0 {
		b.do("come to rest", calm())
		faults = b.axeOnce(whole)
	}
	return faults
}

func (b *browser) axeOnce(whole bool) (faults []string) {
	b.t.Helper()
	b.do("axe-core is there", b.axeCore())
	options := `{rules: {"color-contrast-enhanced": {enabled: true}}}`
	if !whole {
		options = `{runOnly: ["color-contrast", "color-contrast-enhanced"]}`
	}
	type finding struct{ Rule, Sure, HTML, Why, Text string }
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]finding](`axe.run(document, `+options+`).then((r) =>
		[["sure", r.violations], ["unsure", r.incomplete]].flatMap(([sure, list]) => list.flatMap((v) => v.nodes.map((n) =>
			({Rule: v.id, Sure: sure, HTML: n.html.slice(0, 160), Why: (n.failureSummary ?? "").replaceAll("\n", " "), Text: (document.querySelector(n.target[0])?.innerText ?? "").trim()})))))`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatal(err)
	}
	for _, f := range found {
		if f.Sure == "unsure" && slices.Contains(decided, f.Rule) || f.Rule == "label-content-name-mismatch" && oneSign.MatchString(f.Text) {
			continue
		}
		faults = append(faults, fmt.Sprintf("%s (%s): %s | %s", f.Rule, f.Sure, f.HTML, f.Why))
	}
	return faults
}

// axeCore puts axe-core into the page, once.
func (b *browser) axeCore() chromedp.Action[chromedp.Void] {
	b.t.Helper()
	source, err := os.ReadFile(filepath.Join(root, "web/node_modules/axe-core/axe.min.js"))
	if err != nil {
		b.t.Fatal("axe-core is not here; make web installs it:", err)
	}
	return waitFor(`(window.axe || (() => {` + string(source) + `})(), window.axe)`)
}

// shot keeps a picture of the page when the test runs with -artifacts; without,
// nobody would see it, and a picture of a whole page takes its time.
func (b *browser) shot(name string) {
	b.t.Helper()
	if f := flag.Lookup("test.artifacts"); f == nil || f.Value.String() != "true" {
		return
	}
	b.shots++
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		b.t.Log("no picture:", err)
		return
	}
	path := filepath.Join(b.t.ArtifactDir(), fmt.Sprintf("%02d-%s.png", b.shots, name))
	if err := os.WriteFile(path, png, 0o644); err != nil {
		b.t.Log("no picture:", err)
	}
}

// printed prints the page on A4 and counts the PDF's pages.
func (b *browser) printed(name string) int {
	b.t.Helper()
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPreferCSSPageSize()))
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(b.t.ArtifactDir(), name+".pdf"), pdf, 0o644); err != nil {
		b.t.Log(err)
	}
	if !bytes.HasPrefix(pdf, []byte("%PDF-")) {
		b.t.Fatalf("%s: what was printed is no PDF", name)
	}
	return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1))
}

// calm waits until the page's height has stood still for a moment: pictures
// that are just being drawn move what is below them.
func calm() chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		height := chromedp.Evaluate[int]("document.body.scrollHeight")
		for last := -1; ; {
			now, err := height(ctx, t)
			if err == nil && now == last {
				return nil
			}
			last = now
			select {
			case <-ctx.Done():
				return fmt.Errorf("the page never came to rest: %w", ctx.Err())
			case <-time.After(120 * time.Millisecond):
			}
		}
	})
}

// onDisk waits until the device has written down what was just done: the page
// says "writing" for the moment that it takes.
func onDisk() chromedp.Action[chromedp.Void] {
	return waitFor(`document.documentElement.dataset.kept !== "writing"`)
}

// waitFor waits for a JavaScript condition; a page that is being loaded anew
// simply does not meet it yet.
func waitFor(condition string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		for {
			if ok, err := chromedp.Evaluate[bool]("Boolean("+condition+")")(ctx, t); err == nil && ok {
				return nil
			}
			select {
			case <-ctx.Done():
				return fmt.Errorf("never met %s: %w", condition, ctx.Err())
			case <-time.After(50 * time.Millisecond):
			}
		}
	})
}
