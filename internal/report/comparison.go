package report

import (
	"context"
	"fmt"
	"math"
	"strings"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// Comparison is the sheet of two set-ups side by side, of one bow or of two:
// what differs as set, what each would show by the model, and what the arrows
// shot with both say, which may be that it cannot be told yet.
func (m Maker) Comparison(ctx context.Context, actor, first, second notebook.ID, system unit.System) (Sheet, error) {
	p, err := m.pair(ctx, actor, first, second)
	if err != nil {
		return Sheet{}, err
	}
	sheet := Sheet{Title: "Two set-ups side by side", Subtitle: p.title(), Bow: p.bows[0].ID, Made: p.setups[1].At, Cautions: always,
		Source: "set-ups " + string(first) + " and " + string(second)}
	if p.setups[0].At.After(sheet.Made) {
		sheet.Made = p.setups[0].At
	}
	sheet.Blocks = append(sheet.Blocks, Block{Facts: []Fact{{"A", p.name(0), ""}, {"B", p.name(1), ""}}})
	shot, err := m.shotByBoth(ctx, actor, p, system)
	if err != nil {
		return Sheet{}, err
	}
	sides, err := m.sides(ctx, actor, p)
	if err != nil {
		return Sheet{}, err
	}
	t, err := workbench.Compare(ctx, sides[0], sides[1], p.paired())
	switch {
	case ctx.Err() != nil:
		return Sheet{}, ctx.Err()
	case err != nil:
		sheet.Blocks = append(sheet.Blocks, Block{Heading: "What each would show", Text: "None to give: " + err.Error()})
	default:
		sheet.Blocks = append(sheet.Blocks, setBlock(t))
		shot = append(shot, modelBlocks(t, system)...)
	}
	sheet.Blocks = append(sheet.Blocks, shot...)
	if !p.paired() && (m.Invented == nil || !m.Invented(sheet.Bow)) {
		return sheet, nil // whose each bow is stands with its name
	}
	return m.marked(ctx, actor, sheet)
}

// pair is two set-ups with their bows, and the hands their archers draw with.
type pair struct {
	setups [2]notebook.SetUp
	bows   [2]notebook.Bow
	names  [2]string // of the bows, with their archers' in a club
	hands  [2]notebook.Hand
}

func (m Maker) pair(ctx context.Context, actor, first, second notebook.ID) (p pair, err error) {
	if first == second {
		return p, &notebook.Error{Code: notebook.Invalid, Field: "/with", Message: "it is the same set-up", Hint: "choose two that differ"}
	}
	names, err := m.whose(ctx, actor)
	if err != nil {
		return p, err
	}
	for i, id := range []notebook.ID{first, second} {
		if p.setups[i], err = m.Notebook.SetUps().Get(ctx, actor, id); err != nil {
			return p, err
		}
		if p.bows[i], err = m.Notebook.Bows().Get(ctx, actor, p.setups[i].Bow); err != nil {
			return p, err
		}
		if p.names[i], err = names.named(ctx, p.bows[i]); err != nil {
			return p, err
		}
		if p.hands[i], err = m.Hand(ctx, actor, p.bows[i]); err != nil {
			return p, err
		}
	}
	return p, nil
}

// sides are both set-ups with their bows' latest kept fits, as the page has
// them.
func (m Maker) sides(ctx context.Context, actor notebook.ID, p pair) (out [2]workbench.Side, err error) {
	for i, setup := range p.setups {
		out[i].Settings, out[i].Hand = setup.Settings, workbench.HandOf(p.hands[i])
		if i == 1 && p.paired() {
			out[1].Fit = out[0].Fit
			break
		}
		fits, err := notebook.Everything(ctx, m.Notebook.Fits(), actor, notebook.Query{Bow: setup.Bow})
		if err != nil {
			return out, err
		}
		setups, err := notebook.Everything(ctx, m.Notebook.SetUps(), actor, notebook.Query{Bow: setup.Bow})
		if err != nil {
			return out, err
		}
		out[i].Fit = workbench.LatestFit(ctx, fits, setups, out[i].Hand)
	}
	return out, nil
}

func (p pair) paired() bool { return p.setups[0].Bow == p.setups[1].Bow }

func (p pair) title() string {
	if p.paired() {
		return p.bows[0].Name
	}
	return p.names[0] + " and " + p.names[1]
}

// name is a set-up with its bow where they differ.
func (p pair) name(i int) string {
	label := workbench.FactsOf(p.setups[i]).Label
	if p.paired() {
		return label
	}
	return p.names[i] + ", " + label
}

// setBlock prints what differs as set.
func setBlock(t workbench.Together) Block {
	set := &Table{Header: []string{"as set", "A", "B"}, Wide: map[int]float64{0: 1.2}}
	for _, d := range t.Differences {
		if d.Key == "draw.at_brace_height" || d.Key == "notes" { // these only say how something is written
			continue
		}
		set.Rows = append(set.Rows, []string{Label(d.Key), orNotNoted(d.Before), orNotNoted(d.After)})
	}
	if len(set.Rows) == 0 {
		return Block{Heading: "What differs as set", Text: "Nothing: they are set alike."}
	}
	return Block{Heading: "What differs as set", Table: set}
}

// modelBlocks print what each would show; what the model shows alike of both
// is named, not tabled.
func modelBlocks(t workbench.Together, system unit.System) []Block {
	var alike []string
	shows := &Table{Header: []string{"by the model", "A", "B", "B less A", "which way"}, Wide: map[int]float64{0: 1.3, 1: 1.5, 2: 1.5, 3: 1.6, 4: 0.9}}
	for _, r := range t.Rows {
		if r.Apart == (workbench.Estimate[float64]{}) {
			alike = append(alike, RowLabel(r.Of))
			continue
		}
		say := Sayer(r.Of, QuantitySI(r.Of.Kind), system)
		shows.Rows = append(shows.Rows, []string{RowLabel(r.Of), Spanned(r.First, r.Of, say), Spanned(r.Second, r.Of, say), Moved(r.Apart, r.Of, say), wayOf(r.Apart)})
	}
	for _, k := range t.Marks {
		if math.Abs(k.Moves.Low) < 5e-5 && math.Abs(k.Moves.High) < 5e-5 { // less than a sight shows
			alike = append(alike, "sight mark at "+system.DistanceStyle().Print(k.Distance))
			continue
		}
		say := Sayer(workbench.Quantity{Kind: workbench.QMark}, "m", system)
		shows.Rows = append(shows.Rows, []string{"sight mark at " + system.DistanceStyle().Print(k.Distance) + ", pin down", "–", "–", Moved(k.Moves, workbench.Quantity{Kind: workbench.QMark}, say), wayOf(k.Moves)})
	}
	notes := Said(joined(t.Notes), system)
	if len(alike) > 0 {
		notes = "The model shows no difference in: " + strings.Join(alike, ", ") + ". " + notes
	}
	const heading = "What each would show, not fitted to readings; spans hold 90 % of the plausible bows"
	if len(shows.Rows) == 0 {
		return []Block{{Heading: heading, Text: notes}}
	}
	return []Block{{Heading: heading, Table: shows}, {Text: notes}}
}

func orNotNoted(s string) string {
	if s == "" {
		return "not noted"
	}
	return s
}

// wayOf says whether the sign of a difference is the same over its whole span.
func wayOf(e workbench.Estimate[float64]) string {
	switch {
	case e.Low > 0:
		return "more"
	case e.High < 0:
		return "less"
	}
	return "cannot tell"
}

// shotByBoth compares what was shot with both at the same distance.
func (m Maker) shotByBoth(ctx context.Context, actor notebook.ID, p pair, system unit.System) ([]Block, error) {
	var lists [2][]workbench.Volley
	for i, s := range p.setups {
		ends, err := notebook.Everything(ctx, m.Notebook.Ends(), actor, notebook.Query{Bow: s.Bow, SetUp: s.ID})
		if err != nil {
			return nil, err
		}
		if lists[i], err = workbench.Volleys(ends, map[notebook.ID]workbench.SetUpFacts{s.ID: workbench.FactsOf(s)}); err != nil {
			return nil, err
		}
	}
	var blocks []Block
	for _, a := range lists[0] {
		for _, b := range lists[1] {
			if a.Kind != b.Kind || a.Distance != b.Distance {
				continue
			}
			more, err := comparedGroups(a, b, system)
			if err != nil {
				return nil, err
			}
			blocks = append(blocks, more...)
		}
	}
	if len(blocks) == 0 {
		blocks = []Block{{Heading: "What was shot with both", Text: "No distance yet at which arrows were plotted with both. Shoot both at one distance, in pairs of ends, and this page says which is tighter or that it cannot be told yet."}}
	}
	return blocks, nil
}

// comparedGroups says which of two groups is tighter, or that it cannot be
// told yet.
func comparedGroups(a, b workbench.Volley, system unit.System) ([]Block, error) {
	c, err := workbench.CompareVolleys(a, b, workbench.CompareAsk{})
	if err != nil {
		if notebook.CodeOf(err) == notebook.Invalid { // too few arrows, for one
			return []Block{{Heading: "Shot with both at " + system.DistanceStyle().Print(a.Distance), Text: "Cannot tell yet: " + err.Error()}}, nil
		}
		return nil, err
	}
	heading := "Shot with both at " + system.DistanceStyle().Print(a.Distance)
	if a.Kind == "bare" {
		heading += ", bare shafts"
	}
	table := &Table{Header: []string{"", "A", "B"}, Wide: map[int]float64{0: 1.2}}
	style := system.ImpactStyle()
	ga, err := workbench.DescribeVolley(a, style)
	if err != nil {
		return nil, err
	}
	gb, err := workbench.DescribeVolley(b, style)
	if err != nil {
		return nil, err
	}
	table.Rows = append(table.Rows, []string{"arrows with a place", fmt.Sprint(ga.Arrows), fmt.Sprint(gb.Arrows)})
	rb := GroupRanges(gb)
	for i, r := range GroupRanges(ga) {
		table.Rows = append(table.Rows, []string{r.Label, rangedLength(r.Of, style), rangedLength(rb[i].Of, style)})
	}
	text := sentence(c.Text) + " These arrows were shot on different days, in no order by coin: wind, form and day are mixed into the difference."
	if len(c.Warnings) > 0 {
		text += " " + sentenceList(c.Warnings)
	}
	if len(c.WouldChange) > 0 {
		text += " What would change this: " + strings.Join(c.WouldChange, "; ") + "."
	}
	answer := []Fact{{"which is tighter", string(c.Verdict), ""}}
	if c.Ratio.Value != nil {
		answer = append(answer, Fact{"spread of A over spread of B", points(*c.Ratio.Value, system), "(" + pointsDoubt(c.Ratio, system) + ", 95 %)"})
	}
	blocks := []Block{{Heading: heading, Facts: answer}, {Text: Marked(text, system)}, {Table: table}}
	for _, f := range CompareFigures(c, system) {
		blocks = append(blocks, Block{Figure: &f})
	}
	return blocks, nil
}

func rangedLength(r workbench.Ranged, style unit.Style[unit.Length]) string {
	if r.Value == nil {
		return "–"
	}
	return style.Print(unit.Length(*r.Value)) + " (" + lengthDoubt(r, style) + ")"
}
