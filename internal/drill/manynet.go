//go:build unix

package drill

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"net/http"
	"sync"
	"sync/atomic"
	"time"
)

var (
	errDropped = errors.New("drill: the request was dropped")
	errNoReply = errors.New("drill: the answer was dropped")
	errCut     = errors.New("drill: no network")
)

// network is what lies between one device and the program. It drops requests
// and answers, sends twice, delays, and delivers late what was given up long
// ago, so that requests overtake each other.
type network struct {
	under http.RoundTripper
	calm  atomic.Bool
	again atomic.Int64 // requests that had to be made again, or were made twice

	mu     sync.Mutex
	dice   *rand.Rand
	until  time.Time // no network before
	ghosts sync.WaitGroup
}

func newNetwork(dice *rand.Rand, plant between) *network {
	n := &network{under: &http.Transport{DisableCompression: true}, dice: dice}
	if plant != nil {
		n.under = plant(n.under)
	}
	return n
}

func (n *network) roll(sides int) int {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.dice.IntN(sides)
}

// cut takes the network away for a while.
func (n *network) cut(d time.Duration) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.until = time.Now().Add(d)
}

// heal brings it back and waits until what was on its way has arrived.
func (n *network) heal() {
	n.cut(0)
	n.ghosts.Wait()
	if f, ok := n.under.(interface{ wait() }); ok {
		f.wait()
	}
}

// forgetful drops what only a planted bug keeps in memory.
func (n *network) forgetful() {
	if f, ok := n.under.(interface{ forget() }); ok {
		f.forget()
	}
}

// RoundTrip sends a request, or does not.
func (n *network) RoundTrip(r *http.Request) (*http.Response, error) {
	if n.calm.Load() {
		return n.under.RoundTrip(r)
	}
	n.mu.Lock()
	cut := time.Now().Before(n.until)
	n.mu.Unlock()
	if cut {
		return nil, errCut
	}
	body, err := taken(r)
	if err != nil {
		return nil, err
	}
	switch k := n.roll(100); {
	case k < 5:
		return nil, errDropped
	case k < 15:
		n.again.Add(1)
		return n.lose(r, body)
	case k < 20: // twice
		n.again.Add(1)
		if answer, err := n.under.RoundTrip(with(r, body)); err == nil {
			drain(answer)
		}
	case k < 24:
		n.again.Add(1)
		n.late(r, body)
		return nil, errDropped
	case k < 34:
		time.Sleep(time.Duration(n.roll(15)) * time.Millisecond)
	}
	return n.under.RoundTrip(with(r, body))
}

// lose has the work done and drops the answer.
func (n *network) lose(r *http.Request, body []byte) (*http.Response, error) {
	answer, err := n.under.RoundTrip(with(r, body))
	if err != nil {
		return nil, err
	}
	drain(answer)
	return nil, errNoReply
}

// late delivers a request long after its sender gave it up.
func (n *network) late(r *http.Request, body []byte) {
	wait := time.Duration(30+n.roll(600)) * time.Millisecond
	copied := with(r.WithContext(context.WithoutCancel(r.Context())), body)
	n.ghosts.Go(func() {
		time.Sleep(wait)
		if answer, err := n.under.RoundTrip(copied); err == nil {
			drain(answer)
		}
	})
}

func taken(r *http.Request) ([]byte, error) {
	if r.Body == nil {
		return nil, nil
	}
	defer r.Body.Close()
	return io.ReadAll(r.Body)
}

func with(r *http.Request, body []byte) *http.Request {
	r = r.Clone(r.Context())
	if body != nil {
		r.Body, r.ContentLength = io.NopCloser(bytes.NewReader(body)), int64(len(body))
	}
	return r
}

func drain(answer *http.Response) {
	_, _ = io.Copy(io.Discard, answer.Body) // nobody reads it
	answer.Body.Close()
}
