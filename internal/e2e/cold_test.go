package e2e

import "fmt"

// keyNumbers are what is read from afar at the range (bars.md, U14: 32 px, 12:1).
const keyNumbers = ".big, .plot .says strong, .arrow-list .ring, .stop .order, .reading input, .ring-pad button"

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
		const boxes = [...document.querySelectorAll(":is(main, .undo) :is(button, input:not([type=file], [type=checkbox], [type=radio]), select, textarea, summary, a.button, a.pad, .progress a, .views a, label.choice)")].filter((e) => e.checkVisibility()).map((e) => [e, e.getBoundingClientRect()]);
		for (const [e, r] of boxes) {
			if (r.height < 47.5 || r.width < 47.5) out.push(Math.round(r.width) + " × " + Math.round(r.height) + " px: " + e.outerHTML.slice(0, 100));
			if (e.matches(".main") && (r.height < 63.5 || r.width < 300)) out.push("main button of " + Math.round(r.width) + " × " + Math.round(r.height) + " px: " + e.outerHTML.slice(0, 100));
			for (const [o, q] of boxes) {
				const apart = Math.max(q.left - r.right, r.left - q.right, q.top - r.bottom, r.top - q.bottom);
				if (e !== o && main.contains(e) === main.contains(o) && !e.contains(o) && !o.contains(e) && (e.compareDocumentPosition(o) & 4) && apart < 7.5) out.push(apart.toFixed(1) + " px apart: " + e.outerHTML.slice(0, 80) + " and " + o.outerHTML.slice(0, 80));
			}
		}
		for (const e of main.querySelectorAll("`+keyNumbers+`")) {
			const size = parseFloat(getComputedStyle(e).fontSize);
			if (e.checkVisibility() && size < 31.9) out.push("a key number of " + size + " px, 32 asked: " + e.outerHTML.slice(0, 100));
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
			b.unbroken(state + ", " + theme)
		}
		for _, f := range b.pale(theme) {
			b.t.Errorf("%s, %s: %s", state, theme, f)
		}
	}
	b.shot(state)
	b.do("as before", waitFor(`(delete document.documentElement.dataset.theme, dispatchEvent(new Event("themechange")), true)`))
}

// unbroken demands that no word is broken in two for want of room, as where a
// column is squeezed; addresses and the like are long and may be.
func (b *browser) unbroken(where string) {
	b.t.Helper()
	for _, f := range evaluate[[]string](b, `(() => {
		const out = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), range = document.createRange();
		for (let node = walk.nextNode(); node; node = walk.nextNode()) {
			const e = node.parentElement;
			if (e instanceof SVGElement || !e.checkVisibility() || e.closest("script, style, pre, code, .skip")) continue;
			let hidden = false;
			for (let at = e; at && !hidden; at = at.parentElement) hidden = getComputedStyle(at).clipPath !== "none"; // for screen readers only
			if (hidden) continue;
			for (const word of node.data.matchAll(/\p{L}{3,16}/gu)) {
				range.setStart(node, word.index);
				range.setEnd(node, word.index + word[0].length);
				const tops = [...range.getClientRects()].map((r) => r.top);
				if (tops.length > 1 && Math.max(...tops) - Math.min(...tops) > 4) out.push(word[0] + ": " + e.outerHTML.slice(0, 100));
			}
		}
		return out.slice(0, 5);
	})()`) {
		b.t.Errorf("%s: a word is broken: %s", where, f)
	}
}
