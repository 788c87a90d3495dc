package server

import (
	"bytes"
	"context"
	"io"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"tautline/workbench"
)

// What the server does at once (bars.md T22). More than it can do is refused at
// once, with when to come again, rather than done late: a phone keeps what it
// could not send.
const (
	seatsEach   = 4                      // requests of a kind worked on at once, for each core
	mostReading = 32                     // requests for something to read that wait for a seat
	mostKeeping = 96                     // requests to keep something that wait for one
	longestLine = 300 * time.Millisecond // wait, as foreseen, for which the line is still joined
	patience    = 900 * time.Millisecond // longest wait for a seat, should it take longer than foreseen
	smallBody   = 64 << 10               // bytes of a body that are always taken
	mostBodies  = 64 << 20               // bytes of larger bodies that are held while they arrive
	mostFiles   = 64                     // sound files on their way at once, in and out
	mostLong    = 32                     // calculations that wait for their turn
	comeAgain   = 1                      // s, and up to twice as much, by chance: not all at once
)

// gate lets some requests be worked on at once, a few wait, and the rest go.
// What is to be kept has one and what is to be read another, so that neither
// waits for the other.
type gate struct {
	mu      sync.Mutex
	seats   int
	free    int
	most    int
	waiting []chan struct{} // oldest first
	handed  time.Time       // when a seat last went to one that waited, or the line began
	pace    time.Duration   // between two such, lately
}

func newGate(cores, most int) *gate {
	seats := max(8, seatsEach*cores)
	return &gate{seats: seats, free: seats, most: most}
}

// empty tells whether nobody has a seat.
func (g *gate) empty() bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.free == g.seats
}

// idle tells whether no request is worked on just now, but for those that wait
// for something long.
func (s *server) idle() bool { return s.keeping.empty() && s.reading.empty() }

// enter takes a seat, after a short wait if need be; false when there is none,
// at once where the line is too long or stands still: who is to come again
// should not have waited for it (bars.md T22: 50 ms).
func (g *gate) enter(ctx context.Context) bool {
	g.mu.Lock()
	if g.free > 0 {
		g.free--
		g.mu.Unlock()
		return true
	}
	n := len(g.waiting)
	if n >= g.most || time.Duration(n)*g.pace > longestLine || n > 0 && time.Since(g.handed) > longestLine {
		g.mu.Unlock()
		return false
	}
	if n == 0 {
		g.handed = time.Now()
	}
	turn := make(chan struct{})
	g.waiting = append(g.waiting, turn)
	g.mu.Unlock()
	late := time.NewTimer(patience)
	defer late.Stop()
	select {
	case <-turn:
		return true
	case <-late.C:
	case <-ctx.Done():
	}
	return g.giveUp(turn)
}

// giveUp stops waiting; true if the turn came at that very moment.
func (g *gate) giveUp(turn chan struct{}) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	at := slices.Index(g.waiting, turn)
	if at >= 0 {
		g.waiting = slices.Delete(g.waiting, at, at+1)
	}
	return at < 0
}

// leave gives a seat to whoever waits for it.
func (g *gate) leave() {
	g.mu.Lock()
	defer g.mu.Unlock()
	if len(g.waiting) == 0 {
		g.free++
		return
	}
	now := time.Now()
	g.pace += (now.Sub(g.handed) - g.pace) / 8
	g.handed = now
	close(g.waiting[0])
	g.waiting = g.waiting[1:]
}

// seat is one request's, given back once.
type seat struct {
	once sync.Once
	gate *gate
}

func (p *seat) leave() { p.once.Do(p.gate.leave) }

type seatKey struct{}

// stepAside gives the request's seat to another, because it waits now for
// something long. It reports whether ctx is a request's.
func stepAside(ctx context.Context) bool {
	p, ok := ctx.Value(seatKey{}).(*seat)
	if ok {
		p.leave()
	}
	return ok
}

