package server_test

import (
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tautline/internal/server"
)

// running starts Run and gives its address and what it returns.
func running(t *testing.T, ctx context.Context, h http.Handler) (string, <-chan error) {
	t.Helper()
	l, err := server.Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Run(ctx, l, h, nil) }()
	return l.Addr().String(), ended
}

// Stopping lets a running request finish, takes no new one, and is no error
// (T23).
func TestGracefulStop(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	began, release := make(chan struct{}), make(chan struct{})
	var done atomic.Bool
	addr, ended := running(t, ctx, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		close(began)
		<-release
		done.Store(true)
		if _, err := io.WriteString(w, "whole"); err != nil {
			t.Error(err)
		}
	}))
	got := make(chan string, 1)
	go func() {
		answer, err := http.Get("http://" + addr)
		if err != nil {
			got <- err.Error()
			return
		}
		defer answer.Body.Close()
		body, err := io.ReadAll(answer.Body)
		got <- string(body) + strings.Repeat("!", boolInt(err != nil))
	}()
	<-began
	stop()
	for { // until the door is shut
		c, err := net.Dial("tcp", addr)
		if err != nil {
			break
		}
		c.Close()
		time.Sleep(time.Millisecond)
	}
	close(release)
	if text := <-got; text != "whole" || !done.Load() {
		t.Errorf("the running request got %q", text)
	}
	if err := <-ended; err != nil {
		t.Errorf("Run returned %v", err)
	}
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// A taken address is said in a plain sentence.
func TestTakenAddress(t *testing.T) {
	l, err := server.Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, err = server.Listen(l.Addr().String())
	if err == nil || !strings.Contains(err.Error(), "another Tautline") {
		t.Errorf("error %v", err)
	}
}

// A client that leaves stops the work it asked for.
func TestLeavingStopsTheWork(t *testing.T) {
	left := make(chan error, 1)
	s := open(t, func(c *server.Config) { c.Sheets = waiting{left} })
	ctx, cancel := context.WithTimeout(context.Background(), 100*time.Millisecond)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, "GET", s.url+"/api/v1/sheets/setup/"+id(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if answer, err := http.DefaultClient.Do(r); err == nil {
		answer.Body.Close()
		t.Fatal("was answered")
	}
	select {
	case err := <-left:
		if !errors.Is(err, context.Canceled) {
			t.Errorf("the work ended with %v", err)
		}
	case <-time.After(10 * time.Second):
		t.Error("the work goes on after the client left")
	}
}

// A calculation that takes too long is given up and said so.
func TestTooLongIsSaid(t *testing.T) {
	s := open(t, func(c *server.Config) { c.Limits.Compute = time.Nanosecond })
	_, setup := s.bowWithSetUp()
	for path, body := range map[string]obj{"/predict": {"setup": setup}, "/sweep": {"setup": setup}, "/trials/plan": {"setup": setup}} {
		if r := s.do("POST", "/api/v1"+path, body).want(503); r.at("code") != "too-long" {
			t.Errorf("%s: %s", path, r.body)
		}
	}
}
