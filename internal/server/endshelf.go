package server

import (
	"context"
	"slices"
	"sync"

	"tautline/notebook"
)

// mostShelved is how many ends are kept in memory, of the bows looked at last:
// a kilobyte or so each.
const mostShelved = 50_000

// endShelf keeps the ends of bows, so that years of them are read once and
// after that only what is new.
type endShelf struct {
	mu     sync.Mutex
	byBow  map[notebook.ID]*shelved
	recent []notebook.ID // newest last
}

// shelved are one bow's ends in the order of receipt.
type shelved struct {
	mu     sync.Mutex // held while they are read: once for all who ask
	moment moment
	after  string         // cursor behind the last
	ends   []notebook.End // only added to
}

// of finds a bow's place on the shelf, and lets go of those not asked for
// lately.
func (k *endShelf) of(bow notebook.ID) *shelved {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.byBow == nil {
		k.byBow = map[notebook.ID]*shelved{}
	}
	place := k.byBow[bow]
	if place == nil {
		place = &shelved{}
		k.byBow[bow] = place
	}
	if at := slices.Index(k.recent, bow); at >= 0 {
		k.recent = slices.Delete(k.recent, at, at+1)
	}
	k.recent = append(k.recent, bow)
	return place
}

// room lets go of the bows looked at longest ago, but for the last one.
func (k *endShelf) room() {
	k.mu.Lock()
	defer k.mu.Unlock()
	held := 0
	for i, bow := range slices.Backward(k.recent) {
		place := k.byBow[bow]
		if !place.mu.TryLock() {
			continue // it is being read just now
		}
		held += len(place.ends)
		place.mu.Unlock()
		if held > mostShelved && i < len(k.recent)-1 {
			for _, old := range k.recent[:i+1] {
				delete(k.byBow, old)
			}
			k.recent = slices.Clone(k.recent[i+1:])
			return
		}
	}
}

// endsOfBow gives every end of a bow that is in sight, corrected ones too; the
// list is not to be changed.
func (s *server) endsOfBow(ctx context.Context, bow notebook.ID) ([]notebook.End, error) {
	if _, err := fetch(ctx, s, s.Notebook.Bows(), string(bow)); notebook.CodeOf(err) == notebook.NotFound {
		return nil, nil // not for who asks
	} else if err != nil {
		return nil, err
	}
	place := s.ends.of(bow)
	defer s.ends.room()
	place.mu.Lock()
	defer place.mu.Unlock()
	now := s.changes.at(bow)
	if place.moment.Hidden != now.Hidden {
		place.ends, place.after = nil, ""
	}
	if place.after != "" && place.moment.OfBow == now.OfBow {
		return slices.Clip(place.ends), nil
	}
	q := notebook.Query{Bow: bow, After: place.after, Limit: 1000}
	me, err := s.me(ctx)
	for more := true; more && err == nil; {
		var page notebook.Page[notebook.End]
		if page, err = s.Notebook.Ends().List(ctx, me.ID, q); err == nil {
			place.ends = append(place.ends, page.Rows...)
			err = notebook.ThroughTaken(ctx, s.Notebook.Ends(), me.ID, place.ends, place.ends[len(place.ends)-len(page.Rows):])
			q.After, more = page.Last, page.Next != ""
			if page.Last != "" {
				place.after = page.Last
			}
		}
	}
	if err != nil {
		place.ends, place.after = nil, ""
		return nil, err
	}
	place.moment = now
	return slices.Clip(place.ends), nil
}