// shedding refuses what is more than the server can do. The body is read
// before a seat is taken, so that one that comes slowly holds up nobody.
func (s *server) shedding(next http.Handler) http.Handler {
	files := make(chan struct{}, mostFiles)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if isFree(r.URL.Path) {
			next.ServeHTTP(w, r)
			return
		}
		r, refused := s.hurried(w, r)
		switch {
		case refused:
		case isFile(r):
			s.within(files, w, r, next)
		case s.takeBody(w, r):
			s.seated(w, r, next)
		}
	})
}

// isFree tells what costs next to nothing: the pages, and whether the program
// lives.
func isFree(path string) bool {
	return !isAPI(path) && !isSheetFile(path) || path == apiPath+"/health" || path == apiPath+"/ready"
}

// isFile tells a sound file or a table on its way, which may take long and
// costs little.
func isFile(r *http.Request) bool {
	return isUpload(r) || isTable(r) || r.Method == http.MethodGet && strings.HasPrefix(r.URL.Path, recordingsPath+"/") && strings.HasSuffix(r.URL.Path, "/sound")
}

// within works on a request if there is room among its like.
func (s *server) within(room chan struct{}, w http.ResponseWriter, r *http.Request, next http.Handler) {
	select {
	case room <- struct{}{}:
		defer func() { <-room }()
		next.ServeHTTP(w, r)
	default:
		s.refuseBusy(w, r)
	}
}

// seated works on a request once there is a seat for it.
func (s *server) seated(w http.ResponseWriter, r *http.Request, next http.Handler) {
	gate := s.reading
	if r.Method == http.MethodPut || r.Method == http.MethodDelete {
		gate = s.keeping
	}
	if !gate.enter(r.Context()) {
		s.refuseBusy(w, r)
		return
	}
	p := &seat{gate: gate}
	defer p.leave()
	next.ServeHTTP(w, r.WithContext(workbench.WithSpare(context.WithValue(r.Context(), seatKey{}, p), s.idle)))
}

// takeBody reads the body as far as any route would. What goes wrong on the way
// is told by the route; one that is too large by its own word, or too much for
// now, is refused here, and then there is nothing more to do.
func (s *server) takeBody(w http.ResponseWriter, r *http.Request) bool {
	if r.Body == nil || r.ContentLength == 0 {
		return true
	}
	limit := s.Limits.JSONBytes
	if r.ContentLength > limit {
		writeProblem(w, r, libraryProblem(http.StatusRequestEntityTooLarge, "", nil))
		return false
	}
	setReadDeadline(w, time.Now().Add(bodyTime))
	var body bytes.Buffer
	_, err := io.CopyN(&body, r.Body, min(limit+1, smallBody))
	if err == nil && limit >= smallBody {
		if held := s.held.Add(limit); held > mostBodies {
			s.held.Add(-limit)
			s.refuseBusy(w, r)
			return false
		}
		_, err = io.CopyN(&body, r.Body, limit+1-smallBody)
		s.held.Add(-limit)
	}
	setReadDeadline(w, time.Time{})
	rest := io.Reader(&body)
	if err != nil && err != io.EOF {
		rest = io.MultiReader(&body, failed{err})
	}
	r.Body = struct {
		io.Reader
		io.Closer
	}{rest, r.Body}
	return true
}

// failed is the rest of a body that did not arrive.
type failed struct{ err error }

func (f failed) Read([]byte) (int, error) { return 0, f.err }

// refuseBusy says when to come again.
func (s *server) refuseBusy(w http.ResponseWriter, r *http.Request) {
	s.counts.shed.Add(1)
	writeProblem(w, r, busy())
}

func busy() *Problem {
	p := newProblem(http.StatusServiceUnavailable, codeBusy, "The server has more to do than it can just now; this was not begun.", "Send it again in a moment; a resend does no harm.")
	p.after = comeAgain + rand.IntN(2)
	return p
}
