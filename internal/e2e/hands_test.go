package e2e

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// hand is how a person works a page: with a thumb on glass, or with the
// keyboard alone.
type hand interface {
	press(words string)              // the control that says so
	fill(name, text string)          // the field with that name or spoken label
	pick(name, value string)         // of a list of choices
	hit(span float64, right, up int) // an arrow on a face that shows so many metres, in centimetres from its middle
}

// controls finds what can be pressed: in sight, not switched off, its words or
// spoken name containing what is looked for; of several the one with the
// fewest words, so that "Save" is not "Save the bow as a file".
const controls = `(() => {
	const wanted = %s, says = (e) => (e.getAttribute("aria-label") ?? e.innerText ?? "").replace(/\s+/g, " ").trim();
	return [...document.querySelectorAll("button, a[href], summary, label.choice, [role=button]")]
		.filter((e) => e.checkVisibility() && !e.matches(":disabled") && says(e).toLowerCase().includes(wanted.toLowerCase()))
		.sort((a, b) => says(a).length - says(b).length)[0];
})()`

func control(words string) string { return fmt.Sprintf(controls, strconv.Quote(words)) }

// field finds a field by its name or spoken label.
func field(name string) string {
	return fmt.Sprintf(`[...document.querySelectorAll("input, textarea, select")].find((e) => e.checkVisibility() && [e.name, e.getAttribute("aria-label"), e.labels?.[0]?.innerText.replace(" (optional)", "").trim()].includes(%s))`, strconv.Quote(name))
}

// glass is a thumb: every control is touched where it lies on the screen.
type glass struct{ b *browser }

// touched brings an element to the middle of the screen and touches it there. A
// page that moves in that moment, since what was computed has arrived, may have
// nothing under the finger any more, or something else when it lifts: then it is
// touched again, as a person does.
func (g glass) touched(what, element string) {
	g.b.t.Helper()
	for range 5 {
		g.b.do("find "+what, calm(), waitFor(`((e) => e && (e.scrollIntoView({block: "center"}), true))(`+element+`)`), calm())
		at := evaluate[[]float64](g.b, fmt.Sprintf(`((e) => {
			window.underFinger = "", window.touchedAt = performance.now();
			addEventListener("click", ({target}) => { window.underFinger = e.contains(target) || target.contains(e) && target.matches("label") ? "it" : target.closest("button, a, input, select, textarea, summary, label") ? "another control" : "nothing"; }, {capture: true, once: true});
			const r = e.getClientRects()[0];
			return [r.left + r.width / 2, r.top + r.height / 2];
		})(%s)`, element))
		g.b.do("touch "+what, touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: at[0], Y: at[1]}), touch(input.DispatchTouchEventTypeTouchEnd), waitFor(`window.underFinger !== "" || performance.now() - window.touchedAt > 6000`))
		switch hit := evaluate[string](g.b, `window.underFinger ?? "it"`); hit {
		case "it":
			return
		case "another control":
			g.b.shot("failed")
			g.b.t.Fatalf("the page moved under the finger: %s was meant, and another control was touched", what)
		}
	}
	g.b.t.Fatalf("%s does not stand still to be touched", what)
}

func (g glass) press(words string) { g.b.t.Helper(); g.touched(strconv.Quote(words), control(words)) }

func (g glass) fill(name, text string) {
	g.b.t.Helper()
	g.touched("the field "+name, field(name))
	g.b.do("the field "+name+" has the caret", waitFor(`document.activeElement === `+field(name)))
	g.b.typed(text)
}

// pick opens the system's own list, which is no part of the page: only its
// choice is made here.
func (g glass) pick(name, value string) {
	g.b.t.Helper()
	g.touched("the choice "+name, field(name))
	g.b.do("choose "+value, waitFor(fmt.Sprintf(`((e) => e && (e.value = %[2]q, e.dispatchEvent(new Event("input", {bubbles: true})), e.dispatchEvent(new Event("change", {bubbles: true})), e.value === %[2]q))(%[1]s)`, field(name), value)))
}

// hit places an arrow as a thumb does: the cross in the magnifier is brought to
// the hole.
func (g glass) hit(span float64, right, up int) {
	g.b.t.Helper()
	f := &thumb{b: g.b}
	f.aimed(span, float64(right)/100, float64(up)/100)
}

// keys is the keyboard alone: everything is reached with Tab.
type keys struct{ b *browser }

