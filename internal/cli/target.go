package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"tautline/arrow"
	"tautline/flight"
	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// handArg is the drawing hand; words mirror for it, data never do.
type handArg struct {
	LeftHanded bool `help:"The archer draws with the left hand: weak and stiff are mirrored, right stays right."`
}

func (a handArg) hand() arrow.Hand {
	if a.LeftHanded {
		return arrow.LeftHanded
	}
	return arrow.RightHanded
}

// onTarget adds what the target shows to a forecast, or why it cannot.
type onTarget struct {
	*workbench.TargetView
	Unavailable string `json:"target_unavailable,omitempty"`
}

// target predicts what the target shows; what is missing for it is said, not
// refused, since the rest of the forecast stands without it.
func target(ctx context.Context, s notebook.Settings, hand arrow.Hand) (onTarget, error) {
	view, err := workbench.PredictTarget(ctx, s, hand)
	if notebook.CodeOf(err) == notebook.Invalid {
		return onTarget{Unavailable: err.Error()}, nil
	}
	if err != nil {
		return onTarget{}, err
	}
	return onTarget{TargetView: &view}, nil
}

// text tells it in centimetres on the target.
func (o onTarget) text() string {
	if o.TargetView == nil {
		return "On the target: nothing to say: " + o.Unavailable + "\n"
	}
	var b strings.Builder
	far := units.ImpactStyle()
	b.WriteString("On the target, right positive (changes can be trusted, places must be calibrated):\n")
	b.WriteString(moved("bare minus fletched at 18 m", o.Bare18, o.Interval["bare_minus_fletched_18m_right_m"], far))
	b.WriteString(moved("bare minus fletched at 30 m", o.Bare30, o.Interval["bare_minus_fletched_30m_right_m"], far))
	b.WriteString(spanned("drift at 70 m, 1 m/s crosswind", o.Drift70, o.Interval["drift_70m_m_per_mps"], far))
	b.WriteString(spanned("speed at 70 m", o.Speed70, o.Interval["speed_70m_mps"], units.SpeedStyle()))
	b.WriteString(spanned("tail passes the button by", o.TailGap, o.Interval["tail_clearance_m"], finer(units.SettingStyle())))
	b.WriteString(spanned("last touch of the button", o.ContactEnd, o.Interval["button_contact_end_s"], units.DurationStyle()))
	b.WriteString(walkText(o.WalkBack))
	fmt.Fprintf(&b, "  the model's bare shaft reads %s; it is unfitted, so try a borrowed shaft and buy nothing yet", o.BareReads)
	if o.BareReason != "" {
		fmt.Fprintf(&b, " (%s)", o.BareReason)
	}
	b.WriteString("\n")
	return b.String()
}

// walkText is the line of a walk-back, one aim at many distances.
func walkText(w workbench.WalkBack) string {
	var b strings.Builder
	far := units.ImpactStyle()
	b.WriteString("  walk-back, one aim:             ")
	for _, p := range w.Points {
		fmt.Fprintf(&b, "  %.0f m %s", p.Distance, signed(far, p.Right))
	}
	s := w.Interval["slant_right_rad"]
	fmt.Fprintf(&b, " cm; slant %+.1f … %+.1f cm in 10 m\n  %s\n", 1e3*s[0], 1e3*s[1], w.Text)
	return b.String()
}

// sightCmd makes a table of sight marks.
type sightCmd struct {
	bowArgs
	Marks       string `arg:"" help:"CSV of marks that hit: distance, reading; at least two, 10 m apart."`
	Temperature string `help:"Air of the table, °C if no unit is written." type:"temperature" placeholder:"TEMPERATURE"`
	Pressure    string `help:"Air pressure at the range, hPa if no unit is written." type:"pressure" placeholder:"PRESSURE"`
	Air         string `help:"Air of the table in words, such as \"28 °C, 1005 hPa, 60 %\"." placeholder:"TEXT"`
	Card        string `help:"Write the marks card, a ruler at true size, to this PDF." placeholder:"FILE.pdf"`
	Paper       string `help:"Paper of the card." enum:"A4,Letter" default:"A4"`
	Inches      bool   `help:"The card's ruler in inches."`
}

