package e2e

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestHeightsPage is asked for the wire and the powder first, types them and a
// low bare shaft, and takes the advised move into the next set-up's form; a
// marked tail gets no move.
func TestHeightsPage(t *testing.T) {
	n, b := targetNotebook(t), openBrowser(t)
	b.size(390, 844)
	b.open(n.url("/bows/" + targetBow))
	b.tap("High or low")
	b.await("Before a high or low bare shaft means anything")
	b.see("Tiller is not advised from bare shafts")
	b.fits("high or low")
	b.fill("reach", "-3 mm")
	b.choose("clean")
	b.await("Shoot three fletched and three bare shafts")
	b.fill("nock", "10 mm")
	b.fill("up", "-6 cm")
	b.await("Make it a change")
	b.see("Lower the nocking point by")
	b.shot("heights")
	touchable(b, "high or low")
	themes(b, "high or low")
	b.do("type nonsense", setValue("up", "low"))
	b.do("it is named beside its field", waitFor(`document.querySelector("[data-field=up] .error")`))
	b.do("put it right", setValue("up", "-6 cm"))
	b.choose("marked")
	b.await("a low reading may mean too low")
	b.choose("clean")
	b.await("Lower the nocking point by")
	b.tap("Make it a change")
	b.do("the form is filled in", waitFor(`document.querySelector("[name='/nocking_point/value']")?.value.endsWith("mm") && document.querySelector("[name='/rest/wire_reach']")?.value === "-3 mm"`))
	b.open(n.url("/bows/" + plainBow + "/heights"))
	b.see("static spine")
	b.accessible("high or low without an arrow")
	b.fault()
}

// choose presses the choice of that value.
func (b *browser) choose(value string) {
	b.t.Helper()
	b.do("choose "+value, calm(), chromedp.Click(chromedp.CSS(fmt.Sprintf("main input[value=%q]", value)), chromedp.NodeVisible))
}
