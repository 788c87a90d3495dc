package server_test

import (
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"tautline/internal/server"
)

// Health and readiness say how old the last proved backup is; it is old at
// three days (T8).
func TestBackupAgeIsSaid(t *testing.T) {
	now := server.BackupStanding{}
	s := open(t, func(c *server.Config) { c.Backups = func() server.BackupStanding { return now } })
	for _, c := range []struct {
		standing server.BackupStanding
		state    string
	}{
		{server.BackupStanding{}, "none"},
		{server.BackupStanding{Last: time.Now().Add(-71 * time.Hour)}, "fresh"},
		{server.BackupStanding{Last: time.Now().Add(-73 * time.Hour)}, "old"},
		{server.BackupStanding{Last: time.Now(), Failed: errors.New("secret path")}, "failed"},
	} {
		now = c.standing
		for _, path := range []string{"/api/v1/health", "/api/v1/ready"} {
			if r := s.do("GET", path, nil).want(200); r.at("backup/state") != c.state || strings.Contains(string(r.body), "secret") {
				t.Errorf("%s with %+v: %s", path, c.standing, r.body)
			}
		}
	}
	without := open(t)
	if r := without.do("GET", "/api/v1/health", nil).want(200); strings.Contains(string(r.body), "backup") {
		t.Errorf("without backups: %s", r.body)
	}
}

// Health says that the notebook's disk is nearly full, in words for its owner,
// and nothing of it while there is room (T5).
func TestLittleSpaceIsSaid(t *testing.T) {
	now := server.SpaceStanding{Free: 600e9}
	s := open(t, func(c *server.Config) { c.Space = func() server.SpaceStanding { return now } })
	if r := s.do("GET", "/api/v1/health", nil).want(200); strings.Contains(string(r.body), "space") {
		t.Errorf("with room enough: %s", r.body)
	}
	for free, says := range map[int64]string{310e6: "Only 310 MB are free", 48e9: "Only 48 GB are free", 0: "Only 0 MB are free"} {
		now = server.SpaceStanding{Free: free, Low: true}
		r := s.do("GET", "/api/v1/health", nil).want(200)
		if got, ok := r.at("space/says").(string); !ok || !strings.HasPrefix(got, says) || r.at("space/free_bytes") != float64(free) || r.at("space/hint") == nil {
			t.Errorf("with %d bytes: %s", free, r.body)
		}
	}
}

// A program that is about to stop is not ready; it still answers (T23).
func TestStoppingIsNotReady(t *testing.T) {
	stopping := false
	s := open(t, func(c *server.Config) { c.Stopping = func() bool { return stopping } })
	s.do("GET", "/api/v1/ready", nil).want(200)
	stopping = true
	if r := s.do("GET", "/api/v1/ready", nil).want(503); r.at("code") != "starting" {
		t.Errorf("%s", r.body)
	}
	s.do("GET", "/api/v1/me", nil).want(200)
}

// While the notebook is being opened the program is alive and not ready.
func TestGateBeforeTheNotebookIsOpen(t *testing.T) {
	gate := &server.Gate{}
	at := httptest.NewServer(gate)
	defer at.Close()
	status := func(path string) (int, string) {
		r, err := http.Get(at.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		body, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		return r.StatusCode, r.Header.Get("Retry-After") + string(body)
	}
	if code, body := status("/api/v1/health"); code != 200 || !strings.Contains(body, "starting") {
		t.Errorf("health: %d %s", code, body)
	}
	if code, body := status("/api/v1/ready"); code != 503 || !strings.HasPrefix(body, "2{") || !strings.Contains(body, "being opened") {
		t.Errorf("ready: %d %s", code, body)
	}
	gate.Open(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, "through") }))
	if code, body := status("/api/v1/ready"); code != 200 || body != "through" {
		t.Errorf("opened: %d %s", code, body)
	}
}

// Lines of Prometheus' text format 0.0.4 (prometheus.io, "Exposition formats").
var sampleLine = regexp.MustCompile(`^[a-z_]+(\{[a-z]+="[^"]*"(,[a-z]+="[^"]*")*\})? -?[0-9.e+-]+$`)

// /metrics tells routes, statuses, times, backups and the store's failures in
// Prometheus' format, holds nothing of any person, and is for this machine.
func TestMetrics(t *testing.T) {
	s := open(t, func(c *server.Config) {
		c.Backups = func() server.BackupStanding {
			return server.BackupStanding{Last: time.Now().Add(-time.Hour), Took: 2 * time.Second}
		}
	})
	s.bowWithSetUp()
	s.do("GET", "/api/v1/bows/"+id(), nil).want(404)
	r := s.do("GET", "/metrics", nil).want(200)
	text := string(r.body)
	for _, want := range []string{
		`tautline_requests_total{route="PUT /api/v1/bows/{id}",status="201"} 1`, `tautline_requests_total{route="GET /api/v1/bows/{id}",status="404"} 1`,
		`tautline_request_seconds_bucket{route="PUT /api/v1/bows/{id}",le="+Inf"} 1`, "# TYPE tautline_request_seconds histogram", "tautline_writable 1",
		"tautline_backup_age_seconds 36", "tautline_backup_failed 0", "tautline_open_work 0", "go_goroutines ", "process_open_fds ",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("there is no %s", want)
		}
	}
	for _, line := range strings.Split(strings.TrimSpace(text), "\n") {
		if !strings.HasPrefix(line, "# ") && !sampleLine.MatchString(line) {
			t.Errorf("not a sample: %s", line)
		}
	}
	for _, private := range []string{"Blue 68", "127.0.0.1", "Robin"} {
		if strings.Contains(text, private) {
			t.Errorf("the metrics hold %q", private)
		}
	}
	for _, c := range []struct {
		allowed bool
		want    int
	}{{false, 404}, {true, 200}} {
		far := open(t, func(c2 *server.Config) { c2.Proxied, c2.Metrics = true, c.allowed })
		if r := far.do("GET", "/metrics", nil, "X-Forwarded-For", "192.0.2.7"); r.status != c.want {
			t.Errorf("from elsewhere, allowed %v: %d", c.allowed, r.status)
		}
	}
}
