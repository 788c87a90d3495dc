package server

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// sightBody asks for a table of sight marks.
type sightBody struct {
	PredictBody
	Marks     []markBody        `json:"marks,omitempty" doc:"Marks that hit, at least two, 10 m apart. Without marks and csv, the sight marks among the bow's readings."`
	CSV       string            `json:"csv,omitempty" doc:"The same as a table: distance, mark; one a line; bare numbers are metres and millimetres." example:"18 m, 12.5 mm"`
	Air       airBody           `json:"air,omitzero" doc:"Today's, for the table; default 15 °C, 1013 hPa, 50 %."`
	MarksAir  airBody           `json:"marks_air,omitzero" doc:"Of the day the marks were shot; the same default."`
	Upward    *bool             `json:"upward,omitempty" doc:"The scale's numbers grow upward; default as the marks say."`
	Distances []notebook.Length `json:"distances,omitempty" doc:"Of the table, at most 40; default every 5 m from 10 to 90 m."`
}

// markBody is one mark as typed.
type markBody struct {
	Distance notebook.Length `json:"distance" example:"30 m"`
	Reading  notebook.Length `json:"reading" doc:"On the sight's scale; one without a unit counts as millimetres." example:"23.4 mm"`
}

// airBody is the air as typed.
type airBody struct {
	Temperature unit.Text[unit.Temperature] `json:"temperature,omitzero" example:"28 °C"`
	Pressure    unit.Text[unit.Pressure]    `json:"pressure,omitzero" doc:"At the range, not reduced to sea level." example:"1005 hPa"`
	Humidity    string                      `json:"humidity,omitempty" example:"60 %"`
}

// sightInput is the request.
type sightInput struct {
	Body written[sightBody]
}

// sightView is the table.
type sightView struct {
	Lines    []sightLine     `json:"lines" nullable:"false"`
	Used     []usedMark      `json:"marks" nullable:"false" doc:"The marks behind it."`
	Speed    Doubted         `json:"speed" doc:"Fitted, as the arrow leaves; interval of 90 %."`
	Drag     Doubted         `json:"drag" doc:"Fitted drag coefficient; interval of 90 %."`
	Together float64         `json:"speed_drag_correlation" doc:"Near 1 when the marks cannot tell speed and drag apart."`
	Air      string          `json:"air" doc:"The table's, in words; /sheets/marks/{setup}.pdf?air= takes it."`
	Upward   bool            `json:"scale_upward"`
	Card     string          `json:"card,omitempty" doc:"The printable marks card, where the marks are readings of a set-up." example:"/sheets/marks/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e.pdf"`
	Figures  []figure.Figure `json:"figures" nullable:"false"`
	Warnings []string        `json:"warnings" nullable:"false"`
}

// sightLine is one distance.
type sightLine struct {
	Distance Shown   `json:"distance"`
	Mark     Doubted `json:"mark" doc:"On the sight's scale; the interval holds 90 %: the fit, the setting of one mark, and the day's air."`
	FromAir  Shown   `json:"from_air" doc:"Half the interval that the air alone makes."`
	Beyond   bool    `json:"beyond_marks" doc:"Extrapolated: outside the distances that were shot."`
	Time     Shown   `json:"time"`
	Speed    Shown   `json:"speed" doc:"At the target."`
}

// usedMark is one mark as understood.
type usedMark struct {
	Distance Shown `json:"distance"`
	Reading  Shown `json:"reading"`
}

func (s *server) sightMarks(ctx context.Context, in *sightInput) (*found[sightView], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	settings, err := s.settingsFor(ctx, body.SetUp, body.Settings, body.Set, system)
	if err != nil {
		return nil, err
	}
	asked := workbench.SightMarks{Distances: lengths(body.Distances, nil)}
	mixed, kept, err := s.marksFor(ctx, body, &asked)
	if err != nil {
		return nil, err
	}
	if err := body.airs(&asked); err != nil {
		return nil, err
	}
	asked.Upward = workbench.UpwardScale(asked.Marks)
	if body.Upward != nil {
		asked.Upward = *body.Upward
	}
	var table workbench.SightTable
	err = s.long(ctx, "", func(ctx context.Context, _ func(float64)) (err error) {
		table, err = workbench.Sight(ctx, settings, asked)
		return err
	})
	if err != nil {
		return nil, err
	}
	view := viewSight(table, asked, system)
	if mixed {
		view.Warnings = append(view.Warnings, "Some of these marks were shot with earlier set-ups.")
	}
	if kept {
		view.Card = "/sheets/marks/" + string(body.SetUp) + ".pdf"
	}
	return &found[sightView]{Body: view}, nil
}

