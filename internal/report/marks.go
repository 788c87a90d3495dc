package report

import (
	"context"
	"fmt"
	"math"
	"time"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// CardHead is what a marks card says beside its marks.
type CardHead struct {
	Bow    string
	Made   time.Time
	Source string
	Air    string // in words, "" for the standard air
	// Mixed: some marks were shot with earlier set-ups.
	Mixed bool
}

// cardCaution goes before the others on a card with extrapolated marks.
const cardCaution = "Marks with * lie beyond the distances you shot: they are extrapolated. Shoot one arrow at a safe butt with a clear range behind before you trust them."

// MarksCard is the printable card: the sight's scale at true size with a mark
// for every distance, and the table with its doubt beside it.
func MarksCard(table workbench.SightTable, head CardHead, system unit.System) (Sheet, error) {
	if len(table.Lines) == 0 {
		return Sheet{}, &notebook.Error{Code: notebook.Invalid, Field: "/marks", Message: "no distance is within reach", Hint: "check the marks and their distances"}
	}
	distance, scale := system.DistanceStyle(), cardScale(system)
	ruler := Ruler{Upward: table.Upward, Inches: scale.Unit == unit.In, From: math.Inf(1), To: math.Inf(-1)}
	rows := Table{Header: []string{"distance", "mark (" + scale.Symbol() + ")", "±", ""}, Wide: map[int]float64{0: 1.1, 1: 1.2, 2: 0.8, 3: 1.6}}
	beyond := false
	for _, l := range table.Lines {
		label, word := distance.Print(unit.Length(l.Distance)), ""
		if l.Beyond {
			label, word, beyond = label+" *", "extrapolated", true
		}
		half := unit.Length(l.Interval[1]-l.Interval[0]) / 2
		rows.Rows = append(rows.Rows, []string{label, scale.Number(unit.Length(l.Reading)), scale.Number(half), word})
		ruler.From, ruler.To = min(ruler.From, l.Reading), max(ruler.To, l.Reading)
		ruler.Marks = append(ruler.Marks, RulerMark{At: l.Reading, Label: distance.Print(unit.Length(l.Distance)), Beyond: l.Beyond})
	}
	ruler.widen()
	sheet := Sheet{Title: "Marks card", Subtitle: head.Bow, Made: head.Made, Source: head.Source}
	sheet.Blocks = []Block{
		{Text: head.words(table, system)},
		{Heading: "Lay the ruler on the sight's scale", Table: &rows, Ruler: &ruler},
		{Text: "± holds 90 %: the fit of speed and drag, the setting of one mark, and the day's air."},
	}
	if beyond {
		sheet.Cautions = append(sheet.Cautions, cardCaution)
	}
	sheet.Cautions = append(sheet.Cautions, always...)
	return sheet, ruler.check()
}

// cardScale prints marks to a tenth of a millimetre or a hundredth of an inch.
func cardScale(system unit.System) unit.Style[unit.Length] {
	style := system.SettingStyle()
	if style.Unit != unit.In {
		style.Unit = unit.MM
	}
	style.Digits = 1
	if style.Unit == unit.In {
		style.Digits = 2
	}
	return style
}

// widen ends the scale on whole divisions, half a centimetre or a quarter of
// an inch past the marks.
func (r *Ruler) widen() {
	step := 0.005
	if r.Inches {
		step = float64(unit.Inch) / 4
	}
	r.From = step * math.Floor(r.From/step-0.5)
	r.To = step * math.Ceil(r.To/step+0.5)
}

// words say what the marks rest on.
func (h CardHead) words(table workbench.SightTable, system unit.System) string {
	air := h.Air
	if air == "" {
		air = "15 °C, 1013 hPa"
	}
	speed := system.SpeedStyle()
	text := fmt.Sprintf("For air of %s. Arrow speed %s ± %s %s and drag from your own marks.", air, speed.Number(unit.Speed(table.Speed)), speed.Number(unit.Speed(table.SpeedDoubt)), speed.Symbol())
	if h.Mixed {
		text += " Some marks were shot with earlier set-ups: check one before you trust the card."
	}
	return text
}

// Marks is the marks card of a set-up for a day's air in words, such as
// "28 °C, 1005 hPa"; "" is the standard air.
func (m Maker) Marks(ctx context.Context, actor, id notebook.ID, system unit.System, air string) (Sheet, error) {
	s, err := m.marks(ctx, actor, id, system, air)
	if err != nil {
		return s, err
	}
	return m.marked(ctx, actor, s)
}

func (m Maker) marks(ctx context.Context, actor, id notebook.ID, system unit.System, air string) (Sheet, error) {
	s, err := m.Notebook.SetUps().Get(ctx, actor, id)
	if err != nil {
		return Sheet{}, err
	}
	bow, err := m.Notebook.Bows().Get(ctx, actor, s.Bow)
	if err != nil {
		return Sheet{}, err
	}
	readings, err := notebook.Everything(ctx, m.Notebook.Readings(), actor, notebook.Query{Bow: s.Bow})
	if err != nil {
		return Sheet{}, err
	}
	asked := workbench.SightMarks{}
	head := CardHead{Bow: bow.Name, Made: s.At, Source: "set-up " + string(s.ID), Air: air}
	asked.Marks, head.Mixed = workbench.MarksOf(readings, id)
	asked.Upward = workbench.UpwardScale(asked.Marks)
	if asked.TableAir, err = workbench.ReadAir(air); err != nil {
		return Sheet{}, err
	}
	if len(asked.Marks) < 2 {
		return Sheet{}, &notebook.Error{Code: notebook.Invalid, Field: "/marks", Message: fmt.Sprintf("%d sight marks are noted for this bow", len(asked.Marks)), Hint: "note two or more that hit, at least 10 m apart"}
	}
	table, err := workbench.Sight(ctx, s.Settings, asked)
	if err != nil {
		return Sheet{}, err
	}
	card, err := MarksCard(table, head, system)
	card.Bow = bow.ID
	return card, err
}
