package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

var cuts = flag.Int("cuts", 60, "power cuts for each mode")

// childNormal makes the child write with synchronous=NORMAL, as a control.
const childNormal = "TAUTLINE_TEST_CHILD_NORMAL"

// unsafeStore is a store on a connection that does not wait for the disk.
func unsafeStore(dir string) (*Store, error) {
	q := url.Values{"_pragma": {"busy_timeout(5000)", "journal_mode(WAL)", "synchronous(NORMAL)", "foreign_keys(1)"}, "_txlock": {"immediate"}}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", OmitHost: true, Path: filepath.Join(dir, databaseName), RawQuery: q.Encode()}).String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	held, err := acquire(filepath.Join(dir, "lock"))
	s := &Store{dir: dir, write: db, read: db, lock: held, now: time.Now}
	s.tables()
	return s, err
}

// F1, D1 of the bars: the power goes at random moments. What was acknowledged
// before is there, nothing is there by half, the file is whole. Writes since a
// file's last fsync are kept, lost, or kept in part. With synchronous=NORMAL
// acknowledged readings must be lost (there: at 314 of 400 moments), else the
// rig is blind.
func TestPowerCuts(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		t.Skip("strace is not installed")
	}
	base := t.TempDir()
	s, err := Open(context.Background(), base, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, mode := range []string{"FULL", "NORMAL"} {
		events := traced(t, base, mode)
		rng, lost := rand.New(rand.NewPCG(1, 2)), 0
		for range *cuts {
			at := len(events)/4 + rng.IntN(3*len(events)/4)
			missing, err := afterCut(t, base, events[:at], rng)
			if err != nil {
				t.Errorf("%s, cut after call %d: %v", mode, at, err)
			}
			if missing > 0 {
				lost++
			}
		}
		t.Logf("%s: acknowledged readings lost at %d of %d cuts", mode, lost, *cuts)
		if mode == "FULL" && lost > 0 {
			t.Errorf("acknowledged readings were lost at %d of %d power cuts", lost, *cuts)
		}
		if mode == "NORMAL" && lost == 0 {
			t.Error("the control lost nothing: the rig is blind")
		}
	}
}

// diskCall is one traced call: a write, a sync, a truncation, or an
// acknowledgement.
type diskCall struct {
	kind string
	file string // base name
	at   int64
	data []byte
}

var callLine = regexp.MustCompile(`(pwrite64|write|fsync|fdatasync|ftruncate)\((\d+)<([^>]*)>(?:, "((?:\\x[0-9a-f]{2})*)")?(?:, (\d+))?(?:, (\d+))?\)\s+= (\d+)`)

// traced lets a child write 60 readings and gives its calls in order.
func traced(t *testing.T, base, mode string) (events []diskCall) {
	t.Helper()
	dir, log := t.TempDir(), filepath.Join(t.TempDir(), "trace")
	copyFiles(t, base, dir)
	run := exec.Command("strace", "-f", "-y", "-xx", "-s", "70000", "-qq", "-o", log, "-e", "trace=pwrite64,write,fsync,fdatasync,ftruncate", os.Args[0])
	run.Env = append(os.Environ(), childDir+"="+dir, childWrites+"=60", "GOMAXPROCS=1")
	if mode == "NORMAL" {
		run.Env = append(run.Env, childNormal+"=1")
	}
	if out, err := run.CombinedOutput(); err != nil {
		if strings.Contains(string(out), "ptrace") {
			t.Skipf("no tracing here: %s", out)
		}
		t.Fatalf("%v\n%s", err, out)
	}
	raw, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(joinResumed(string(raw)), "\n") {
		m := callLine.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		data, err := hex.DecodeString(strings.ReplaceAll(m[4], `\x`, ""))
		if err != nil {
			t.Fatal(err)
		}
		c := diskCall{kind: m[1], file: filepath.Base(unescape(m[3])), data: data}
		switch {
		case m[1] == "write" && m[2] == "1":
			c.kind = "ack"
		case !strings.HasPrefix(c.file, databaseName) || strings.HasSuffix(c.file, "-shm"):
			continue
		case m[1] == "ftruncate":
			c.at, err = strconv.ParseInt(m[5], 10, 64)
		case m[1] == "pwrite64":
			c.at, err = strconv.ParseInt(m[6], 10, 64)
		}
		if err != nil {
			t.Fatalf("%v in %.200s", err, line)
		}
		events = append(events, c)
	}
	if len(events) < 100 {
		t.Fatalf("only %d calls were traced:\n%.3000s", len(events), raw)
	}
	return events
}

// unescape reads the paths that -xx wrote in hex.
func unescape(s string) string {
	if raw, err := hex.DecodeString(strings.ReplaceAll(s, `\x`, "")); err == nil {
		return string(raw)
	}
	return s
}

var unfinishedCall = regexp.MustCompile(`^(\d+) +(.*) <unfinished \.\.\.>$`)
var resumedCall = regexp.MustCompile(`^(\d+) +<\.\.\. \w+ resumed>(.*)$`)

// joinResumed puts calls that were interrupted by other threads together, at
// the place where they ended.
func joinResumed(log string) string {
	begun := map[string]string{}
	var out []string
	for _, line := range strings.Split(log, "\n") {
		if m := unfinishedCall.FindStringSubmatch(line); m != nil {
			begun[m[1]] = m[2]
		} else if m := resumedCall.FindStringSubmatch(line); m != nil {
			out = append(out, m[1]+" "+begun[m[1]]+m[2])
		} else {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n")
}

// afterCut builds the files as the power cut may have left them, opens them as
// the program does, and counts the acknowledged readings that are missing.
func afterCut(t *testing.T, base string, events []diskCall, rng *rand.Rand) (missing int, err error) {
	dir := t.TempDir()
	copyFiles(t, base, dir)
	safe := map[string]int{} // calls on a file before its last sync
	acks := ""
	for i, c := range events {
		switch c.kind {
		case "fsync", "fdatasync":
			safe[c.file] = i
		case "ack":
			acks += string(c.data)
		}
	}
	luck := rng.IntN(3) // of writes since the sync: none, all, some
	for i, c := range events {
		if i > safe[c.file] && (luck == 0 || luck == 2 && rng.IntN(2) == 0) {
			continue
		}
		if err := apply(dir, c); err != nil {
			return 0, err
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "lock"), []byte("1\n"), 0o600); err != nil {
		return 0, err
	}
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		return 0, err
	}
	r, err := s.Verify(context.Background())
	if len(r.Problems) > 0 {
		err = errors.Join(err, errors.New(r.Problems[0]))
	}
	have := readingIDs(t, s)
	for id := range ackedIn(acks) {
		if !have[id] {
			missing++
		}
	}
	return missing, errors.Join(err, s.Close())
}

func apply(dir string, c diskCall) error {
	if c.kind != "pwrite64" && c.kind != "ftruncate" {
		return nil
	}
	f, err := os.OpenFile(filepath.Join(dir, c.file), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	if c.kind == "ftruncate" {
		err = f.Truncate(c.at)
	} else if _, err = f.WriteAt(c.data, c.at); err != nil {
		err = fmt.Errorf("%s at %d: %w", c.file, c.at, err)
	}
	return errors.Join(err, f.Close())
}
