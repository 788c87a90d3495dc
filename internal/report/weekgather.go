package report

import (
	"cmp"
	"context"
	"slices"

	"tautline/notebook"
	"tautline/workbench"
)

// WeekBow is one bow with everything the notebook holds of it.
type WeekBow struct {
	Archer  notebook.Person
	Hand    notebook.Hand // that the archer draws with
	Bow     notebook.Bow
	Records workbench.BowRecords
}

// WeekBows gathers every bow that the actor sees and that was not put away, by
// archer and name. Each noun is read once for all bows.
func (m Maker) WeekBows(ctx context.Context, actor notebook.ID) ([]WeekBow, error) {
	g := gathering{ctx: ctx, actor: actor, bows: map[notebook.ID]*WeekBow{}, archers: map[notebook.ID]notebook.Person{}, trials: map[notebook.ID]notebook.ID{}}
	n := m.Notebook
	gather(&g, n.People(), func(p notebook.Person) { g.archers[p.ID] = p })
	gather(&g, n.Bows(), func(b notebook.Bow) {
		if !b.Archived {
			g.bows[b.ID] = &WeekBow{Bow: b, Archer: g.archers[b.Owner], Hand: m.handAmong(g.archers, b)}
		}
	})
	gather(&g, n.SetUps(), func(r notebook.SetUp) { g.of(r.Bow, func(b *workbench.BowRecords) { b.SetUps = append(b.SetUps, r) }) })
	gather(&g, n.Readings(), func(r notebook.Reading) {
		g.of(r.Bow, func(b *workbench.BowRecords) { b.Readings = append(b.Readings, r) })
	})
	gather(&g, n.Ends(), func(r notebook.End) { g.of(r.Bow, func(b *workbench.BowRecords) { b.Ends = append(b.Ends, r) }) })
	gather(&g, n.Trials(), func(r notebook.Trial) {
		g.trials[r.ID] = r.Bow
		g.of(r.Bow, func(b *workbench.BowRecords) { b.Trials = append(b.Trials, r) })
	})
	gather(&g, n.Verdicts(), func(r notebook.Verdict) {
		g.of(g.trials[r.Trial], func(b *workbench.BowRecords) { b.Verdicts = append(b.Verdicts, r) })
	})
	gather(&g, n.Fits(), func(r notebook.Fit) { g.of(r.Bow, func(b *workbench.BowRecords) { b.Fits = append(b.Fits, r) }) })
	var rulings []notebook.Ruling
	gather(&g, n.Rulings(), func(r notebook.Ruling) { rulings = append(rulings, r) })
	return g.sorted(rulings), g.err
}

// gathering is one look through the notebook; its first error ends it.
type gathering struct {
	ctx     context.Context
	actor   notebook.ID
	bows    map[notebook.ID]*WeekBow
	archers map[notebook.ID]notebook.Person
	trials  map[notebook.ID]notebook.ID // trial → bow
	err     error
}

func (g *gathering) of(bow notebook.ID, add func(*workbench.BowRecords)) {
	if b := g.bows[bow]; b != nil {
		add(&b.Records)
	}
}

// gather reads every page of a noun.
func gather[T notebook.Record](g *gathering, records notebook.Records[T], each func(T)) {
	gatherOf(g, records, notebook.Query{Limit: 1000}, each)
}

func gatherOf[T notebook.Record](g *gathering, records notebook.Records[T], q notebook.Query, each func(T)) {
	for g.err == nil {
		page, err := records.List(g.ctx, g.actor, q)
		if err != nil {
			g.err = err
			return
		}
		for _, r := range page.Rows {
			each(r)
		}
		if q.After = page.Next; q.After == "" {
			return
		}
	}
}

// sorted lists the bows by archer and name, each with the rulings on its own.
func (g *gathering) sorted(rulings []notebook.Ruling) []WeekBow {
	out := make([]WeekBow, 0, len(g.bows))
	for _, b := range g.bows {
		b.Records.Rulings = b.Records.RulingsOn(rulings)
		out = append(out, *b)
	}
	slices.SortFunc(out, func(a, b WeekBow) int {
		return cmp.Or(cmp.Compare(a.Archer.Name, b.Archer.Name), cmp.Compare(a.Bow.Owner, b.Bow.Owner), cmp.Compare(a.Bow.Name, b.Bow.Name), cmp.Compare(a.Bow.ID, b.Bow.ID))
	})
	return out
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
