package notebook

import (
	"os"
	"strings"
	"testing"
)

// The manual's page names every entry of a bow file and every kind of reading.
func TestManualNamesEverything(t *testing.T) {
	raw, err := os.ReadFile("../docs/manual/notebook-format.md")
	if err != nil {
		t.Fatal(err)
	}
	page := string(raw)
	for _, key := range append(Keys(), listKeys...) {
		if !strings.Contains(page, "`"+key+"`") {
			t.Errorf("the manual does not explain %s", key)
		}
	}
	for _, k := range Kinds() {
		if !strings.Contains(page, "`"+string(k.Kind)+"`") {
			t.Errorf("the manual does not name the kind of reading %s", k.Kind)
		}
	}
}
