package server

import (
	"cmp"
	ring "container/list"
	"context"
	"encoding/json"
	"fmt"
	"sync"

	"tautline/notebook"
	"tautline/workbench"
)

// mostModels is how many bows' models are kept: a coach's evening.
const mostModels = 32

// memory keeps what was computed last, by what it came from.
type memory[T any] struct {
	most   int // default mostModels
	mu     sync.Mutex
	byKey  map[string]*ring.Element
	recent ring.List // newest first
}

// remembered is one value with its key.
type remembered[T any] struct {
	key   string
	value T
}

// model gives the model of a bow, from memory or computed.
func (s *server) model(ctx context.Context, settings notebook.Settings) (*workbench.BowModel, error) {
	raw, err := json.Marshal(settings)
	if err != nil {
		return nil, fmt.Errorf("server: %w", err)
	}
	if m, ok := s.models.recall(string(raw)); ok {
		return m, nil
	}
	in, err := workbench.FromSettings(settings)
	if err != nil {
		return nil, err
	}
	m, err := workbench.NewBowModel(ctx, in)
	if err != nil {
		return nil, err
	}
	s.models.keep(string(raw), m)
	return m, nil
}

// targetModel gives the model from the string to the target. Only the first
// question about a set-up waits for a place among the long calculations.
func (s *server) targetModel(ctx context.Context, settings notebook.Settings, hand notebook.Hand) (*workbench.TargetModel, error) {
	raw, err := json.Marshal(settings)
	if err != nil {
		return nil, fmt.Errorf("server: %w", err)
	}
	key := string(hand) + string(raw)
	if m, ok := s.targets.recall(key); ok {
		return m, nil
	}
	if err := s.queue.enter(ctx); err != nil {
		return nil, err
	}
	defer s.queue.leave()
	// What the target needs is named before anything is computed.
	if _, err := workbench.SidewaysFromSettings(settings, workbench.HandOf(hand)); err != nil {
		return nil, err
	}
	bow, err := s.model(ctx, settings)
	if err != nil {
		return nil, err
	}
	m, err := workbench.NewTargetModel(ctx, settings, workbench.HandOf(hand), bow)
	if err != nil {
		return nil, err
	}
	s.targets.keep(key, m)
	return m, nil
}

func (m *memory[T]) recall(key string) (T, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	e, ok := m.byKey[key]
	if !ok {
		var none T
		return none, false
	}
	m.recent.MoveToFront(e)
	return e.Value.(remembered[T]).value, true
}

// replace keeps a value in the place of an older one.
func (m *memory[T]) replace(key string, value T) {
	m.mu.Lock()
	if e, ok := m.byKey[key]; ok {
		m.recent.Remove(e)
		delete(m.byKey, key)
	}
	m.mu.Unlock()
	m.keep(key, value)
}

func (m *memory[T]) keep(key string, value T) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.byKey == nil {
		m.byKey = map[string]*ring.Element{}
	}
	if _, ok := m.byKey[key]; ok {
		return
	}
	m.byKey[key] = m.recent.PushFront(remembered[T]{key, value})
	if m.recent.Len() > cmp.Or(m.most, mostModels) {
		oldest := m.recent.Remove(m.recent.Back()).(remembered[T])
		delete(m.byKey, oldest.key)
	}
}
