package e2e

import "testing"

// TestFittedBow notes where bare shafts land, looks at the fitted bow, asks
// what a higher brace does here and for a way to bring the bare shaft to the
// group, and makes the change.
func TestFittedBow(t *testing.T) {
	n, b := targetNotebook(t), openBrowser(t)
	n.put("/readings/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4f01", `{"bow": "`+targetBow+`", "setup": "`+targetSetUp+`", "kind": "speed", "text": "55.4 m/s", "arrows": 6}`)
	n.put("/readings/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4f02", `{"bow": "`+targetBow+`", "setup": "`+targetSetUp+`", "kind": "bare_shaft_right", "text": "7 cm", "distance": "30 m", "arrows": 6}`)
	b.size(390, 844)
	b.open(n.url("/bows/" + targetBow))
	b.tap("Fitted to your readings")
	b.see("What to measure next")
	b.see("Your readings against the fitted bow")
	b.fits("the fitted bow")
	b.accessible("the fitted bow")
	b.shot("fit")

	b.do("type a brace height", setValue("whatif", "22.9 cm"))
	b.tap("Say what it does")
	b.see("span of 90 %")
	b.tap("Find two or three routes")
	b.see("Chance of meeting the wish")
	b.accessible("a wish with its routes")
	b.fits("a wish with its routes")
	b.shot("fit-advice")
	// by now the readings have fitted the bow by themselves, and kept the fit
	b.open(n.url("/bows/" + targetBow + "/fit"))
	b.long("2 readings, as now")
	b.fault()
}
