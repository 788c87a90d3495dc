package cli

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The unit file for systemd is one that systemd accepts, exposes little by
// systemd's own measure, and starts the program with flags that it knows.
func TestSystemdUnit(t *testing.T) {
	raw, err := os.ReadFile("../../packaging/tautline.service")
	if err != nil {
		t.Fatal(err)
	}
	line := regexp.MustCompile(`(?m)^ExecStart=/usr/local/bin/tautline (.*) \$TAUTLINE_SERVE$`).FindStringSubmatch(string(raw))
	if line == nil {
		t.Fatal("no ExecStart as expected")
	}
	term := &terminal{out: os.Stdout, err: os.Stderr}
	parser, err := newParser(term, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parse(parser, strings.Fields(line[1])); err != nil {
		t.Errorf("the program does not take %s: %v", line[1], err)
	}
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		t.Skip("systemd-analyze is not installed")
	}
	// here neither the program nor its user is installed
	here := strings.NewReplacer("/usr/local/bin/tautline", "/bin/true", "User=tautline", "User=daemon", "Group=tautline", "Group=daemon").Replace(string(raw))
	unit := filepath.Join(t.TempDir(), "tautline.service")
	if err := os.WriteFile(unit, []byte(here), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("systemd-analyze", "verify", unit).CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("systemd-analyze verify: %v: %s", err, out)
	}
	out, err := exec.Command("systemd-analyze", "security", "--offline=true", unit).CombinedOutput()
	found := regexp.MustCompile(`exposure level for tautline.service: ([0-9.]+)`).FindSubmatch(out)
	if found == nil {
		t.Skipf("systemd-analyze security does not work on files here: %v", err)
	}
	if level, err := strconv.ParseFloat(string(found[1]), 64); err != nil || level > 2 {
		t.Errorf("systemd rates the unit's exposure at %s, the bar is 2.0", found[1])
	}
}
