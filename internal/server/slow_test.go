package server

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"os"
	"sync"
	"testing"
	"time"
)

// T23: whoever does not finish a header within 5 s, or keeps a connection idle
// for 60 s, is let go of, by Run itself. The test's clock runs faster.
func TestSlowConnectionsAreLetGo(t *testing.T) {
	if headerTime != 5*time.Second || idleTime != 60*time.Second {
		t.Errorf("a header may take %v, a connection rest %v", headerTime, idleTime)
	}
	header, idle := headerTime, idleTime
	headerTime, idleTime = 2*time.Second, 4*time.Second
	defer func() { headerTime, idleTime = header, idle }()
	l, err := Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- Run(ctx, l, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusNoContent) }), nil)
	}()
	var all sync.WaitGroup
	for _, row := range []struct {
		name, sent string
		answered   bool // and idle then
		within     time.Duration
	}{
		{"nothing", "", false, headerTime},
		{"half a line", "GET / HT", false, headerTime},
		{"half a header", "GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: a", false, headerTime},
		{"a request, then nothing", "GET / HTTP/1.1\r\nHost: localhost\r\n\r\n", true, idleTime},
	} {
		all.Go(func() {
			if took := heldFor(t, l.Addr().String(), row.sent, row.answered); took < row.within {
				t.Errorf("%s: let go of after %v, which is too soon", row.name, took)
			}
		})
	}
	all.Wait()
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// heldFor is how long a connection lasts, from before it is made: at least as
// long as the server counts, however slow the machine is.
func heldFor(t *testing.T, address, sent string, answered bool) time.Duration {
	began := time.Now()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Error(err)
		return 0
	}
	defer c.Close()
	err = c.SetReadDeadline(began.Add(20 * time.Second))
	if _, failed := io.WriteString(c, sent); err != nil || failed != nil {
		t.Error(err, failed)
	}
	in := bufio.NewReader(c)
	if answered {
		r, err := http.ReadResponse(in, nil)
		if err != nil || r.StatusCode != http.StatusNoContent || r.Close {
			t.Errorf("%+v, %v", r, err)
		}
	}
	if _, err := io.Copy(io.Discard, in); errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("%q: still held after 20 s", sent)
	}
	return time.Since(began)
}