// reached walks to an element with Tab or, where it lies behind, with Shift
// and Tab; it counts only where the focus truly lands.
func (k keys) reached(what, element string) {
	k.b.t.Helper()
	k.b.do("find "+what, calm(), waitFor(element))
	const step = `(() => { const e = %s, at = document.activeElement, radio = e?.querySelector?.("[type=radio]"); return !e || e === at || e.contains(at) || (radio && at.name === radio.name) ? 0 : at.compareDocumentPosition(e) & 4 ? 1 : -1; })()`
	ctx, cancel := context.WithTimeout(k.b.ctx, 4*patience)
	defer cancel()
	for ctx.Err() == nil {
		way, err := chromedp.Run(ctx, chromedp.Evaluate[int](fmt.Sprintf(step, element)))
		switch {
		case err != nil:
			k.b.t.Fatal(err)
		case way == 0:
			return
		case way > 0:
			err = chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab))
		default:
			err = chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab, chromedp.KeyModifiers(chromedp.ModifierShift)))
		}
		if err != nil {
			k.b.t.Fatal(err)
		}
	}
	k.b.shot("unreached")
	k.b.t.Fatalf("%s is not reached with the Tab key", what)
}

func (k keys) press(words string) {
	k.b.t.Helper()
	k.reached(strconv.Quote(words), control(words))
	kind, err := chromedp.Run(k.b.ctx, chromedp.Evaluate[string](`document.activeElement.type ?? ""`))
	if err != nil {
		k.b.t.Fatal(err)
	}
	switch kind {
	case "checkbox":
		k.b.do("choose "+words, chromedp.KeyEvent(" "))
		return
	case "radio": // Tab reaches the group, the arrows choose in it
		for range 12 {
			if chosen, err := chromedp.Run(k.b.ctx, chromedp.Evaluate[bool](control(words)+`.querySelector("[type=radio]").checked`)); err != nil {
				k.b.t.Fatal(err)
			} else if chosen {
				return
			}
			k.b.do("the next choice", chromedp.KeyEvent(kb.ArrowDown))
		}
		k.b.t.Fatalf("the arrows do not reach %q", words)
	}
	k.b.do("press "+words, chromedp.KeyEvent(kb.Enter))
}

func (k keys) fill(name, text string) {
	k.b.t.Helper()
	k.reached("the field "+name, field(name))
	k.b.typed(text)
}

// pick types ahead in the list, as browsers allow.
func (k keys) pick(name, value string) {
	k.b.t.Helper()
	k.reached("the choice "+name, field(name))
	words, err := chromedp.Run(k.b.ctx, chromedp.Evaluate[string](fmt.Sprintf(`[...%s.options].find((o) => o.value === %q)?.text ?? ""`, field(name), value)))
	if err != nil || words == "" {
		k.b.t.Fatalf("the choice %s has no %q: %v", name, value, err)
	}
	k.b.do("choose "+words, chromedp.KeyEvent(words))
	k.b.do(words+" is chosen", waitFor(fmt.Sprintf(`%s.value === %q`, field(name), value)))
}

// hit moves the cross by centimetres from the middle of the face.
func (k keys) hit(_ float64, right, up int) {
	k.b.t.Helper()
	k.reached("the face", `document.querySelector(".board-face")`)
	way := func(n int, more, less string) string {
		if n < 0 {
			return strings.Repeat(less, -n)
		}
		return strings.Repeat(more, n)
	}
	k.b.do("place an arrow", chromedp.KeyEvent(kb.Escape+kb.ArrowLeft+kb.ArrowRight+way(right, kb.ArrowRight, kb.ArrowLeft)+way(up, kb.ArrowUp, kb.ArrowDown)+kb.Enter))
}

// typed replaces what stands in the field that has the caret.
func (b *browser) typed(text string) {
	b.t.Helper()
	b.do("choose what stands there", chromedp.KeyEvent("a", chromedp.KeyModifiers(chromedp.ModifierCtrl)), waitFor(`((e) => typeof e.selectionStart !== "number" || e.selectionStart === 0 && e.selectionEnd === e.value.length || void e.select())(document.activeElement)`))
	b.do("type "+text, chromedp.KeyEvent(strings.ReplaceAll(text, "\n", kb.Enter)))
	if evaluate[bool](b, `document.activeElement.closest(".field") !== null`) { // a cell of a table says nothing
		time.Sleep(400 * time.Millisecond) // what was understood appears, and a hand is slower still
	}
}

// paste puts in what a person has as a text already.
func (b *browser) paste(text string) {
	b.t.Helper()
	b.do("paste", chromedp.KeyEvent("a", chromedp.KeyModifiers(chromedp.ModifierCtrl)), chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, input.InsertText, input.InsertTextParams{Text: text})
		return err
	}))
}
