package report

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// visit is how long after its beginning a reading without a session still
// counts as noted on that visit.
const visit = 12 * time.Hour

// visited is everything a session report stands on.
type visited struct {
	session  notebook.Session
	bow      notebook.Bow
	setups   []notebook.SetUp // shot or read with, oldest first
	readings []notebook.Reading
	ends     []notebook.End
	trials   []notebook.Trial
}

// session is the report of one visit to the range: with what was shot, what
// was read, and what the arrows tell, each with its doubt.
func (m Maker) session(ctx context.Context, actor, id notebook.ID, system unit.System) (Sheet, error) {
	v, err := m.visited(ctx, actor, id)
	if err != nil {
		return Sheet{}, err
	}
	name := v.bow.Name
	if name == "" {
		name = "several bows"
	}
	sheet := Sheet{Title: "Session", Subtitle: name, Bow: v.bow.ID, Made: v.session.At, Source: "session " + string(id), Cautions: always}
	sheet.Blocks = append(sheet.Blocks, Block{Facts: v.facts(system)})
	for _, s := range v.setups {
		sheet.Blocks = append(sheet.Blocks, setUpLine(s, system))
	}
	if table := v.readingTable(system); table != nil {
		sheet.Blocks = append(sheet.Blocks, Block{Heading: "Read", Table: table},
			Block{Text: "A single reading has no interval to give; repeat it to learn how well it repeats."})
	}
	groups, err := v.groups(system)
	if err != nil {
		return Sheet{}, err
	}
	sheet.Blocks = append(sheet.Blocks, groups...)
	if len(groups) == 0 && len(v.readings) == 0 {
		sheet.Blocks = append(sheet.Blocks, Block{Text: "Nothing was noted on this visit yet: plot an end or note a reading, and it stands here."})
	}
	if table := v.endTable(); table != nil {
		sheet.Blocks = append(sheet.Blocks, Block{Heading: "End by end", Table: table})
	}
	return sheet, nil
}

// visited reads what belongs to a session.
func (m Maker) visited(ctx context.Context, actor, id notebook.ID) (v visited, err error) {
	if v.session, err = m.Notebook.Sessions().Get(ctx, actor, id); err != nil {
		return v, err
	}
	if v.session.Bow != "" {
		if v.bow, err = m.Notebook.Bows().Get(ctx, actor, v.session.Bow); err != nil {
			return v, err
		}
	}
	if v.ends, err = notebook.Everything(ctx, m.Notebook.Ends(), actor, notebook.Query{Session: id}); err != nil {
		return v, err
	}
	v.ends = workbench.StandingEnds(v.ends)
	if v.readings, err = m.readOn(ctx, actor, v.session); err != nil {
		return v, err
	}
	if v.session.Bow != "" {
		trials, err := notebook.Everything(ctx, m.Notebook.Trials(), actor, notebook.Query{Bow: v.session.Bow})
		if err != nil {
			return v, err
		}
		v.trials = slices.DeleteFunc(trials, func(t notebook.Trial) bool { return !onVisit(v.session, t.At) })
	}
	return v, m.shotWith(ctx, actor, &v)
}

func onVisit(s notebook.Session, at time.Time) bool {
	return !at.Before(s.At.Add(-time.Hour)) && at.Before(s.At.Add(visit))
}

// readOn gives the readings of a session, and those that name no session but
// were noted on its bow during the visit, outside of a trial.
func (m Maker) readOn(ctx context.Context, actor notebook.ID, s notebook.Session) ([]notebook.Reading, error) {
	q := notebook.Query{Bow: s.Bow}
	if s.Bow == "" {
		q.Session = s.ID
	}
	all, err := notebook.Everything(ctx, m.Notebook.Readings(), actor, q)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(notebook.Standing(all), func(r notebook.Reading) bool {
		loose := r.Session == "" && r.Trial == "" && s.Bow != "" && onVisit(s, r.At)
		return r.Session != s.ID && !loose
	}), nil
}

