package server_test

import (
	"bytes"
	"log/slog"
	"regexp"
	"strings"
	"sync"
	"testing"

	"tautline/internal/server"
)

// page is a log that many may write.
type page struct {
	mu   sync.Mutex
	text bytes.Buffer
}

// Write adds to the log.
func (p *page) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.Write(b)
}

// What this program does not offer is no fault of it, and no error in its log.
func TestNotOfferedIsNoError(t *testing.T) {
	var log page
	s := open(t, func(c *server.Config) {
		c.Support, c.Log = nil, slog.New(slog.NewJSONHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	})
	s.do("GET", "/api/v1/support", nil).want(501)
	s.do("PUT", "/api/v1/demo", obj{}).want(501)
	log.mu.Lock()
	text := log.text.String()
	log.mu.Unlock()
	if strings.Contains(text, `"level":"ERROR"`) || !strings.Contains(text, "not offered") {
		t.Errorf("the log says\n%s", text)
	}
	if n := regexp.MustCompile(`tautline_errors_total\{.*`).FindString(string(s.do("GET", "/metrics", nil).want(200).body)); n != "" {
		t.Errorf("it is counted as a failure: %s", n)
	}
}

// checkLog demands that the log tells what was asked and how it went, never
// who, of what, or from where.
func checkLog(t *testing.T, s *site, log *page) {
	me := s.do("GET", "/api/v1/me", nil)
	s.do("PUT", "/api/v1/bows/"+id(), obj{"name": strings.Repeat("Secret", 100)}).want(422)
	log.mu.Lock()
	text := log.text.String()
	log.mu.Unlock()
	for _, private := range []string{"Robin", "Blue 68", "lane 3", "22.1 cm", "Secret", "127.0.0.1", me.at("person/id").(string)} {
		if strings.Contains(text, private) {
			t.Errorf("the log holds %q", private)
		}
	}
	for _, wanted := range []string{`"route":"PUT /api/v1/bows/{id}"`, `"status":201`, `"ms":`} {
		if !strings.Contains(text, wanted) {
			t.Errorf("the log lacks %s", wanted)
		}
	}
}
