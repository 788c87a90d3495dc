package notebook

import (
	"context"
	"slices"
)

// Replaced says which records of a list no longer stand, because others put
// them right, and which one does instead. Where two devices that did not know
// of each other put the same record right, the correction received last stands
// (of two received at once the one with the larger id): a record put right twice is still one.
func Replaced[T Record](list []T) map[ID]ID {
	next, corrected := map[ID]ID{}, map[ID]bool{}
	for i := range list {
		if to := corrects(&list[i]); to != nil && *to != "" {
			next[list[i].Stamped().ID], corrected[*to] = *to, true
		}
	}
	root := func(id ID) ID {
		for range len(next) {
			to, more := next[id]
			if !more {
				return id
			}
			id = to
		}
		return id // in a circle, which no store takes
	}
	stands := map[ID]Stamp{} // by root
	for i := range list {
		s := list[i].Stamped()
		if next[s.ID] == "" || corrected[s.ID] {
			continue
		}
		at := root(s.ID)
		if best, ok := stands[at]; !ok || later(s, best) {
			stands[at] = s
		}
	}
	out := map[ID]ID{}
	for id := range corrected {
		out[id] = stands[root(id)].ID
	}
	for id := range next {
		if best := stands[root(id)].ID; best != id {
			out[id] = best
		}
	}
	return out
}

func later(a, b Stamp) bool {
	if c := a.Received.Compare(b.Received); c != 0 {
		return c > 0
	}
	return a.ID > b.ID
}

// Standing leaves out of a list what others in it put right.
func Standing[T Record](list []T) []T {
	gone := Replaced(list)
	return slices.DeleteFunc(slices.Clone(list), func(r T) bool {
		_, replaced := gone[r.Stamped().ID]
		return replaced
	})
}

// corrects is where a record names the one it puts right; nil: its kind names
// none.
func corrects[T any](r *T) *ID {
	switch r := any(r).(type) {
	case *Reading:
		return &r.Corrects
	case *End:
		return &r.Corrects
	}
	return nil
}

// ThroughTaken follows what a list's records put right through those that were
// taken back and are not in it: a correction of a correction that was taken back is one of the
// first record. The list's records then name the nearest in it, or else the
// first of all.
func ThroughTaken[T Record](ctx context.Context, from Records[T], actor ID, list, fresh []T) error {
	there := map[ID]bool{}
	for _, r := range list {
		there[r.Stamped().ID] = true
	}
	for i := range fresh {
		at := corrects(&fresh[i])
		if at == nil {
			return nil
		}
		for seen := map[ID]bool{}; *at != "" && !there[*at] && !seen[*at]; {
			seen[*at] = true
			r, err := from.Get(ctx, actor, *at)
			if CodeOf(err) == NotFound {
				break
			}
			if err != nil {
				return err
			}
			if to := corrects(&r); *to != "" {
				*at = *to
			}
		}
	}
	return nil
}
