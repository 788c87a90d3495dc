//go:build unix

package drill

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"tautline/notebook"
)

// called finds what a process asked the kernel to reach: the family of the
// address, and the address.
var called = regexp.MustCompile(`(?m)^.*\b(?:connect|sendto|sendmsg|sendmmsg)\(.*sa_family=(AF_\w+)[^}]*}.*$`)

// T21, T27: over a day's work the program calls nobody. The real binary runs
// under strace, which sees every connect() of it and of what it starts: none on
// a file, and on PostgreSQL those to the database's own socket alone.
func TestProgramCallsNobody(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the real binary; not in -short")
	}
	r := &Run{N: 1, Seed: 1, bin: bin, dir: t.TempDir(), log: io.Discard, dice: rand.New(rand.NewPCG(1, 1))}
	log := filepath.Join(t.TempDir(), "calls")
	wrap, err := Strace("--seccomp-bpf", "-A", "-o", log, "-e", "trace=connect,sendto,sendmsg,sendmmsg")
	if err != nil {
		t.Skip(err)
	}
	calls := func() []string {
		t.Helper()
		raw, err := os.ReadFile(log)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.Remove(log); err != nil {
			t.Fatal(err)
		}
		return called.FindAllString(string(raw), -1)
	}
	// the rig sees what is there: a database on a port where nothing listens
	control := r.Program(r.Folder())
	control.Wrap = wrap
	if said, err := control.Run(t.Context(), "verify", "--database", "postgres://tautline@127.0.0.1:9/club"); err == nil {
		t.Fatalf("verified nothing: %s", said)
	}
	if seen := calls(); len(seen) == 0 || !strings.Contains(seen[0], "AF_INET") {
		t.Fatalf("strace does not see a call that is made: %q", seen)
	}
	t.Run("SQLite", func(t *testing.T) {
		p := r.Program(r.Folder(), "--backup-every", "1s")
		p.Wrap = wrap
		workday(t, p, log)
		if seen := calls(); len(seen) > 0 {
			t.Errorf("it called %q", seen)
		}
	})
	t.Run("PostgreSQL", func(t *testing.T) {
		address, err := r.Postgres(t.Context())
		if errors.Is(err, ErrSkip) {
			t.Skip(err)
		} else if err != nil {
			t.Fatal(err)
		}
		p := r.Program(r.Folder(), "--backup-every", "1s")
		p.Wrap, p.Env = wrap, []string{"TAUTLINE_DATABASE=" + address}
		workday(t, p, log)
		host := regexp.MustCompile(`host=(\S+)`).FindStringSubmatch(address)[1]
		seen := calls()
		for _, call := range seen {
			if !strings.Contains(call, `AF_UNIX, sun_path="`+host+`/.s.PGSQL.`) {
				t.Errorf("beside its database it called %s", call)
			}
		}
		if len(seen) == 0 {
			t.Error("not even its database")
		}
	})
}

// workday is what a notebook sees in a day: the demo's bows are looked at,
// predicted, judged and recorded; then the commands.
func workday(t *testing.T, p *Program, log string) {
	t.Helper()
	ctx := t.Context()
	if err := p.Start(ctx); err != nil {
		t.Fatal(err)
	}
	defer p.Kill()
	ask := func(method, path, kind string, body []byte) string {
		t.Helper()
		q, err := http.NewRequestWithContext(ctx, method, p.URL()+path, bytes.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		if kind != "" {
			q.Header.Set("Content-Type", kind)
		}
		answer, err := http.DefaultClient.Do(q)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(answer.Body)
		if err = errors.Join(err, answer.Body.Close()); err != nil || answer.StatusCode >= 300 {
			t.Fatalf("%s %s: %d %.300s %v", method, path, answer.StatusCode, text, err)
		}
		return string(text)
	}
	get := func(path string) string { t.Helper(); return ask("GET", path, "", nil) }
	send := func(method, path string, body obj) { t.Helper(); ask(method, path, "application/json", compact(body)) }
	send("PUT", "/api/v1/demo", obj{})
	for _, path := range []string{"/", "/settings", "/openapi.json", "/metrics", "/api/v1/health", "/api/v1/me", "/api/v1/units", "/api/v1/reading-kinds", "/api/v1/week", "/api/v1/sessions", "/api/v1/readings", "/api/v1/faces", "/api/v1/ends", "/api/v1/ends.csv", "/api/v1/shares"} {
		get(path)
	}
	first := func(list, pattern string) string {
		t.Helper()
		m := regexp.MustCompile(pattern).FindStringSubmatch(list)
		if m == nil {
			t.Fatalf("no %s in %.300s", pattern, list)
		}
		return m[1]
	}
	const id = `([0-9a-f]{8}-[0-9a-f-]{27})`
	bow := first(get("/api/v1/bows"), `"id":"`+id+`"`)
	setup := first(get("/api/v1/bows/"+bow+"/setups"), `"id":"`+id+`"`)
	trial := first(get("/api/v1/trials"), `"id":"`+id+`"`)
	sound := first(get("/api/v1/recordings"), `"id":"`+id+`"`)
	for _, path := range []string{
		"/bows/" + bow, "/bows/" + bow + "/observed", "/bows/" + bow + "/standing", "/bows/" + bow + "/ledger", "/bows/" + bow + "/upkeep", "/bows/" + bow + "/signature",
		"/setups/" + setup, "/setups/" + setup + "/putback", "/trials/" + trial, "/trials/" + trial + "/verdicts",
		"/recordings/" + sound, "/recordings/" + sound + "/sound", "/recordings/" + sound + "/listening", "/recordings/" + sound + "/waveform",
	} {
		get("/api/v1" + path)
	}
	get("/sheets/setup/" + setup + ".pdf")
	new := func(noun string) string { return "/api/v1/" + noun + "/" + string(notebook.NewID()) }
	session := string(notebook.NewID())
	send("PUT", "/api/v1/sessions/"+session, obj{"bow": bow, "place": "the hall"})
	send("PUT", new("readings"), obj{"bow": bow, "setup": setup, "session": session, "kind": "brace_height", "text": "22,1 cm"})
	send("POST", "/api/v1/units/parse", obj{"text": "8 3/4 in", "quantity": "setting"})
	send("POST", "/api/v1/predict", obj{"setup": setup})
	send("POST", "/api/v1/trials/"+trial+"/verdict", obj{})
	ask("PUT", "/api/v1/recordings/"+string(notebook.NewID())+"/sound", "audio/wav", Noise(rand.New(rand.NewPCG(1, 1)), 48_000))
	for began := time.Now(); time.Since(began) < startTime; time.Sleep(100 * time.Millisecond) { // the day's backup
		if kept, err := filepath.Glob(filepath.Join(p.Data, "backups", "2*", "backup.json")); err == nil && len(kept) > 0 {
			break
		}
	}
	if err := p.Stop(); err != nil {
		t.Fatal(err)
	}
	if _, err := readTrace(log, p.PID()); err != nil {
		t.Fatal(err)
	}
	to := t.TempDir()
	for _, line := range []string{"verify", "doctor", "backup " + to + "/backup", "export " + to + "/bows.zip", "import " + to + "/bows.zip", "restore latest"} {
		if said, err := p.Run(ctx, strings.Fields(line)...); err != nil {
			t.Fatal(fmt.Errorf("%s: %w: %s", line, err, said))
		}
	}
}
