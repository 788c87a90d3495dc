package server

import (
	"context"
	"sync"
	"time"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
)

// roundKinds is what a round reads on every bow.
var roundKinds = []notebook.Kind{notebook.ReadBrace, notebook.ReadNockingPoint, notebook.ReadTiller}

// roundView is what was last read on every bow of the bench.
type roundView struct {
	Bows []roundBow `json:"bows" nullable:"false" doc:"Every bow of the bench, in its order; bows put away are left out."`
}

// roundBow is what was last read on one bow, whatever set-up it was on.
type roundBow struct {
	Bow          notebook.ID `json:"bow"`
	BraceHeight  *roundLine  `json:"brace_height,omitempty" doc:"The last brace height outside of trials; absent when none was read. So are the others."`
	NockingPoint *roundLine  `json:"nocking_point,omitempty"`
	Tiller       *roundLine  `json:"tiller,omitempty"`
	Failed       bool        `json:"failed,omitempty" doc:"What was read on this bow could not be looked up now; ask again."`
}

// roundLine is a reading in a line.
type roundLine struct {
	Shown string    `json:"shown" doc:"The value in this person's units." example:"221 mm"`
	At    time.Time `json:"at" doc:"When it was read."`
}

// getRound gives the last readings of all bows in one answer. A bow that cannot
// be looked up does not take the others with it.
func (s *server) getRound(ctx context.Context, _ *struct{}) (*found[roundView], error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	bows, err := all(ctx, s, s.Notebook.Bows(), notebook.Query{})
	if err != nil {
		return nil, err
	}
	out, system := found[roundView]{Body: roundView{Bows: []roundBow{}}}, systemOf(me)
	for _, b := range bows {
		if b.Archived {
			continue
		}
		read, err := s.lastOf(ctx, me.ID, b.ID)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			s.Log.Error("looking up the last readings of a bow", "error", err)
			out.Body.Bows = append(out.Body.Bows, roundBow{Bow: b.ID, Failed: true})
			continue
		}
		line := func(k notebook.Kind) *roundLine { return lineOf(read[k], system) }
		out.Body.Bows = append(out.Body.Bows, roundBow{Bow: b.ID, BraceHeight: line(notebook.ReadBrace), NockingPoint: line(notebook.ReadNockingPoint), Tiller: line(notebook.ReadTiller)})
	}
	return &out, nil
}

func lineOf(r *notebook.Reading, system unit.System) *roundLine {
	if r == nil {
		return nil
	}
	return &roundLine{report.ReadingValue(*r, system), r.At}
}

// rounds remembers, for each bow, what was last read of each kind of a round.
type rounds struct {
	mu    sync.Mutex
	byBow map[notebook.ID]roundRead
}

type roundRead struct {
	moment moment
	last   map[notebook.Kind]*notebook.Reading
}

func (r *rounds) recall(bow notebook.ID, now moment) (map[notebook.Kind]*notebook.Reading, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	known, ok := r.byBow[bow]
	return known.last, ok && known.moment == now
}

func (r *rounds) keep(bow notebook.ID, read roundRead) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.byBow == nil {
		r.byBow = map[notebook.ID]roundRead{}
	}
	r.byBow[bow] = read
}

// readAtOnce is how many of a bow's newest readings are looked at for all kinds
// together: after a round they are the first three.
const readAtOnce = 12

// lastOf gives the last reading of each kind of a round that no later one
// replaced. What was read at a stop of a trial says how the bow stood there, and
// not how it stands. A correction is always received after what it corrects, so that
// going back from the newest it is met first.
func (s *server) lastOf(ctx context.Context, actor, bow notebook.ID) (map[notebook.Kind]*notebook.Reading, error) {
	now := s.changes.at(bow)
	now.Common = 0 // no reading hangs on it
	if known, ok := s.rounds.recall(bow, now); ok {
		return known, nil
	}
	last, replaced := map[notebook.Kind]*notebook.Reading{}, map[notebook.ID]bool{}
	note := func(rows []notebook.Reading) {
		for _, r := range rows {
			replaced[r.ID] = replaced[r.ID] || r.Corrects != "" && replaced[r.Corrects] // put right twice: the newer stands
			if last[r.Kind] == nil && !replaced[r.ID] && r.Trial == "" {
				last[r.Kind] = &r
			}
			replaced[r.Corrects] = true
		}
	}
	page, err := s.Notebook.Readings().List(ctx, actor, notebook.Query{Bow: bow, Newest: true, Limit: readAtOnce})
	if err != nil {
		return nil, err
	}
	note(page.Rows)
	for _, k := range roundKinds {
		for next := page.Next; last[k] == nil && next != ""; {
			more, err := s.Notebook.Readings().List(ctx, actor, notebook.Query{Bow: bow, Kind: k, Newest: true, After: next, Limit: readAtOnce})
			if err != nil {
				return nil, err
			}
			note(more.Rows)
			next = more.Next
		}
	}
	s.rounds.keep(bow, roundRead{now, last})
	return last, nil
}
