package report

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"tautline/notebook"
	"tautline/workbench"
)

// WeekBow is one bow whose week is looked at.
type WeekBow struct {
	Archer notebook.Person
	Hand   notebook.Hand // that the archer draws with
	Bow    notebook.Bow
}

// WeekBows lists every bow that the actor sees and that was not put away, by
// archer and name. What the notebook holds of them is read with WeekRecords,
// bow by bow: a club's years do not go into memory together.
func (m Maker) WeekBows(ctx context.Context, actor notebook.ID) (out []WeekBow, err error) {
	g := gathering{ctx: ctx, actor: actor}
	archers := map[notebook.ID]notebook.Person{}
	gather(&g, m.Notebook.People(), func(p notebook.Person) { archers[p.ID] = p })
	gather(&g, m.Notebook.Bows(), func(b notebook.Bow) {
		if !b.Archived {
			out = append(out, WeekBow{Bow: b, Archer: archers[b.Owner], Hand: m.handAmong(archers, b)})
		}
	})
	slices.SortFunc(out, func(a, b WeekBow) int {
		return cmp.Or(cmp.Compare(a.Archer.Name, b.Archer.Name), cmp.Compare(a.Bow.Owner, b.Bow.Owner), cmp.Compare(a.Bow.Name, b.Bow.Name), cmp.Compare(a.Bow.ID, b.Bow.ID))
	})
	return out, g.err
}

// Rulings reads every ruling that the actor sees, for WeekRecords.
func (m Maker) Rulings(ctx context.Context, actor notebook.ID) (out []notebook.Ruling, err error) {
	g := gathering{ctx: ctx, actor: actor}
	gather(&g, m.Notebook.Rulings(), func(r notebook.Ruling) { out = append(out, r) })
	return out, g.err
}

// WeekRecords reads what a bow's week is made from, as the actor sees it; of
// the rulings it picks the bow's own.
func (m Maker) WeekRecords(ctx context.Context, actor, bow notebook.ID, rulings []notebook.Ruling) (b workbench.BowRecords, err error) {
	g := gathering{ctx: ctx, actor: actor}
	n, of := m.Notebook, notebook.Query{Bow: bow, Limit: 1000}
	gatherOf(&g, n.SetUps(), of, func(r notebook.SetUp) { b.SetUps = append(b.SetUps, r) })
	gatherOf(&g, n.Readings(), of, func(r notebook.Reading) { b.Readings = append(b.Readings, r) })
	gatherOf(&g, n.Ends(), of, func(r notebook.End) { b.Ends = append(b.Ends, r) })
	if g.err == nil {
		g.err = errors.Join(notebook.ThroughTaken(ctx, n.Readings(), actor, b.Readings, b.Readings), notebook.ThroughTaken(ctx, n.Ends(), actor, b.Ends, b.Ends))
	}
	gatherOf(&g, n.Trials(), of, func(r notebook.Trial) { b.Trials = append(b.Trials, r) })
	gatherOf(&g, n.Fits(), of, func(r notebook.Fit) { b.Fits = append(b.Fits, r) })
	for _, t := range b.Trials {
		gatherOf(&g, n.Verdicts(), notebook.Query{Trial: t.ID, Limit: 1000}, func(r notebook.Verdict) { b.Verdicts = append(b.Verdicts, r) })
	}
	b.Rulings = b.RulingsOn(rulings)
	return b, g.err
}

// gathering is one look through the notebook; its first error ends it.
type gathering struct {
	ctx   context.Context
	actor notebook.ID
	err   error
}

// gather reads every page of a noun.
func gather[T notebook.Record](g *gathering, records notebook.Records[T], each func(T)) {
	gatherOf(g, records, notebook.Query{}, each)
}

func gatherOf[T notebook.Record](g *gathering, records notebook.Records[T], q notebook.Query, each func(T)) {
	if g.err != nil {
		return
	}
	for rows, err := range notebook.Pages(g.ctx, records, g.actor, q) {
		g.err = err
		for _, r := range rows {
			each(r)
		}
	}
}

// AddBow adds what a bow wants to its archer's; bows come as WeekBows gives
// them.
func AddBow(archers []ArcherWeek, b WeekBow, week workbench.BowWeek) []ArcherWeek {
	if n := len(archers); n == 0 || archers[n-1].Person != b.Bow.Owner {
		archers = append(archers, ArcherWeek{Person: b.Bow.Owner, Name: b.Archer.Name})
	}
	last := &archers[len(archers)-1]
	last.Bows = append(last.Bows, NamedWeek{Bow: b.Bow, Week: week})
	return archers
}
