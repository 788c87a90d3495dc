package workbench

import (
	"maps"
	"sync"
)

// neighbours are the bows beside the most probable one, a step of one
// parameter away, as far as they were strung, drawn and loosed: another set-up
// with the same limbs, string and arrow mass, such as a turned button, begins
// there. Nil ones have nothing.
type neighbours struct {
	mu sync.Mutex
	by map[neighbour]strung
}

// neighbour is a parameter and the side to which it was moved.
type neighbour struct {
	knob int
	up   bool
}

// strung is what a button, a rest or a shaft of the same mass leaves standing.
// It is never changed.
type strung struct {
	stands map[limbKey]stands
	shots  map[shotKey]loosed
	pairs  map[pairKey]*pairRun
}

// lend gives what is kept to a place that has computed nothing yet.
func (n *neighbours) lend(at neighbour, a *answers) {
	if n == nil {
		return
	}
	n.mu.Lock()
	kept, ok := n.by[at]
	n.mu.Unlock()
	if !ok {
		return
	}
	if len(a.stands) == 0 {
		a.stands, a.shots = maps.Clone(kept.stands), maps.Clone(kept.shots)
	}
	maps.Copy(a.pairs, kept.pairs)
}

// keep keeps a place that computes no more.
func (n *neighbours) keep(at neighbour, a *answers) {
	if n == nil {
		return
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.by == nil {
		n.by = map[neighbour]strung{}
	}
	n.by[at] = strung{a.stands, a.shots, a.pairs}
}

// beside says what neighbours lend and which keep; the fit's own set-up keeps,
// every other borrows.
type beside struct{ lender, keeper *neighbours }
