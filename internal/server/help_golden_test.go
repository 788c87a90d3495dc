package server

import (
	"flag"
	"os"
	"strings"
	"testing"
)

// TestGoldenErrors: the manual's page of refusals says what the page of each
// code says.
func TestGoldenErrors(t *testing.T) {
	const path = "../../docs/manual/errors.md"
	var b strings.Builder
	b.WriteString(`# What a refusal means

Each refusal of the notebook has a code. It stands in the answer to a program, and the page tells the same in words. Nothing that was typed or recorded is lost by a refusal: it stays on the device, and
*Not yet sent* shows it.

`)
	for _, h := range helps {
		b.WriteString("## " + h.Code + ": " + h.Title + "\n" + h.Means + "\n\n**What to try.** " + h.Try + "\n\n")
	}
	want := strings.TrimRight(b.String(), "\n") + "\n"
	if f := flag.Lookup("update"); f != nil && f.Value.String() == "true" {
		if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(path)
	if err != nil || string(got) != want {
		t.Errorf("%v: %s is old; write it anew with: go test ./internal/server -run Golden -update", err, path)
	}
}
