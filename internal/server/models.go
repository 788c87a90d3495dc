package server

import (
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

// models keeps the bow models computed last, by the settings they came from.
type models struct {
	mu     sync.Mutex
	byKey  map[string]*ring.Element
	recent ring.List // newest first
}

// keptModel is one model with its key.
type keptModel struct {
	key   string
	model *workbench.BowModel
}

// model gives the model of a bow, from memory or computed.
func (s *server) model(ctx context.Context, settings notebook.Settings) (*workbench.BowModel, error) {
	raw, err := json.Marshal(settings)
	if err != nil {
		return nil, fmt.Errorf("server: %w", err)
	}
	if m := s.models.recall(string(raw)); m != nil {
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

func (m *models) recall(key string) *workbench.BowModel {
	m.mu.Lock()
	defer m.mu.Unlock()
	e, ok := m.byKey[key]
	if !ok {
		return nil
	}
	m.recent.MoveToFront(e)
	return e.Value.(keptModel).model
}

func (m *models) keep(key string, model *workbench.BowModel) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.byKey == nil {
		m.byKey = map[string]*ring.Element{}
	}
	if _, ok := m.byKey[key]; ok {
		return
	}
	m.byKey[key] = m.recent.PushFront(keptModel{key, model})
	if m.recent.Len() > mostModels {
		oldest := m.recent.Remove(m.recent.Back()).(keptModel)
		delete(m.byKey, oldest.key)
	}
}
