package e2e

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"tautline/unit"
)

// TestColdRound holds the round against what cold fingers and sunlight need,
// from the label that was scanned to the last bow.
func TestColdRound(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t)
	w := openWire(t, n.addr)
	n.putRound()
	b.size(390, 844)
	b.open(w.url("/bows/" + plotBow + "/round"))
	b.see("not read yet")
	b.do("the first field waits for the square", waitFor(`document.activeElement?.name === "brace_height"`))
	b.cold("a label scanned")
	b.tap("Save, next bow")
	b.see("Type at least one reading")
	b.cold("nothing typed")
	for _, f := range [][2]string{{"brace_height", "22,1 cm"}, {"nocking_point", "9 mm"}, {"tiller", "3 mm"}} {
		b.fill(f[0], f[1])
		b.do("it is understood", waitFor(`document.querySelector("[data-field=`+f[0]+`] .says")`))
		b.cold("the " + f[0] + " typed")
	}
	b.tap("Save, next bow")
	b.see("Kestrel 68: 3 readings noted")
	b.see("Dipper 66")
	b.cold("the next bow")
	b.fill("brace_height", "21 kg")
	b.tap("Save, next bow")
	b.do("the refused text stays in its field", waitFor(`document.querySelector("[data-field=brace_height].wrong input")?.value === "21 kg"`))
	b.cold("a refused reading")
	w.set(cut)
	b.do("put it right", waitFor(`(() => { const f = document.querySelector("[name=brace_height]"); f.focus(); f.select(); return document.activeElement === f; })()`), chromedp.KeyEvent(kb.Backspace+"21,2 cm"))
	b.tap("Save, next bow")
	b.see("kept on this device")
	b.see("not yet sent")
	b.cold("a reading that waits for the network")
	w.set(whole)
	b.tap("Take it back")
	b.see("Taken back")
	b.open(n.url("/round"))
	b.see("Brace height: 22")
	b.cold("the round finished")
	b.fault()
}

// TestColdSound holds the recorder against what cold fingers and sunlight need,
// on a bow's page and at a stop of a trial.
func TestColdSound(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t, withMicrophone(earSession(t, 6, 48000, 220*unit.Millimetre, 21))...)
	w := openWire(t, n.addr)
	trial(n)
	b.size(390, 844)
	b.open(w.url("/bows/" + slipBow + "/sound"))
	b.see("Record with this device")
	b.cold("before it records")
	b.tap("Which phone, and where it lies")
	b.cold("where the phone lies")
	b.tap("Which phone, and where it lies")
	b.tap("Record with this device")
	b.see("Stop the recording")
	b.tap("Next setting (2)")
	b.see("Marks: 1 from 0:00")
	b.cold("while it records")
	w.set(cut)
	b.tap("Stop the recording")
	b.see("Kept on this device")
	b.cold("a recording that waits for the network")
	b.tap("Throw away")
	b.see("throw it away for good")
	b.cold("before it is thrown away")
	w.set(whole)
	b.tap("Yes, throw it away for good")
	b.do("it is gone", waitFor(`!document.body.innerText.includes("Throw away") && !document.body.innerText.includes("for good")`))
	b.open(w.url("/trials/" + slipTrial))
	b.see("The square should read")
	b.tap("Record with this device")
	b.see("Stop the recording")
	b.cold("a stop that is recorded")
	b.fill("brace_height", expected(b))
	b.tap("Save this stop")
	b.see("Noted here")
	b.cold("a stop noted while it records")
	b.tap("Stop the recording")
	b.do("the microphone is given back", waitFor(`!document.querySelector("[role=timer]")`))
	b.fault()
}
