package main

import (
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"
)

// longestBehind is how long a newer release of a package may have been out that
// is not taken on, as docs/security.md says: "the rest within 30 weeks".
const longestBehind = 30 * 7 * 24 * time.Hour

// ASVS 15.2.1: of each package that the program names, docs/packages.md says
// what was out on the day when it was looked up. The version in use is the one
// that was looked up, and a newer one was not out for longer than allowed.
func TestPackagesAreWithinTheirTime(t *testing.T) {
	raw, err := os.ReadFile("docs/packages.md")
	if err != nil {
		t.Fatal(err)
	}
	said := regexp.MustCompile(`Looked up on (\d{4}-\d\d-\d\d)`).FindStringSubmatch(string(raw))
	if said == nil {
		t.Fatal("docs/packages.md does not say when it was looked up")
	}
	day, err := time.Parse(time.DateOnly, said[1])
	if err != nil {
		t.Fatal(err)
	}
	row := regexp.MustCompile(`(?m)^\| (\S+) \| (\S+) \| (?:(\S+), (\d{4}-\d\d-\d\d))? ?\|$`)
	looked := map[string]string{}
	for _, m := range row.FindAllStringSubmatch(string(raw), -1) {
		looked[m[1]] = m[2]
		if m[3] == "" {
			continue
		}
		out, err := time.Parse(time.DateOnly, m[4])
		if err != nil || m[3] == m[2] || out.After(day) || day.Sub(out) > longestBehind {
			t.Errorf("%s %s: %s is out since %s (%v)", m[1], m[2], m[3], m[4], err)
		}
	}
	used := namedPackages(t)
	for name, version := range used {
		if looked[name] != version {
			t.Errorf("%s %s is used, and %q was looked up: write docs/packages.md anew, as it says there", name, version, looked[name])
		}
	}
	if len(looked) != len(used) || len(used) < 20 {
		t.Errorf("%d packages were looked up, %d are used", len(looked), len(used))
	}
}

// namedPackages are those that go.mod and package.json name themselves.
func namedPackages(t *testing.T) map[string]string {
	t.Helper()
	used := map[string]string{}
	raw, err := os.ReadFile("go.mod")
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile(`(?m)^\t(\S+) (v\S+)$`).FindAllStringSubmatch(string(raw), -1) {
		used[m[1]] = m[2]
	}
	var lock struct {
		Packages map[string]struct {
			Version                       string
			Dependencies, DevDependencies map[string]string
		}
	}
	if raw, err = os.ReadFile("web/package-lock.json"); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &lock); err != nil {
		t.Fatal(err)
	}
	for _, named := range []map[string]string{lock.Packages[""].Dependencies, lock.Packages[""].DevDependencies} {
		for name := range named {
			used[name] = strings.TrimSpace(lock.Packages["node_modules/"+name].Version)
		}
	}
	return used
}
