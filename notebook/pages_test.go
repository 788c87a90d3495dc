package notebook

import (
	"context"
	"errors"
	"fmt"
	"testing"
)

// shelf is a list of so many bows, of which page torn cannot be read.
type shelf struct {
	Records[Bow]
	n, torn int
	asked   []Query
}

func (s *shelf) List(_ context.Context, _ ID, q Query) (p Page[Bow], err error) {
	s.asked = append(s.asked, q)
	if len(s.asked) == s.torn {
		return p, errors.New("torn")
	}
	var from int
	_, _ = fmt.Sscan(q.After, &from) // the first page is after nothing
	for i := from; i < min(from+q.Limit, s.n); i++ {
		p.Rows = append(p.Rows, Bow{Name: fmt.Sprint(i)})
	}
	if end := from + q.Limit; end < s.n {
		p.Next = fmt.Sprint(end)
	}
	return p, nil
}

// Everything is all of it in order, however many pages that is, or an error and
// nothing; who stops at a page asks for no more.
func TestPages(t *testing.T) {
	ctx := t.Context()
	for n, pages := range map[int]int{0: 1, 1: 1, 1000: 1, 1001: 2, 2500: 3} {
		s := &shelf{n: n}
		all, err := Everything(ctx, s, "ann", Query{Bow: "b"})
		if err != nil || len(all) != n || len(s.asked) != pages || s.asked[0].Bow != "b" {
			t.Errorf("of %d: %d in %d pages, %v", n, len(all), len(s.asked), err)
		}
		for i, b := range all {
			if b.Name != fmt.Sprint(i) {
				t.Fatalf("in place %d is %s", i, b.Name)
			}
		}
	}
	if all, err := Everything(ctx, &shelf{n: 2500, torn: 2}, "ann", Query{}); err == nil || all != nil {
		t.Errorf("of a torn list: %d, %v", len(all), err)
	}
	s := &shelf{n: 100}
	for rows, err := range Pages(ctx, s, "ann", Query{Limit: 7}) {
		if err != nil || len(rows) != 7 {
			t.Errorf("%d rows, %v", len(rows), err)
		}
		if len(s.asked) == 2 {
			break
		}
	}
	if len(s.asked) != 2 || s.asked[1].After != "7" {
		t.Errorf("asked %+v", s.asked)
	}
}
