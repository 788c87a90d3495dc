package cli

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"tautline/internal/report"
	"tautline/internal/store"
	"tautline/notebook"
)

// takenBackCmd lists what was taken back, and brings it back.
type takenBackCmd struct {
	book
	Bow       string `help:"Only of this bow." placeholder:"ID"`
	Session   string `help:"Only what was noted in this session." placeholder:"ID"`
	BringBack string `help:"Bring this one back: its id, from the list." placeholder:"ID"`
}

// Help shows an example.
func (takenBackCmd) Help() string {
	return `Example:
  tautline taken-back

Nothing is thrown away: what was taken back stays here, out of sight, until
someone brings it back. It is the page "Taken back" of a bow.`
}

// takenBack is one line of the list; keys as in the API.
type takenBack struct {
	Retraction notebook.Retraction `json:"retraction"`
	Noun       notebook.Noun       `json:"noun"`
	What       string              `json:"what"`
	At         time.Time           `json:"at"`
	Bow        notebook.ID         `json:"bow,omitempty"`
}

// Run lists, or brings back.
func (c takenBackCmd) Run(ctx context.Context, t *terminal) error {
	if c.BringBack != "" {
		return c.with(ctx, func(s *store.Store) error { return c.back(ctx, t, s) })
	}
	return c.look(ctx, func(s *store.Store) error {
		list, err := c.list(ctx, s)
		if err != nil {
			return err
		}
		if c.JSON {
			return t.printJSON(map[string]any{"rows": list})
		}
		return printTakenBack(t, list)
	})
}

// list gives what is out of sight, taken back last first.
func (c takenBackCmd) list(ctx context.Context, s *store.Store) ([]takenBack, error) {
	me, err := owner(ctx, s)
	if err != nil {
		return nil, err
	}
	list := []takenBack{}
	q := notebook.Query{Bow: notebook.ID(c.Bow), Session: notebook.ID(c.Session), Newest: true}
	for rows, err := range notebook.Pages(ctx, s.Retractions(), me.ID, q) {
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			what, err := report.Maker{Notebook: s}.Named(ctx, me.ID, r.Target, me.System())
			if notebook.CodeOf(err) == notebook.NotFound {
				continue // an undo, or a share withdrawn
			}
			if err != nil {
				return nil, err
			}
			list = append(list, takenBack{r, what.Noun, what.What, what.At, what.Bow})
		}
	}
	return list, nil
}

// owner is the person whose notebook it is.
func owner(ctx context.Context, s *store.Store) (notebook.Person, error) {
	people, err := s.People().List(ctx, "", notebook.Query{Limit: 1})
	if err != nil {
		return notebook.Person{}, err
	}
	if len(people.Rows) == 0 {
		return notebook.Person{}, &notebook.Error{Code: notebook.NotFound, Message: "the notebook is empty", Hint: "enter a bow first: tautline serve"}
	}
	return people.Rows[0], nil
}

// back brings one record back.
func (c takenBackCmd) back(ctx context.Context, t *terminal, s *store.Store) error {
	list, err := c.list(ctx, s)
	if err != nil {
		return err
	}
	for _, r := range list {
		if string(r.Retraction.ID) != c.BringBack {
			continue
		}
		me, err := owner(ctx, s)
		if err != nil {
			return err
		}
		undo := notebook.Retraction{Stamp: notebook.Stamp{ID: notebook.NewID(), By: me.ID, At: time.Now().UTC()}, Target: r.Retraction.ID, Reason: "brought back"}
		if _, _, err := s.Retractions().Put(ctx, me.ID, undo); err != nil {
			return err
		}
		if c.JSON {
			return t.printJSON(r)
		}
		_, err = fmt.Fprintf(t.out, "Brought back: %s.\n", r.What)
		return err
	}
	return &notebook.Error{Code: notebook.NotFound, Field: "--bring-back", Message: "nothing that was taken back has this id", Hint: "list what there is: tautline taken-back"}
}

// printTakenBack prints the list as a table.
func printTakenBack(t *terminal, list []takenBack) error {
	if len(list) == 0 {
		_, err := fmt.Fprintln(t.out, "Nothing is taken back.")
		return err
	}
	w := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "taken back\twhat\twritten\twhy\tid")
	for _, r := range list {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", r.Retraction.At.Local().Format("2006-01-02 15:04"), oneLine(r.What), r.At.Local().Format("2006-01-02 15:04"), oneLine(r.Retraction.Reason), r.Retraction.ID)
	}
	return w.Flush()
}

// oneLine keeps a person's own words on the line of their table.
func oneLine(words string) string { return strings.Join(strings.Fields(words), " ") }