// shotWith reads the set-ups that the ends and readings name.
func (m Maker) shotWith(ctx context.Context, actor notebook.ID, v *visited) error {
	named := map[notebook.ID]bool{}
	for _, e := range v.ends {
		named[e.SetUp] = true
	}
	for _, r := range v.readings {
		named[r.SetUp] = true
	}
	for id := range named {
		if id == "" {
			continue
		}
		s, err := m.Notebook.SetUps().Get(ctx, actor, id)
		if err != nil && notebook.CodeOf(err) != notebook.NotFound {
			return err
		}
		if err == nil {
			v.setups = append(v.setups, s)
		}
	}
	slices.SortFunc(v.setups, func(a, b notebook.SetUp) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	return nil
}

// facts say when, where and in what air.
func (v visited) facts(system unit.System) []Fact {
	facts := []Fact{{"begun", v.session.At.UTC().Format("2006-01-02 15:04 UTC"), ""}}
	add := func(label, value string) {
		if value != "" {
			facts = append(facts, Fact{label, value, ""})
		}
	}
	add("place", v.session.Place)
	air := []string{v.session.Air}
	if !v.session.Temperature.IsZero() {
		air = append(air, system.TemperatureStyle().Print(v.session.Temperature.Value))
	}
	if !v.session.Pressure.IsZero() {
		air = append(air, system.PressureStyle().Print(v.session.Pressure.Value))
	}
	if v.session.Humidity != nil {
		air = append(air, system.Plain(*v.session.Humidity)+" % humidity")
	}
	if !v.session.Wind.IsZero() {
		air = append(air, "wind "+system.WindStyle().Print(v.session.Wind.Value))
	}
	add("air", strings.Join(slices.DeleteFunc(air, func(s string) bool { return s == "" }), ", "))
	add("note", v.session.Note)
	for _, t := range v.trials {
		add("trial begun", t.What+" (trial "+string(t.ID)+")")
	}
	return facts
}

// setUpLine names a set-up by what it says of itself and by what matters at
// the range.
func setUpLine(s notebook.SetUp, system unit.System) Block {
	var parts []string
	if h, ok := s.Settings.BraceHeight.ToPivot(); ok {
		parts = append(parts, "brace height "+unit.Both(h, system.Decimal))
	}
	if !s.Settings.NockingPoint.Value.IsZero() {
		parts = append(parts, "nocking point "+system.SettingStyle().Print(s.Settings.NockingPoint.Value.Value))
	}
	if !s.Settings.Tiller.IsZero() {
		parts = append(parts, "tiller "+system.SettingStyle().Print(s.Settings.Tiller.Value))
	}
	if s.Settings.Button.Turns != nil {
		parts = append(parts, "button "+system.Plain(*s.Settings.Button.Turns)+" turns")
	}
	return Block{Heading: "Set-up: " + workbench.FactsOf(s).Label, Text: strings.Join(parts, ", ")}
}

// readingTable lists the readings, or nil.
func (v visited) readingTable(system unit.System) *Table {
	if len(v.readings) == 0 {
		return nil
	}
	t := &Table{Header: []string{"what", "read", "doubt (1 s.d.)", "noted (UTC)", "note"}, Wide: map[int]float64{0: 1.6, 4: 1.8}}
	for _, r := range v.readings {
		label := QuantityLabel(string(r.Kind))
		if !r.Distance.IsZero() {
			label += " at " + system.DistanceStyle().Print(r.Distance.Value)
		}
		doubt := "–"
		if r.Doubt > 0 {
			doubt = "± " + Sayer(workbench.Quantity{Kind: string(r.Kind), Distance: r.Distance.Value}, QuantitySI(string(r.Kind)), system)(r.Doubt)
		}
		value := ReadingValue(r, system)
		if r.Edge == notebook.EdgeButton {
			value += " to the button"
		}
		t.Rows = append(t.Rows, []string{label, value, doubt, r.At.UTC().Format("15:04"), r.Note})
	}
	return t
}

// groups say what the arrows of each set-up tell at each distance.
func (v visited) groups(system unit.System) ([]Block, error) {
	facts := map[notebook.ID]workbench.SetUpFacts{}
	for _, s := range v.setups {
		facts[s.ID] = workbench.FactsOf(s)
	}
	volleys, err := workbench.Volleys(v.ends, facts)
	if err != nil {
		return nil, err
	}
	var blocks []Block
	for _, volley := range volleys {
		block, err := groupBlock(volley, volley.Label, system)
		if err != nil {
			return nil, err
		}
		blocks = append(blocks, block)
	}
	return blocks, nil
}

// groupBlock is a group's picture with its numbers, words and warnings.
func groupBlock(volley workbench.Volley, label string, system unit.System) (Block, error) {
	g, err := workbench.DescribeVolley(volley, system.ImpactStyle())
	if err != nil {
		return Block{}, err
	}
	heading := "distance not noted"
	if volley.Distance > 0 {
		heading = system.DistanceStyle().Print(volley.Distance)
	}
	if g.Kind == "bare" {
		heading += ", bare shafts"
	}
	if label != "" {
		heading += ": " + label
	}
	block := Block{Heading: heading, Facts: groupFacts(g, system), Text: "Intervals are 95 %."}
	if len(g.Warnings) > 0 {
		block.Text += " " + Marked(sentenceList(g.Warnings), system)
	}
	if block.Face = groupFace(volley, g, system); block.Face != nil {
		block.Table = placesTable(block.Face, system)
	}
	return block, nil
}

func sentenceList(list []string) string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = sentence(s)
	}
	return strings.Join(out, " ")
}

// endTable lists the ends as a score sheet does.
func (v visited) endTable() *Table {
	if len(v.ends) == 0 {
		return nil
	}
	shaft := map[notebook.ID]unit.Length{}
	for _, s := range v.setups {
		shaft[s.ID] = s.Settings.Arrow.Diameter.Value
	}
	t := &Table{Header: []string{"end", "distance", "rings", "points", "note"}, Wide: map[int]float64{0: 0.5, 2: 2, 3: 0.6, 4: 1.4}}
	for _, e := range v.ends {
		rings, sum, scored := workbench.Score(e, shaft[e.SetUp])
		points := "–"
		if scored {
			points = fmt.Sprint(sum)
		}
		called := strings.Join(rings, " ")
		if !scored {
			called = fmt.Sprintf("%d arrows", len(e.Impacts))
		}
		t.Rows = append(t.Rows, []string{fmt.Sprint(e.Number), e.Distance.Text, called, points, e.Note})
	}
	return t
}
