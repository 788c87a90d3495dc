package report

import (
	"context"
	"strings"

	"tautline/notebook"
)

// whose gives, for sheets, the names of whose bows they are about; in a
// notebook of one archer, as the actor sees it, a name says nothing and there
// are none.
type whose struct {
	m     Maker
	actor notebook.ID
	names bool
}

func (m Maker) whose(ctx context.Context, actor notebook.ID) (whose, error) {
	people, err := m.Notebook.People().List(ctx, actor, notebook.Query{Limit: 2})
	for err == nil && len(people.Rows) < 2 && people.Next != "" { // a guarded page may be short
		var more notebook.Page[notebook.Person]
		more, err = m.Notebook.People().List(ctx, actor, notebook.Query{Limit: 200, After: people.Next})
		people.Rows, people.Next = append(people.Rows, more.Rows...), more.Next
	}
	return whose{m, actor, len(people.Rows) > 1}, err
}

// of is the name of a bow's archer, "" where none is shown.
func (w whose) of(ctx context.Context, bow notebook.Bow) (string, error) {
	if !w.names {
		return "", nil
	}
	archer, err := w.m.Archer(ctx, w.actor, bow)
	return strings.TrimSpace(archer.Name), err
}

// named is a bow's name with its archer's: two juniors may call their bows
// alike.
func (w whose) named(ctx context.Context, bow notebook.Bow) (string, error) {
	archer, err := w.of(ctx, bow)
	if err != nil || archer == "" {
		return bow.Name, err
	}
	return bow.Name + ", " + archer, nil
}
