package e2e

import (
	"io"
	"net"
	"sync"
	"testing"
)

// wire stands between the browser and the program, as a network does: it can
// be cut, and it can lose answers to what has arrived.
type wire struct {
	listener net.Listener
	to       string
	mu       sync.Mutex
	how      wireState
	open     map[net.Conn]bool
	left     int64 // bytes that still go up before the line breaks; 0: no end
	up       int64 // bytes that went up
	heard    hearsay
	listens  bool // keeps all that goes up in heard
}

type wireState int

const (
	whole wireState = iota
	cut             // nothing passes
	mute            // what is asked arrives, what is answered does not
)

func openWire(t testing.TB, to string) *wire {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &wire{listener: l, to: to, open: map[net.Conn]bool{}}
	go w.serve()
	t.Cleanup(func() {
		if err := l.Close(); err != nil {
			t.Log(err)
		}
		w.set(cut)
	})
	return w
}

func (w *wire) url(path string) string { return "http://" + w.listener.Addr().String() + path }

// set changes the network; what was under way breaks off.
func (w *wire) set(how wireState) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.how = how
	for c := range w.open {
		_ = c.Close() // both ends find out by themselves
	}
}

// breakAfter lets so many more bytes go up, then the line is cut: in the middle
// of whatever is on its way.
func (w *wire) breakAfter(bytes int64) {
	w.set(whole)
	w.mu.Lock()
	defer w.mu.Unlock()
	w.left = bytes
}

// state is how the network is now.
func (w *wire) state() wireState {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.how
}

// sent is how many bytes went up.
func (w *wire) sent() int64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.up
}

// Write lets bytes up to the program as long as the line holds.
func (u uplink) Write(b []byte) (int, error) {
	u.w.mu.Lock()
	if u.w.listens {
		_, _ = u.w.heard.Write(b) // memory takes all
	}
	u.w.up += int64(len(b))
	broken := u.w.left > 0 && u.w.left <= int64(len(b))
	if u.w.left > 0 {
		u.w.left = max(0, u.w.left-int64(len(b)))
	}
	u.w.mu.Unlock()
	if !broken {
		return u.to.Write(b)
	}
	n, _ := u.to.Write(b[:len(b)/2])
	u.w.set(cut)
	return n, io.ErrShortWrite
}

// uplink is the way up of one connection.
type uplink struct {
	w  *wire
	to net.Conn
}

func (w *wire) serve() {
	for {
		from, err := w.listener.Accept()
		if err != nil {
			return // the test is over
		}
		go w.pass(from)
	}
}

// pass carries one connection both ways.
func (w *wire) pass(from net.Conn) {
	to, err := net.Dial("tcp", w.to)
	if err != nil {
		_ = from.Close() // the program is down, and so is the line
		return
	}
	w.mu.Lock()
	how := w.how
	if how != cut {
		w.open[from], w.open[to] = true, true
	}
	w.mu.Unlock()
	if how != cut {
		var both sync.WaitGroup
		both.Go(func() {
			_, _ = io.Copy(uplink{w, to}, from)
			_, _ = to.Close(), from.Close()
		})
		both.Go(func() {
			if how == mute {
				_, _ = io.ReadAtLeast(to, make([]byte, 1), 1) // it has been answered: now the line breaks
				_ = from.Close()
				return
			}
			carry(from, to)
		})
		both.Wait()
	}
	_, _ = from.Close(), to.Close()
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.open, from)
	delete(w.open, to)
}

// carry copies until one end is gone, then lets the other know.
func carry(to, from net.Conn) {
	_, _ = io.Copy(to, from)
	_, _ = to.Close(), from.Close()
}
