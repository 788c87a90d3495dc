package main

import (
	"bufio"
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// T26, F7: a processor that fuses x*y+z into one rounding (GOAMD64=v3, arm64)
// gives the same verdict on all of 520 trials as one that does not, and every
// number within a part in 10⁹. Numbers below 10⁻¹² are what is left of a
// difference and compared as they are.
func TestProcessorsAgree(t *testing.T) {
	if runtime.GOARCH != "amd64" {
		t.Skip("the two builds are for amd64")
	}
	if !fuses() {
		t.Skip("this processor lacks what GOAMD64=v3 needs (avx2, fma, bmi2 in /proc/cpuinfo)")
	}
	const cases = "520"
	plain, fused := bank(t, "v1", cases), bank(t, "v3", cases)
	if len(plain) != len(fused) || len(plain) < 20_000 {
		t.Fatalf("%d lines against %d", len(plain), len(fused))
	}
	worst, last := 0.0, 0
	for i := range plain {
		d := apart(plain[i], fused[i])
		worst = max(worst, d)
		if d > 1e-9 {
			t.Errorf("\n%s\n%s", plain[i], fused[i])
		}
		if n, err := strconv.Atoi(plain[i][:strings.IndexByte(plain[i], ' ')]); err == nil {
			last = n
		}
		if strings.Contains(plain[i], ": shot:") {
			t.Errorf("a case is refused, and tests nothing: %s", plain[i])
		}
	}
	if last != 519 {
		t.Errorf("the last case is %d", last)
	}
	t.Logf("%d values of %d cases, worst difference %.1g of the value", len(plain), last+1, worst)
}

// apart is how far two lines are from each other: 0 if equal, the difference
// relative to the value for numbers, infinite for anything else.
func apart(a, b string) float64 {
	if a == b {
		return 0
	}
	nameA, valueA, okA := strings.Cut(a, " = ")
	nameB, valueB, okB := strings.Cut(b, " = ")
	x, errX := strconv.ParseFloat(valueA, 64)
	y, errY := strconv.ParseFloat(valueB, 64)
	if !okA || !okB || nameA != nameB || errX != nil || errY != nil {
		return math.Inf(1)
	}
	d := math.Abs(x - y)
	if d <= 1e-12 {
		return 0
	}
	return d / max(math.Abs(x), math.Abs(y))
}

// bank builds the command for a processor and runs it.
func bank(t *testing.T, level, cases string) (lines []string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "bank-"+level)
	build := exec.Command("go", "build", "-o", file, ".")
	build.Env = append(os.Environ(), "GOAMD64="+level)
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	out, err := exec.Command(file, cases).Output()
	if err != nil {
		t.Fatal(err)
	}
	in := bufio.NewScanner(bytes.NewReader(out))
	for in.Scan() {
		lines = append(lines, in.Text())
	}
	return lines
}

// fuses reports whether this processor can run a v3 build.
func fuses() bool {
	raw, err := os.ReadFile("/proc/cpuinfo")
	if err != nil {
		return false
	}
	for _, flag := range []string{" avx2 ", " fma ", " bmi1 ", " bmi2 ", " f16c ", " movbe "} {
		if !bytes.Contains(raw, []byte(flag)) {
			return false
		}
	}
	return true
}

// What the comparison lets pass, and what not.
func TestApart(t *testing.T) {
	for _, row := range []struct {
		a, b string
		fine bool
	}{
		{"1 x .A = 1", "1 x .A = 1.0000000001", true},
		{"1 x .A = 1", "1 x .A = 1.00000001", false},
		{"1 x .A = 0", "1 x .A = 5.55e-17", true},
		{`1 x .A = "tighter"`, `1 x .A = "cannot tell yet"`, false},
		{"1 x .A = 3 whole", "1 x .A = 4 whole", false},
		{"1 x .A = 3", "1 x .B = 3", false},
		{"1 x: no", "1 x: yes", false},
	} {
		if got := apart(row.a, row.b) <= 1e-9; got != row.fine {
			t.Errorf("%q and %q: %v", row.a, row.b, got)
		}
	}
}