// mostDistances bounds a table.
const mostDistances = 40

// marksFor takes the marks typed, or those among the readings; kept tells that
// they are.
func (s *server) marksFor(ctx context.Context, body sightBody, asked *workbench.SightMarks) (mixed, kept bool, err error) {
	switch {
	case len(body.Distances) > mostDistances:
		return false, false, refuse(FieldError{"/distances", codeInvalid, fmt.Sprintf("%d distances", len(body.Distances)), fmt.Sprintf("at most %d", mostDistances)})
	case len(body.Marks) > 0:
		for _, m := range body.Marks {
			asked.Add(m.Distance.Value, m.Reading.Value)
		}
		return false, false, nil
	case strings.TrimSpace(body.CSV) != "":
		asked.Marks, err = workbench.ReadMarks(strings.NewReader(body.CSV))
		return false, false, err
	case body.SetUp == "":
		return false, false, refuse(FieldError{"/marks", codeInvalid, "there are no marks", "two or more, like 18 m at 12.5 mm and 50 m at 45 mm"})
	}
	setup, err := refers(ctx, s, s.Notebook.SetUps(), "/setup", body.SetUp)
	if err != nil {
		return false, false, err
	}
	readings, err := all(ctx, s, s.Notebook.Readings(), notebook.Query{Bow: setup.Bow})
	if err != nil {
		return false, false, err
	}
	asked.Marks, mixed = workbench.MarksOf(readings, setup.ID)
	return mixed, true, nil
}

// airs reads the two airs; what is left out is as in the standard air.
func (b sightBody) airs(asked *workbench.SightMarks) error {
	var errs []FieldError
	for _, a := range []struct {
		at   string
		from airBody
		into *workbench.Air
	}{{"/air", b.Air, &asked.TableAir}, {"/marks_air", b.MarksAir, &asked.MarksAir}} {
		air := workbench.StandardAir()
		if !a.from.Temperature.IsZero() {
			air.Temperature = a.from.Temperature.Value
		}
		if !a.from.Pressure.IsZero() {
			air.Pressure = a.from.Pressure.Value
		}
		if text := strings.TrimSpace(a.from.Humidity); text != "" {
			v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(strings.TrimSuffix(text, "%")), ",", ".", 1), 64)
			if err != nil {
				errs = append(errs, FieldError{a.at + "/humidity", codeUnreadable, fmt.Sprintf("cannot read %q", cut(text)), "a share like 60 %"})
				continue
			}
			air.Humidity = v / 100
		}
		errs = append(errs, checkAir(a.at, air)...)
		*a.into = air
	}
	if len(errs) > 0 {
		return refuse(errs...)
	}
	return nil
}

// checkAir names what no range has, by the field it was typed in.
func checkAir(at string, air workbench.Air) (errs []FieldError) {
	for _, c := range []struct {
		field, what, hint string
		fine              bool
	}{
		{"temperature", "outside −40 to 60 °C", "something like 18 °C", air.Temperature >= -40 && air.Temperature <= 60},
		{"pressure", "outside 500 to 1100 hPa", "as read at the range, like 1005 hPa", air.Pressure >= 50000 && air.Pressure <= 110000},
		{"humidity", "outside 0 to 100 %", "a share like 60 %", air.Humidity >= 0 && air.Humidity <= 1},
	} {
		if !c.fine {
			errs = append(errs, FieldError{at + "/" + c.field, codeInvalid, "the air's " + c.field + " is " + c.what, c.hint})
		}
	}
	return errs
}

