package server

import (
	"context"
	"sync"
	"time"

	"tautline/workbench"
)

// Progress is how a calculation that takes longer than a request stands.
type Progress struct {
	State string  `json:"state" enum:"computing,done,failed" doc:"Ask again while it is computing."`
	Share float64 `json:"share" doc:"Part done, 0 to 1." example:"0.4"`
	Why   string  `json:"why,omitempty" doc:"Why it failed."`
}

// Times of work in the background.
const (
	firstWait   = 400 * time.Millisecond // an answer this quick comes with the first request
	abandoned   = 20 * time.Second       // nobody asked any more: the work stops
	mostWorks   = 64
	longestWork = 10 * time.Minute
)

// works are calculations in the background, by what they are computed from.
// One that nobody asks about any more is cancelled; finished ones are kept
// until newer ones need the room.
type works struct {
	spare func() bool // whether they may use more than one processor just now
	mu    sync.Mutex
	byKey map[string]*work
	order []string
}

// passing is the value of work whose findings are elsewhere: who asks again
// begins it anew.
type passing struct{}

type work struct {
	done   chan struct{}
	cancel context.CancelFunc

	mu    sync.Mutex
	share float64
	asked time.Time
	asks  int
	value any
	err   error
}

func (w *work) tell(share float64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.share = max(w.share, min(1, share))
}

// touch keeps the work going for a while.
func (w *work) touch() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.asked = time.Now()
}

// askers is how often it was asked about.
func (w *work) askers() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.asks
}

func (w *work) touched() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.asked
}

// background gives a calculation's value, or how far it is. The first to ask
// starts it; it takes its turns in the queue itself. A failed one is begun anew
// by the next who asks.
func background[T any](ctx context.Context, s *server, key string, do func(ctx context.Context, tell func(float64)) (T, error)) (T, Progress, error) {
	var none T
	w := s.works.begin(key, func(ctx context.Context, tell func(float64)) (any, error) { return do(ctx, tell) })
	stepAside(ctx)
	select {
	case <-w.done:
	case <-ctx.Done():
		return none, Progress{}, ctx.Err()
	case <-time.After(firstWait):
		w.mu.Lock()
		defer w.mu.Unlock()
		return none, Progress{State: "computing", Share: w.share}, nil
	}
	if w.err != nil {
		s.works.end(key, w)
		return none, Progress{}, w.err
	}
	return w.value.(T), Progress{State: "done", Share: 1}, nil
}

// begin finds or starts a work.
func (ws *works) begin(key string, do func(context.Context, func(float64)) (any, error)) *work {
	ws.mu.Lock()
	defer ws.mu.Unlock()
	if ws.byKey == nil {
		ws.byKey = map[string]*work{}
	}
	if w, ok := ws.byKey[key]; ok {
		w.touch()
		w.mu.Lock()
		w.asks++
		w.mu.Unlock()
		return w
	}
	ctx, cancel := context.WithTimeout(workbench.WithSpare(context.Background(), ws.spare), longestWork)
	w := &work{done: make(chan struct{}), cancel: cancel, asked: time.Now(), asks: 1}
	ws.byKey[key] = w
	if ws.order = append(ws.order, key); len(ws.order) > mostWorks {
		ws.drop(ws.oldest())
	}
	go func() {
		defer close(w.done)
		defer cancel()
		w.value, w.err = do(ctx, w.tell)
		if _, ok := w.value.(passing); ok {
			ws.end(key, w)
		}
	}()
	go ws.watch(key, w)
	return w
}

// watch stops a work that nobody asks about.
func (ws *works) watch(key string, w *work) {
	for {
		select {
		case <-w.done:
			return
		case <-time.After(abandoned / 4):
			if time.Since(w.touched()) > abandoned {
				ws.end(key, w)
				return
			}
		}
	}
}

// end cancels and forgets a work, not one that was begun in its place.
func (ws *works) end(key string, w *work) {
	ws.mu.Lock()
	defer ws.mu.Unlock()
	if ws.byKey[key] == w {
		ws.drop(key)
	}
}

// oldest is the work to make room with: of the finished ones, if there are any.
func (ws *works) oldest() string {
	for _, key := range ws.order {
		select {
		case <-ws.byKey[key].done:
			return key
		default:
		}
	}
	return ws.order[0]
}

// stop cancels all.
func (ws *works) stop() {
	ws.mu.Lock()
	defer ws.mu.Unlock()
	for len(ws.order) > 0 {
		ws.drop(ws.order[0])
	}
}

// drop cancels and forgets; the lock is held.
func (ws *works) drop(key string) {
	if w, ok := ws.byKey[key]; ok {
		w.cancel()
		delete(ws.byKey, key)
	}
	for i, k := range ws.order {
		if k == key {
			ws.order = append(ws.order[:i:i], ws.order[i+1:]...)
			return
		}
	}
}

// inTurn is a calculation that holds its turn from beginning to end.
func inTurn[T any](s *server, do func(ctx context.Context, tell func(float64)) (T, error)) func(context.Context, func(float64)) (T, error) {
	return func(ctx context.Context, tell func(float64)) (out T, err error) {
		end, err := s.queue.turn(ctx)
		if err != nil {
			return out, err
		}
		defer end()
		return do(ctx, tell)
	}
}
