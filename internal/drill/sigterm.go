//go:build unix

package drill

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"sync"
	"syscall"
	"time"

	"tautline/notebook"
)

// SIGTERM at any moment under writes (bars.md T23): no new work, the end within
// ten seconds and with 0, everything acknowledged there, nothing there by half.
// In every fifth round someone holds the program up with an upload that never
// ends, and a second signal comes: it ends at once, and loses no more than
// kill -9 does.
var sigterm = Drill{Name: "D11", Title: "SIGTERM", Short: 5, Long: 100, Run: runSigterm}

// graceful is how long running requests are given to finish, and leaving is how
// long a program that was told twice may take on a busy machine: less than it
// would wait for the upload.
const (
	graceful = 10 * time.Second
	leaving  = 5 * time.Second
)

type stopper struct {
	r       *Run
	dice    *rand.Rand
	p       *Program
	ledger  *Ledger
	writers []*Writer

	acked, unanswered, away, twice int
	slowest, second                time.Duration
}

func runSigterm(ctx context.Context, r *Run) error {
	s := &stopper{r: r, dice: r.Random()}
	for round := range r.N {
		if round%perNotebook == 0 {
			s.fresh()
		}
		if err := s.p.Start(ctx); err != nil {
			return fmt.Errorf("round %d: %w", round, err)
		}
		do := s.once
		if round%5 == 4 {
			do = s.again
		}
		if err := s.underWrites(ctx, do); err != nil {
			return fmt.Errorf("round %d: %w", round, err)
		}
		r.Counted()
	}
	s.leave()
	r.Logf("%d stops, %d of them told twice: %d writes acknowledged, %d left unanswered, %d turned away; ended after %v at worst, %v after a second signal",
		r.N, s.twice, s.acked, s.unanswered, s.away, s.slowest.Round(time.Millisecond), s.second.Round(time.Millisecond))
	if s.acked < 3*r.N || s.twice == 0 {
		r.Failf("too little happened for the drill to mean anything")
	}
	return nil
}

// fresh leaves the notebook and begins another.
func (s *stopper) fresh() {
	s.leave()
	s.p, s.ledger, s.writers = s.r.Program(s.r.Disk()), NewLedger(), nil
	for range 3 {
		s.writers = append(s.writers, NewWriter(s.p, s.ledger, s.r.Random()))
	}
}

func (s *stopper) leave() {
	if s.p == nil {
		return
	}
	_, acked, _ := s.ledger.Counts()
	s.acked += acked
	_ = os.RemoveAll(s.p.Data) // goes with the run anyway
}

// underWrites stops the program while three clients write, and holds what it
// leaves against the ledger.
func (s *stopper) underWrites(ctx context.Context, stop func(context.Context) error) error {
	var group sync.WaitGroup
	var mu sync.Mutex
	for _, w := range s.writers {
		group.Go(func() {
			err := w.Until(ctx)
			var refused Refused
			mu.Lock()
			defer mu.Unlock()
			switch {
			case !errors.As(err, &refused):
				s.unanswered++
			case refused.Status == http.StatusServiceUnavailable:
				s.away++ // it says that it is about to stop
			default:
				s.r.Failf("a write was refused: %v", err)
			}
		})
	}
	time.Sleep(time.Duration(20+s.dice.IntN(280)) * time.Millisecond)
	err := stop(ctx)
	s.p.Kill() // it is gone, or the round failed
	group.Wait()
	if err != nil {
		return err
	}
	c, err := ReadFolder(ctx, s.p.Data)
	if err != nil {
		return err
	}
	s.r.Fail("after a stop", s.ledger.Check(c))
	return nil
}

// once tells it once.
func (s *stopper) once(context.Context) error {
	begun := time.Now()
	if err := s.p.Stop(); err != nil {
		s.r.Failf("%v", err)
	}
	took := time.Since(begun)
	if s.slowest = max(s.slowest, took); took > graceful+time.Second {
		s.r.Failf("it took %v to end", took)
	}
	return nil
}

// again tells it twice, with an upload under way that never ends.
func (s *stopper) again(context.Context) error {
	s.twice++
	free, err := s.endlessUpload()
	if err != nil {
		return err
	}
	defer free()
	if err := s.p.Signal(syscall.SIGTERM); err != nil {
		return err
	}
	select {
	case <-s.p.Gone():
		s.r.Failf("it did not wait for an upload that was under way: %v", s.p.Ended())
		return nil
	case <-time.After(300 * time.Millisecond):
	}
	begun := time.Now()
	if err := s.p.Signal(syscall.SIGTERM); err != nil {
		return err
	}
	select {
	case <-s.p.Gone():
	case <-time.After(leaving):
		s.r.Failf("it did not leave at once at the second signal")
	}
	s.second = max(s.second, time.Since(begun))
	return nil
}

// endlessUpload sends a recording slower than anyone waits for.
func (s *stopper) endlessUpload() (free func(), err error) {
	c, err := net.DialTimeout("tcp", s.p.Listen, time.Second)
	if err != nil {
		return nil, err
	}
	head := "PUT /api/v1/recordings/" + string(notebook.NewID()) + "/sound HTTP/1.1\r\nHost: " + s.p.Listen + "\r\nContent-Type: audio/wav\r\nContent-Length: 1000000\r\n\r\nRIFF"
	if _, err := io.WriteString(c, head); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	time.Sleep(50 * time.Millisecond) // until it is read
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			if _, err := io.WriteString(c, "x"); err != nil {
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
	}()
	return func() { c.Close(); <-done }, nil
}
