package server

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"tautline/notebook"
	"tautline/workbench"
)

// queue lets as many long calculations run at once as there are cores but one,
// so that noting a reading never waits behind them for long.
type queue struct {
	places  chan struct{}
	waiting atomic.Int64
	idle    func() bool // no request is worked on just now
}

func newQueue(cores int, idle func() bool) *queue {
	return &queue{places: make(chan struct{}, max(1, cores-1)), idle: idle}
}

// enter waits for a place; the caller leaves with leave. A request gives its
// own place to others meanwhile, and is refused where too many wait already.
func (q *queue) enter(ctx context.Context) error {
	waiting := q.waiting.Add(1)
	defer q.waiting.Add(-1)
	if stepAside(ctx) && waiting > mostLong {
		return busy()
	}
	select {
	case q.places <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (q *queue) leave() { <-q.places }

// mostAside is how long a piece of a long calculation lets requests go first:
// our choice, measured in docs/decisions/0097.
const mostAside = 150 * time.Millisecond

// turn is enter for a calculation in many short pieces, which lets others in
// between them, and requests before each.
func (q *queue) turn(ctx context.Context) (end func(), err error) {
	for begun := time.Now(); !q.idle() && time.Since(begun) < mostAside; {
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(2 * time.Millisecond):
		}
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err := q.enter(ctx); err != nil {
		return nil, err
	}
	return q.leave, nil
}

// mostVerdicts is how many verdicts are kept in memory.
const mostVerdicts = 16

// verdicts keeps the verdicts computed last, by all that went into them.
type verdicts struct {
	mu    sync.Mutex
	byKey map[string]workbench.BraceVerdict
	order []string // oldest first
}

func (v *verdicts) recall(key string) (workbench.BraceVerdict, bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	verdict, ok := v.byKey[key]
	return verdict, ok
}

func (v *verdicts) keep(key string, verdict workbench.BraceVerdict) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.byKey == nil {
		v.byKey = map[string]workbench.BraceVerdict{}
	}
	if _, ok := v.byKey[key]; ok {
		return
	}
	v.byKey[key] = verdict
	if v.order = append(v.order, key); len(v.order) > mostVerdicts {
		delete(v.byKey, v.order[0])
		v.order = v.order[1:]
	}
}

// keyOf is the fingerprint of what a verdict is computed from.
func keyOf(t notebook.Trial, readings []notebook.Reading, recordings []notebook.Recording, corrected []notebook.Onsets) (string, error) {
	sum := sha256.New()
	enc := json.NewEncoder(sum)
	for _, part := range []any{t, readings, recordings, corrected} {
		if err := enc.Encode(part); err != nil {
			return "", fmt.Errorf("server: %w", err)
		}
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