// Help shows an example.
func (sightCmd) Help() string {
	return `Example:
  tautline sight examples/heron-70.json examples/marks.csv --air '28 °C, 1005 hPa' --card marks.pdf

Two or more marks give speed and drag; the table holds every distance with its
doubt in that air. Distances beyond the marks are said to be so.`
}

// air puts temperature and pressure where they were said.
func (c sightCmd) air(a *flight.Air) (err error) {
	if c.Temperature != "" {
		if a.Temperature, err = unit.ParseIn(c.Temperature, unit.DegC); err != nil {
			return unit.For("--temperature", err)
		}
	}
	if c.Pressure != "" {
		if a.Pressure, err = unit.ParseIn(c.Pressure, unit.HPa); err != nil {
			return unit.For("--pressure", err)
		}
	}
	return nil
}

// Run fits the marks and prints the table.
func (c sightCmd) Run(ctx context.Context, t *terminal) (err error) {
	s, err := c.settings(t)
	if err != nil {
		return err
	}
	f, err := openFile(c.Marks)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	var asked workbench.SightMarks
	if asked.Marks, err = workbench.ReadMarks(f); err != nil {
		return fmt.Errorf("%s: %w", c.Marks, err)
	}
	asked.Upward = workbench.UpwardScale(asked.Marks)
	if asked.TableAir, err = workbench.ReadAir(c.Air); err != nil {
		return usageError{fmt.Errorf("--air: %w", err)}
	}
	if err := c.air(&asked.TableAir); err != nil {
		return usageError{err}
	}
	table, err := workbench.Sight(ctx, s, asked)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Marks, err)
	}
	if err := c.card(t, s, table, asked.TableAir); err != nil {
		return err
	}
	if c.JSON {
		return t.printJSON(table)
	}
	return printSight(t, table)
}

// card writes the marks card, if one was asked for.
func (c sightCmd) card(t *terminal, s notebook.Settings, table workbench.SightTable, air flight.Air) error {
	if c.Card == "" {
		return nil
	}
	system := unit.Metric()
	if c.Inches {
		system.Setting = unit.In
	}
	head := report.CardHead{Bow: s.Notes, Made: time.Now(), Source: filepath.Base(c.Bow), Air: airWords(air)}
	sheet, err := report.MarksCard(table, head, system)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Marks, err)
	}
	if err := writeFile(c.Card, func(w io.Writer) error { return sheet.WritePDF(w, c.Paper) }); err != nil {
		return err
	}
	t.warnf("wrote %s: print it at 100 %%, and measure its line of 100 mm", c.Card)
	return nil
}

// airWords say a day's air.
func airWords(a flight.Air) string {
	return fmt.Sprintf("%.0f °C, %.0f hPa, %.0f %%", float64(a.Temperature), float64(a.Pressure)/100, 100*a.Humidity)
}

func printSight(t *terminal, table workbench.SightTable) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Speed %.1f ± %.1f m/s, drag coefficient %.2f ± %.2f (one standard deviation)\n\n  distance, m   mark, mm   from … to, mm\n", table.Speed, table.SpeedDoubt, table.Drag, table.DragDoubt)
	for _, l := range table.Lines {
		beyond := ""
		if l.Beyond {
			beyond = "   beyond your marks"
		}
		fmt.Fprintf(&b, "  %11.0f   %8.1f   %.1f … %.1f%s\n", l.Distance, 1e3*l.Reading, 1e3*l.Interval[0], 1e3*l.Interval[1], beyond)
	}
	if _, err := fmt.Fprint(t.out, b.String()); err != nil {
		return err
	}
	for _, w := range table.Warnings {
		t.warnf("note: %s", w)
	}
	return nil
}
