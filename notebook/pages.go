package notebook

import (
	"context"
	"iter"
)

// pageRows is how many records a page holds where all of them are read.
const pageRows = 1000

// Pages goes through a list from the oldest or newest on, as q says, a page of
// q.Limit records at a time (1000 when it says nothing). An error ends it.
func Pages[T Record](ctx context.Context, from Records[T], actor ID, q Query) iter.Seq2[[]T, error] {
	if q.Limit == 0 {
		q.Limit = pageRows
	}
	return func(yield func([]T, error) bool) {
		for q := q; ; {
			page, err := from.List(ctx, actor, q)
			if !yield(page.Rows, err) || err != nil || page.Next == "" {
				return
			}
			q.After = page.Next
		}
	}
}

// Everything reads all pages of a list. Where records that were taken back are
// not in it, corrections name what those corrected: see ThroughTaken.
func Everything[T Record](ctx context.Context, from Records[T], actor ID, q Query) (out []T, err error) {
	for rows, err := range Pages(ctx, from, actor, q) {
		if err != nil {
			return nil, err
		}
		out = append(out, rows...)
	}
	if q.Retracted {
		return out, nil
	}
	return out, ThroughTaken(ctx, from, actor, out, out)
}
