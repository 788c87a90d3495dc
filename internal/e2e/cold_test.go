package e2e

import (
	"fmt"
)

// coldFingers demands that every control is at least 48 px each way with 8 px
// to the next, and a main button 64 px high and as wide as the page (WCAG 2.2
// criterion 2.5.5 asks for 44 px; the rest is our own choice). Controls inside
// one choice or one row of numbers count by their whole label; what stands fixed
// at the foot of the page has its own ground.
func (b *browser) coldFingers(state string) {
	b.t.Helper()
	b.do("come to rest", calm())
	for _, f := range evaluate[[]string](b, `(() => {
		const out = [], main = document.querySelector("main");
		const boxes = [...document.querySelectorAll(":is(main, .undo) :is(button, input:not([type=file], [type=checkbox], [type=radio]), select, textarea, summary, a.button, label.choice)")].filter((e) => e.checkVisibility()).map((e) => [e, e.getBoundingClientRect()]);
		for (const [e, r] of boxes) {
			if (r.height < 47.5 || r.width < 47.5) out.push(Math.round(r.width) + " × " + Math.round(r.height) + " px: " + e.outerHTML.slice(0, 100));
			if (e.matches(".main") && (r.height < 63.5 || r.width < 300)) out.push("main button of " + Math.round(r.width) + " × " + Math.round(r.height) + " px: " + e.outerHTML.slice(0, 100));
			for (const [o, q] of boxes) {
				const apart = Math.max(q.left - r.right, r.left - q.right, q.top - r.bottom, r.top - q.bottom);
				if (e !== o && main.contains(e) === main.contains(o) && !e.contains(o) && !o.contains(e) && (e.compareDocumentPosition(o) & 4) && apart < 7.5) out.push(apart.toFixed(1) + " px apart: " + e.outerHTML.slice(0, 80) + " and " + o.outerHTML.slice(0, 80));
			}
		}
		return out;
	})()`) {
		b.t.Errorf("%s: %s", state, f)
	}
}

// cold holds a state of a page at the range against what cold fingers and
// sunlight need, in every theme; the dark one is as large as the light one.
func (b *browser) cold(state string) {
	b.t.Helper()
	for _, theme := range []string{"light", "dark", "sun"} {
		b.do(state+", "+theme, waitFor(fmt.Sprintf(`(document.documentElement.dataset.theme = %q, dispatchEvent(new Event("themechange")), true)`, theme)), waitFor("document.getAnimations().length === 0"))
		if theme != "dark" {
			b.coldFingers(state + ", " + theme)
			b.fits(state + ", " + theme)
		}
		for _, f := range b.pale(theme) {
			b.t.Errorf("%s, %s: %s", state, theme, f)
		}
	}
	b.shot(state)
	b.do("as before", waitFor(`(delete document.documentElement.dataset.theme, dispatchEvent(new Event("themechange")), true)`))
}
