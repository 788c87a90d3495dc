package cli

import (
	"bufio"
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// ASVS 16.2.2, 16.2.4, 16.4.1: what the program logs, to its file and to the
// terminal, is one object of JSON a line with its time in UTC, whatever the
// machine's zone and whatever stands in the words.
func TestLogsAreLinesInUTC(t *testing.T) {
	was := time.Local
	time.Local = time.FixedZone("far east", 11*3600)
	t.Cleanup(func() { time.Local = was })
	dir, shown := t.TempDir(), &bytes.Buffer{}
	file := openLog(dir)
	log := (&terminal{err: shown}).logger(file, true)
	began := time.Now()
	log.Error("a line\nlevel=INFO msg=\"a line of one's own\"", "error", "with\r\nbreaks and \x1b[31mcolours", "at", began)
	log.Warn("another", "code", "x")
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile(filepath.Join(dir, logName))
	if err != nil {
		t.Fatal(err)
	}
	for where, text := range map[string][]byte{"file": kept, "terminal": shown.Bytes()} {
		lines := bufio.NewScanner(bytes.NewReader(text))
		n := 0
		for ; lines.Scan(); n++ {
			var line map[string]any
			if err := json.Unmarshal(lines.Bytes(), &line); err != nil {
				t.Fatalf("%s: %s: %v", where, lines.Text(), err)
			}
			for _, key := range []string{"time", "at"} {
				at, there := line[key].(string)
				stamp, err := time.Parse(time.RFC3339Nano, at)
				if there && (err != nil || !strings.HasSuffix(at, "Z") || stamp.Sub(began).Abs() > time.Hour) || key == "time" && !there {
					t.Errorf("%s: %s is %q", where, key, at)
				}
			}
		}
		if n != 2 {
			t.Errorf("%s: two entries are %d lines", where, n)
		}
	}
}