func viewSight(t workbench.SightTable, asked workbench.SightMarks, system unit.System) sightView {
	far, scale := system.DistanceStyle(), fine(system.SettingStyle())
	at := func(d unit.Length) Shown { return Shown{float64(d), "m", far.Print(d)} }
	v := sightView{Lines: []sightLine{}, Used: []usedMark{}, Together: t.Correlation, Upward: t.Upward, Warnings: saidAll(t.Warnings, system), Air: airWords(asked.TableAir)}
	for _, m := range asked.Marks {
		v.Used = append(v.Used, usedMark{at(m.Distance), Shown{float64(m.Reading), "m", scale.Print(m.Reading)}})
	}
	for _, l := range t.Lines {
		v.Lines = append(v.Lines, sightLine{
			Distance: at(unit.Length(l.Distance)), Mark: spanned("mark", "sight mark", "m", l.Reading, l.Interval, scale), Beyond: l.Beyond,
			FromAir: Shown{l.FromAir, "m", scale.Print(unit.Length(l.FromAir))}, Time: Shown{l.Time, "s", unit.Style[unit.Duration]{Unit: unit.S, Decimal: system.Decimal, Digits: 2}.Print(unit.Duration(l.Time))},
			Speed: Shown{l.Speed, "m/s", system.SpeedStyle().Print(unit.Speed(l.Speed))},
		})
	}
	half := func(v, sd float64) workbench.Span { return workbench.Span{v - ninety*sd, v + ninety*sd} }
	v.Speed = spanned("speed", "arrow speed as it leaves", "m/s", t.Speed, half(t.Speed, t.SpeedDoubt), system.SpeedStyle())
	drag := half(t.Drag, t.DragDoubt)
	text := func(x float64) string { return plainNumber(rounded(x, 2), system) }
	v.Drag = Doubted{Name: "drag", Label: "drag coefficient", Unit: "1", SI: finite(t.Drag), Low: finite(drag[0]), High: finite(drag[1]), Text: text(t.Drag), Doubt: text(drag[0]) + " to " + text(drag[1])}
	v.Figures = []figure.Figure{sightFigure(t, asked, system)}
	return v
}

// ninety standard deviations hold 90 % of a normal spread.
const ninety = 1.6448536

// airWords are what a marks card is asked with; its reader takes decimal
// points.
func airWords(a workbench.Air) string {
	return fmt.Sprintf("%s °C, %s hPa, %s %%", short(float64(a.Temperature)), short(a.Pressure.Hectopascals()), short(100*a.Humidity))
}

func short(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

// sightFigure draws the scale against the distance.
func sightFigure(t workbench.SightTable, asked workbench.SightMarks, system unit.System) figure.Figure {
	far, scale := system.DistanceStyle(), fine(system.SettingStyle())
	f := figure.Figure{
		Title: "sight mark against distance", X: figure.Axis{Label: "distance", Unit: far.Symbol()}, Y: figure.Axis{Label: "sight mark", Unit: scale.Symbol(), Digits: scale.Digits},
		Note: "The band holds 90 %: the fit, the setting of one mark, and the day's air. Outside the shaded distances the marks are extrapolated.",
	}
	line, shot := figure.Line{Name: "computed", Kind: figure.Curve}, figure.Line{Name: "shot", Kind: figure.Points}
	near, most := math.Inf(1), math.Inf(-1)
	for _, m := range asked.Marks {
		d := far.Unit.From(m.Distance)
		near, most = min(near, d), max(most, d)
		shot.X, shot.Y = append(shot.X, figure.Number(d)), append(shot.Y, figure.Number(scale.Unit.From(m.Reading)))
	}
	for _, l := range t.Lines {
		line.X, line.Y = append(line.X, figure.Number(far.Unit.From(unit.Length(l.Distance)))), append(line.Y, figure.Number(scale.Unit.From(unit.Length(l.Reading))))
		line.Low = append(line.Low, figure.Number(scale.Unit.From(unit.Length(l.Interval[0]))))
		line.High = append(line.High, figure.Number(scale.Unit.From(unit.Length(l.Interval[1]))))
	}
	f.Series = []figure.Line{line, shot}
	f.Spans = []figure.Span{{From: near, To: most, Label: "distances that were shot"}}
	f.Finding = fmt.Sprintf("%d marks give a speed of %s and the scale for every distance they reach.", len(asked.Marks), system.SpeedStyle().Print(unit.Speed(t.Speed)))
	return f
}
