package main

import (
	"bytes"
	"compress/gzip"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// firstPage is the most the first page may weigh, compressed: 75 kB reach a
// phone on a slow link (150 ms, 1.6 Mbit/s) in about half a second
// (../shared/design/bars.md, U15).
const firstPage = 75_000

// bundled builds the pages into a folder of the test's own.
func bundled(t *testing.T) string {
	t.Helper()
	if _, err := os.Stat("../node_modules/preact"); err != nil {
		t.Skip("the pages' packages are not installed; make web installs them")
	}
	dist := t.TempDir()
	if err := build("../src", dist); err != nil {
		t.Fatal(err)
	}
	return dist
}

func TestFirstPageIsSmall(t *testing.T) {
	dist, total := bundled(t), 0
	for _, name := range append([]string{"index.html", "app.js", "app.css"}, shared(t, dist)...) {
		raw, err := os.ReadFile(filepath.Join(dist, name))
		if err != nil {
			t.Fatal(err)
		}
		var packed bytes.Buffer
		z := gzip.NewWriter(&packed)
		if _, err := z.Write(raw); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		total += packed.Len()
	}
	t.Logf("the first page weighs %d bytes compressed", total)
	if total > firstPage {
		t.Errorf("the first page weighs %d bytes compressed, more than %d", total, firstPage)
	}
}

// shared lists the parts that app.js cannot start without.
func shared(t *testing.T, dist string) (names []string) {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(dist, "app.js"))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile(`(?:from|import)"\./(part-[A-Z0-9]+\.js)"`).FindAllSubmatch(raw, -1) {
		names = append(names, string(m[1]))
	}
	return names
}

// The server's policy (Content-Security-Policy: script-src and style-src
// 'self') refuses what stands inside a page, so none may.
func TestNothingInline(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join(bundled(t), "index.html"))
	if err != nil {
		t.Fatal(err)
	}
	page := string(raw)
	for _, banned := range []string{"<style", " style=", " onload=", " onclick=", "javascript:"} {
		if strings.Contains(page, banned) {
			t.Errorf("index.html holds %q, which the server's policy refuses", banned)
		}
	}
	for _, script := range strings.Split(page, "<script")[1:] {
		tag, body, _ := strings.Cut(script, ">")
		body, _, _ = strings.Cut(body, "</script>")
		if !strings.Contains(tag, " src=") || strings.TrimSpace(body) != "" {
			t.Errorf("index.html holds an inline script: %q", body)
		}
	}
}
