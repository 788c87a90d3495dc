package e2e

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"
)

// The link of Lighthouse's slow mobile profile (150 ms, 1.6 and 0.75 Mbit/s),
// and a processor six times slower than this machine's.
var (
	slowLink = network.Conditions{Latency: 150, DownloadThroughput: 1.6e6 / 8, UploadThroughput: 0.75e6 / 8}
	slowdown = 6.0
)

// slow makes the tab a slow phone's.
func (b *browser) slow() {
	b.t.Helper()
	b.do("a slow phone", chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch), chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, on := cdp.Call(ctx, t, network.Enable, network.EnableParams{})
		_, link := cdp.Call(ctx, t, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{&slowLink}})
		_, cpu := cdp.Call(ctx, t, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: slowdown})
		return errors.Join(on, link, cpu)
	}))
}

// forget clears what the browser has kept of the notebook's pages.
func (b *browser) forget(origin string) {
	b.t.Helper()
	b.open("about:blank")
	b.do("forget", chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, cache := cdp.Call(ctx, t, network.ClearBrowserCache, cdp.Empty{})
		_, kept := cdp.Call(ctx, t, storage.ClearDataForOrigin, storage.ClearDataForOriginParams{Origin: origin, StorageTypes: "all"})
		return errors.Join(cache, kept)
	}))
}

// painted is when the page's largest part was there, and how much of the page
// moved without being asked to (web.dev's LCP and CLS).
type painted struct{ LCP, CLS float64 }

func (b *browser) painted() painted {
	b.t.Helper()
	b.settled()
	p, err := chromedp.Run(b.ctx, chromedp.Evaluate[painted](`new Promise((done) => {
		const out = {LCP: 0, CLS: 0};
		new PerformanceObserver((l) => l.getEntries().forEach((e) => { out.LCP = e.startTime; })).observe({type: "largest-contentful-paint", buffered: true});
		new PerformanceObserver((l) => l.getEntries().forEach((e) => { if (!e.hadRecentInput) out.CLS += e.value; })).observe({type: "layout-shift", buffered: true});
		setTimeout(() => done(out), 300);
	})`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatal(err)
	}
	return p
}

// p75 is the value that three quarters of the runs stay under.
func p75(of []float64) float64 {
	slices.Sort(of)
	return of[min(len(of)-1, int(math.Ceil(0.75*float64(len(of))))-1)]
}

// BenchmarkFirstPage opens the bench on a slow phone, for the first time and
// again.
func BenchmarkFirstPage(b *testing.B) {
	n, tab := openNotebook(b), openBrowser(b)
	n.putBow()
	tab.slow()
	var cold, warm, moved []float64
	for b.Loop() {
		tab.forget("http://" + n.addr)
		tab.open(n.url("/"))
		first := tab.painted()
		tab.do("the pages are kept on the device", waitFor("navigator.serviceWorker.controller"))
		tab.open("about:blank")
		tab.open(n.url("/"))
		again := tab.painted()
		cold, warm, moved = append(cold, first.LCP), append(warm, again.LCP), append(moved, first.CLS, again.CLS)
	}
	b.ReportMetric(p75(cold), "cold-ms")
	b.ReportMetric(p75(warm), "warm-ms")
	b.ReportMetric(slices.Max(moved), "moved")
}

// BenchmarkTouch places arrows on the plotting page of a slow phone: how long
// from the touch to the next paint. What runs for the first time runs slowly:
// the page runs it out of sight once it is idle (web/src/group/warm.tsx), sooner
// than anybody shoots.
func BenchmarkTouch(b *testing.B) {
	n, tab := openNotebook(b), openBrowser(b)
	n.putBow()
	tab.slow()
	tab.open(n.url("/bows/" + plotBow + "/plot"))
	tab.see("Plot an end")
	evaluate[bool](tab, `(() => { window.took = []; new PerformanceObserver((l) => l.getEntries().forEach((e) => e.interactionId && took.push([e.interactionId, e.duration]))).observe({type: "event", durationThreshold: 16}); return true; })()`)
	tab.do("see the face", waitFor(`document.querySelector(".board-face")`), calm())
	time.Sleep(4 * time.Second)
	face := tab.board()
	for i := 0; b.Loop(); i++ {
		at := &input.TouchPoint{X: face.Left + face.Size*(0.4+0.04*float64(i%6)), Y: face.Top + face.Size/2}
		tab.do("place an arrow", touch(input.DispatchTouchEventTypeTouchStart, at), touch(input.DispatchTouchEventTypeTouchEnd))
		time.Sleep(300 * time.Millisecond)
	}
	each := evaluate[[]float64](tab, `(() => { const by = new Map(); for (const [id, ms] of took) by.set(id, Math.max(ms, by.get(id) ?? 0)); return [...by.values()]; })()`)
	if len(each) == 0 {
		b.Fatal("no touch was seen")
	}
	b.ReportMetric(p75(each), "p75-ms")
	b.ReportMetric(slices.Max(each), "worst-ms")
}
