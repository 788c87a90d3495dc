package e2e

import (
	"context"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// TestSystemWishes opens pages for who has asked the system for its own
// colours and for no motion (bars.md, U12): axe-core finds nothing, nothing
// moves, what is chosen stays told apart, and whatever takes the focus, forwards
// and back, stands free of the bars that stay at the edge of the window.
func TestSystemWishes(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	trial(n)
	b := openBrowser(t)
	b.size(390, 844)
	b.do("the system's wishes", chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
			{Name: "forced-colors", Value: "active"}, {Name: "prefers-reduced-motion", Value: "reduce"},
		}})
		return err
	}))
	for _, path := range []string{"/", "/bows/" + slipBow, "/bows/" + slipBow + "/plot", "/trials/" + slipTrial, "/settings"} {
		b.open(n.url(path))
		b.settled()
		for _, f := range b.axe(true) {
			t.Errorf("%s: %s", path, f)
		}
		found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](wishes))
		if err != nil {
			t.Fatal(err)
		}
		if len(found) > 0 {
			t.Errorf("%s:\n%s", path, strings.Join(found, "\n"))
		}
		b.shot("forced" + strings.ReplaceAll(path, "/", "-"))
	}
}

// wishes lists what moves, what is chosen and does not show it, and what hides
// under a bar when it has the focus.
const wishes = `(() => {
	const out = [], name = (e) => e.outerHTML.slice(0, 120), moves = (s) => s.split(",").some((d) => parseFloat(d) > 0);
	if (!matchMedia("(forced-colors: active)").matches || !matchMedia("(prefers-reduced-motion: reduce)").matches) out.push("the wishes do not reach the page");
	for (const e of document.querySelectorAll("body *")) {
		const s = getComputedStyle(e);
		if (moves(s.transitionDuration) || (s.animationName !== "none" && moves(s.animationDuration))) out.push("moves: " + name(e));
		const rest = document.querySelector("[aria-pressed=false]");
		if (rest && e.matches("[aria-pressed=true]:not(:disabled)") && e.checkVisibility() && s.backgroundColor === getComputedStyle(rest).backgroundColor) out.push("chosen, and looks like the rest: " + name(e));
	}
	const all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")].filter((e) => e.checkVisibility() && !e.matches(":disabled, .visually-hidden, .skip"));
	for (const e of [...all, ...all.toReversed()]) {
		e.focus();
		if (document.activeElement !== e) continue;
		const r = e.getBoundingClientRect();
		for (const bar of document.querySelectorAll(".where, .undo")) {
			const q = bar.getBoundingClientRect();
			if (!bar.contains(e) && r.height < innerHeight / 2 && r.top < q.bottom - 1 && r.bottom > q.top + 1 && r.left < q.right && r.right > q.left) out.push("under a bar: " + name(e));
		}
	}
	return out;
})()`
