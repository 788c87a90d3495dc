package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"maps"
	"slices"

	"tautline/notebook"
)

// Forget removes bows and everything that belongs to them, sound files
// included, as if they had never been, and says how many records went: for the
// invented bows of the demo, which were never anybody's measurements. What a
// person wrote down is never forgotten like this; it is retracted.
func (s *Store) Forget(ctx context.Context, bows []notebook.ID) (records int, err error) {
	var b *belongings
	err = s.deleting(func() error {
		return s.change(ctx, func(tx *sql.Tx) (err error) {
			b, records, err = s.removeOf(ctx, tx, bows)
			return err
		})
	})
	if err != nil {
		return 0, err
	}
	return records, s.dropSounds(ctx, slices.Collect(maps.Keys(b.hashes)))
}

func (s *Store) removeOf(ctx context.Context, tx *sql.Tx, bows []notebook.ID) (b *belongings, records int, err error) {
	if b, err = s.on(ctx, tx, bows); err != nil {
		return nil, 0, err
	}
	for _, k := range slices.Backward(s.shelves()) { // each before those it refers to
		ids := b.ids[k.table()]
		if len(ids) == 0 {
			continue
		}
		if err := k.remove(ctx, tx, ids); err != nil {
			return nil, 0, err
		}
		records += len(ids)
	}
	return b, records, nil
}

// on looks for everything that belongs to some bows.
func (s *Store) on(ctx context.Context, from asker, bows []notebook.ID) (*belongings, error) {
	b := newBelongings("")
	if b.bows = bows; len(bows) == 0 {
		return b, nil
	}
	return b, s.collect(ctx, from, b)
}

// apart is a place to ask from that leaves out of what is dumped what belongs
// to some bows.
type apart struct {
	asker
	*belongings
}

// without passes on the records that are not set apart.
func without(from asker, each func(json.RawMessage) error) func(json.RawMessage) error {
	a, ok := from.(apart)
	if !ok || len(a.all) == 0 {
		return each
	}
	return func(raw json.RawMessage) error {
		var r notebook.Stamp
		if err := json.Unmarshal(raw, &r); err != nil || a.all[r.ID] {
			return err
		}
		return each(raw)
	}
}
