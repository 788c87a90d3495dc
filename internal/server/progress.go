package server

import (
	"context"
	"sync"

	"tautline/notebook"
)

// progress keeps how far the long calculations are that someone watches.
type progress struct {
	mu    sync.Mutex
	share map[notebook.ID]float64
}

// mostWatched bounds what is kept; more are computed unwatched.
const mostWatched = 256

// watch begins a calculation under the watcher's id, "" for nobody's. tell is
// called with the share done, from any goroutine; end forgets it.
func (p *progress) watch(id notebook.ID) (tell func(float64), end func()) {
	if id == "" {
		return nil, func() {}
	}
	p.set(id, 0)
	return func(share float64) { p.set(id, share) }, func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		delete(p.share, id)
	}
}

func (p *progress) set(id notebook.ID, share float64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.share == nil {
		p.share = map[notebook.ID]float64{}
	}
	if _, known := p.share[id]; !known && len(p.share) >= mostWatched {
		return
	}
	p.share[id] = min(1, max(0, share))
}

// workView is how far a long calculation is.
type workView struct {
	Running bool    `json:"running" doc:"False before it began and after it ended."`
	Share   float64 `json:"share_ratio" doc:"Done so far, 0 to 1." example:"0.4"`
}

func (s *server) getWork(_ context.Context, in *IDInput) (*found[workView], error) {
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	share, running := s.work.share[notebook.ID(in.ID)]
	return &found[workView]{Body: workView{running, share}}, nil
}
