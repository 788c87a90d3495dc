package e2e

import (
	"strings"
	"testing"
)

// TestSupportFile: one button on the settings makes a text for whoever helps;
// it is read on the page, saved as it was read, and names nobody (bars.md,
// section 4, item 9; what it leaves out is held by the command line's tests).
func TestSupportFile(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	b.size(390, 844)
	b.open(n.url("/settings"))
	b.tap("Make a support file")
	b.see("schema version")
	b.see("Read it through")
	b.accessible("the support file")
	b.fits("the support file")
	b.shot("support")
	read := text(b, "pre.support")
	saved := b.promised("save", `(async () => { let blob; const make = URL.createObjectURL; URL.createObjectURL = (b) => { blob = b; return make(b); };
		[...document.querySelectorAll("button")].find((b) => b.innerText === "Save this file").click(); return await blob.text(); })()`)
	if strings.TrimSpace(saved) != strings.TrimSpace(read) || !strings.Contains(saved, "1  bows") {
		t.Errorf("saved %d bytes, read %d: %.300s", len(saved), len(read), saved)
	}
	for _, private := range []string{"Kestrel", n.dir} {
		if strings.Contains(saved, private) {
			t.Errorf("it holds %q", private)
		}
	}
}
