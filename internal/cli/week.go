package cli

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tautline/internal/report"
	"tautline/internal/store"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// weekCmd is the coach's week.
type weekCmd struct {
	book
	As    string `help:"Show what this person sees, by name or id; default every bow: who has the machine sees all." placeholder:"PERSON"`
	Quick bool   `help:"Leave out what takes long: whether old results still count, and what to do next."`
}

// Help shows an example.
func (weekCmd) Help() string {
	return `Example:
  tautline week
  tautline week --as "Ida Falk" --json

The same list as on the page of the week: what drifted, which old results no
longer count, strings and growing archers' draw lengths that fall due, and the
next thing to do, bow by bow. Also while the notebook is open in the browser.
The first look takes some seconds a bow.`
}

// Run gathers, judges and prints.
func (c weekCmd) Run(ctx context.Context, t *terminal) error {
	return c.look(ctx, func(s *store.Store) error {
		maker, actor, err := c.eyes(ctx, s)
		if err != nil {
			return err
		}
		bows, err := maker.WeekBows(ctx, actor)
		if err != nil {
			return err
		}
		archers, err := c.judge(ctx, t, maker, actor, bows)
		if err != nil {
			return err
		}
		if c.JSON {
			return t.printJSON(struct {
				Archers []report.ArcherOfWeek `json:"archers"`
				Rules   string                `json:"rules"`
			}{report.ViewWeek(archers), report.WeekRules})
		}
		t.warnf("%s", report.WeekRules)
		return report.WeekList(archers, time.Now()).WriteText(t.out)
	})
}

// eyes are the notebook as a person sees it, or whole.
func (c weekCmd) eyes(ctx context.Context, s *store.Store) (report.Maker, notebook.ID, error) {
	if c.As == "" {
		return report.Maker{Notebook: s}, "", nil
	}
	people, err := notebook.Everything(ctx, s.People(), "", notebook.Query{})
	if err != nil {
		return report.Maker{}, "", err
	}
	var found []notebook.Person
	for _, p := range people {
		if string(p.ID) == c.As || strings.EqualFold(p.Name, c.As) {
			found = append(found, p)
		}
	}
	switch {
	case len(found) == 0:
		return report.Maker{}, "", &notebook.Error{Code: notebook.NotFound, Message: fmt.Sprintf("nobody in the notebook is called %q", c.As), Hint: "write the name as it stands on the page People, or the id"}
	case len(found) > 1:
		return report.Maker{}, "", usageError{fmt.Errorf("%d people are called %q; give the id of one: %s or %s", len(found), c.As, found[0].ID, found[1].ID)}
	case found[0].Disabled:
		return report.Maker{}, "", &notebook.Error{Code: notebook.NotAllowed, Message: found[0].Name + " is no longer let in", Hint: "leave out --as to see every bow"}
	}
	return report.Maker{Notebook: notebook.Guarded(s)}, found[0].ID, nil
}

// judge says of bow after bow what it wants.
func (c weekCmd) judge(ctx context.Context, t *terminal, maker report.Maker, actor notebook.ID, bows []report.WeekBow) (archers []report.ArcherWeek, err error) {
	tell, now := t.progress("Judging the bows"), time.Now()
	rulings, err := maker.Rulings(ctx, actor)
	if err != nil {
		return nil, err
	}
	for i, b := range bows {
		records, err := maker.WeekRecords(ctx, actor, b.Bow.ID, rulings)
		if err != nil {
			return nil, err
		}
		var standings []workbench.Standing
		var then *workbench.NextReading
		judged := !c.Quick
		if judged {
			if standings, then, err = judgeBow(ctx, b.Hand, records); ctx.Err() != nil {
				return nil, ctx.Err()
			} else if err != nil {
				t.warnf("%s: whether its old results still count cannot be told: %v", b.Bow.Name, err)
				judged = false // the others can be judged all the same
			}
		}
		archers = report.AddBow(archers, b, records.Week(b.Bow, standings, judged, then, now))
		tell(float64(i+1) / float64(len(bows)))
	}
	return archers, nil
}

// judgeBow says how a bow's results stand, by its kept fit where it has one,
// and what that fit asks for.
func judgeBow(ctx context.Context, hand notebook.Hand, b workbench.BowRecords) ([]workbench.Standing, *workbench.NextReading, error) {
	_, fit := b.LatestFit(hand, func(f notebook.Fit, ask workbench.FitAsk) (*workbench.FittedBow, error) {
		return workbench.RestoreFit(ctx, ask, f.Content)
	})
	standings, err := workbench.Standings(ctx, b, false, func(setup notebook.SetUp, distances []unit.Length) *workbench.Slopes {
		slopes := workbench.NewSlopes(setup.Settings, workbench.HandOf(hand), distances...)
		slopes.Fit = fit
		return slopes
	}, nil)
	if err != nil || fit == nil {
		return standings, nil, err
	}
	then, err := fit.FirstNext(ctx)
	return standings, then, err
}
