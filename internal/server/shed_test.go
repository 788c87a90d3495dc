package server_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/notebook"
)

// stuck is a notebook whose sessions cannot be read or written until it is let
// go: what a storage at its limit looks like.
type stuck struct {
	notebook.Store
	hold    chan struct{}
	holding atomic.Int64
}

func (s *stuck) Sessions() notebook.Records[notebook.Session] {
	return stuckSessions{s.Store.Sessions(), s}
}

type stuckSessions struct {
	notebook.Records[notebook.Session]
	s *stuck
}

func (r stuckSessions) wait() {
	r.s.holding.Add(1)
	<-r.s.hold
	r.s.holding.Add(-1)
}

func (r stuckSessions) List(ctx context.Context, actor notebook.ID, q notebook.Query) (notebook.Page[notebook.Session], error) {
	r.wait()
	return r.Records.List(ctx, actor, q)
}

func (r stuckSessions) Put(ctx context.Context, actor notebook.ID, x notebook.Session) (notebook.Session, notebook.Outcome, error) {
	r.wait()
	return r.Records.Put(ctx, actor, x)
}

// More than the server can do is refused with when to come again; what is to be
// kept does not wait behind what is to be read; the program says that it lives;
// afterwards everything is as before (T22).
func TestMoreThanCanBeDone(t *testing.T) {
	book := &stuck{hold: make(chan struct{})}
	s := open(t, func(c *server.Config) { book.Store = c.Notebook; c.Notebook = book })
	bow, _ := s.bowWithSetUp()
	var group sync.WaitGroup
	var kept, read, refused, slow atomic.Int64
	ask := func(method, path string, body any, done *atomic.Int64) {
		group.Go(func() {
			begun := time.Now()
			r := s.do(method, path, body)
			switch {
			case r.status < 300:
				done.Add(1)
			case r.status != 503 || r.at("code") != "too-busy" || r.header.Get("Retry-After") == "":
				t.Errorf("%s: %d %s", path, r.status, r.body)
			default:
				refused.Add(1)
				if time.Since(begun) > 2*time.Second {
					slow.Add(1)
				}
			}
		})
	}
	for range 200 {
		ask("GET", "/api/v1/sessions?bow="+bow, nil, &read)
	}
	for deadline := time.Now().Add(10 * time.Second); refused.Load() < 100 && time.Now().Before(deadline); {
		time.Sleep(time.Millisecond)
	}
	for range 20 {
		ask("PUT", "/api/v1/sessions/"+id(), obj{"bow": bow, "place": "hall"}, &kept)
	}
	s.do("GET", "/api/v1/health", nil).want(200)
	s.do("GET", "/", nil).want(200)
	time.Sleep(100 * time.Millisecond) // for the twenty to stand in line
	close(book.hold)
	group.Wait()
	if kept.Load() != 20 || refused.Load() < 100 || read.Load()+refused.Load() != 200 {
		t.Errorf("kept %d of 20, read %d, refused %d of 200", kept.Load(), read.Load(), refused.Load())
	}
	if slow.Load() > 0 {
		t.Errorf("%d refusals took longer than a wait may", slow.Load())
	}
	s.do("GET", "/api/v1/sessions?bow="+bow, nil).want(200)
	if shed := s.do("GET", "/api/v1/health", nil).at("shed"); shed != float64(refused.Load()) {
		t.Errorf("health counts %v refused", shed)
	}
}

// A hundred clients that send headers, or bodies, a letter at a time hold up
// nobody (T23). That they are let go of: TestSlowConnectionsAreLetGo.
func TestSlowClientsHoldUpNobody(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	address := strings.TrimPrefix(s.url, "http://")
	head := "PUT /api/v1/readings/" + id() + " HTTP/1.1\r\nHost: " + address + "\r\nContent-Type: application/json\r\nContent-Length: 500\r\n\r\n{"
	for i := range 100 {
		c, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		begin := head
		if i%2 == 0 {
			begin = head[:40]
		}
		if _, err := io.WriteString(c, begin); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 30 {
		s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": fmt.Sprintf("%d mm", 210+i)}).want(201)
		s.do("GET", "/api/v1/bows", nil).want(200)
	}
}

// A body that is refused is not waited for.
func TestRefusedBodyIsNotWaitedFor(t *testing.T) {
	s := open(t)
	address := strings.TrimPrefix(s.url, "http://")
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := io.WriteString(c, "PUT /api/v1/readings/"+id()+" HTTP/1.1\r\nHost: "+address+"\r\nContent-Type: application/json\r\nContent-Length: 50000000\r\n\r\n{"); err != nil {
		t.Fatal(err)
	}
	if err := c.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	answer, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil || answer.StatusCode != 413 {
		t.Fatalf("%v %v", answer, err)
	}
	answer.Body.Close()
}
