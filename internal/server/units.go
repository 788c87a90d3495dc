package server

import (
	"context"
	"net/http"
	"reflect"
	"slices"
	"strings"

	"tautline/unit"
)

// kinds are the quantities that can be typed, by name.
var kinds = map[string]kind{
	"setting":     quantity("m", "22.5 cm", unit.System.SettingStyle),
	"draw":        quantity("m", "28 1/2 in", unit.System.DrawStyle),
	"impact":      quantity("m", "4.5 cm", unit.System.ImpactStyle),
	"distance":    quantity("m", "70 m", unit.System.DistanceStyle),
	"mass":        quantity("kg", "360 gr", unit.System.MassStyle),
	"heavy":       quantity("kg", "2.8 kg", heavyStyle),
	"force":       quantity("N", "44 lbf", unit.System.ForceStyle),
	"speed":       quantity("m/s", "59.7 m/s", unit.System.SpeedStyle),
	"wind":        quantity("m/s", "3 m/s", unit.System.WindStyle),
	"angle":       quantity("rad", "2.5 deg", unit.System.AngleStyle),
	"duration":    quantity("s", "16.2 ms", unit.System.DurationStyle),
	"energy":      quantity("J", "52 J", unit.System.EnergyStyle),
	"stiffness":   quantity("N/m", "1.2 kN/m", unit.System.StiffnessStyle),
	"temperature": quantity("°C", "18 °C", unit.System.TemperatureStyle),
	"pressure":    quantity("Pa", "1013 hPa", unit.System.PressureStyle),
	"spine":       quantity("m", "500", unit.System.SpineStyle),
	"preload":     quantity("N", "1.5 N", preloadStyle),
	"spring":      quantity("N/m", "1 N/mm", springStyle),
}

// kindNames are the keys of kinds in a fixed order.
var kindNames = []string{"setting", "draw", "impact", "distance", "mass", "heavy", "force", "speed", "wind",
	"angle", "duration", "energy", "stiffness", "temperature", "pressure", "spine", "preload", "spring"}

// typedAs says which kind a typed field of a record is.
var typedAs = map[reflect.Type]string{
	reflect.TypeFor[unit.Text[unit.Length]]():      "setting",
	reflect.TypeFor[unit.Text[unit.Mass]]():        "mass",
	reflect.TypeFor[unit.Text[unit.Force]]():       "force",
	reflect.TypeFor[unit.Text[unit.Speed]]():       "speed",
	reflect.TypeFor[unit.Text[unit.Angle]]():       "angle",
	reflect.TypeFor[unit.Text[unit.Duration]]():    "duration",
	reflect.TypeFor[unit.Text[unit.Energy]]():      "energy",
	reflect.TypeFor[unit.Text[unit.Stiffness]]():   "stiffness",
	reflect.TypeFor[unit.Text[unit.Temperature]](): "temperature",
	reflect.TypeFor[unit.Text[unit.Pressure]]():    "pressure",
	reflect.TypeFor[unit.Text[unit.Spine]]():       "spine",
}

// longFields are the lengths that people read as draw and arrow lengths, by
// the end of their path; all other lengths are settings on the bow.
var longFields = []string{"/draw/length", "/at", "/string/length", "/riser/length", "/bow_length", "/shaft_length", "/clicker", "/moves/draw_length"}

// heavyStyle is for the riser and what is screwed to it, whatever a person
// weighs arrows in.
func heavyStyle(s unit.System) unit.Style[unit.Mass] {
	style := s.MassStyle()
	style.Unit = unit.Kg
	return style
}

// kindFor is the kind of a typed field at a place in a record.
func kindFor(t reflect.Type, at string) (kind, bool) {
	name, ok := typedAs[t]
	if name == "setting" {
		for _, end := range longFields {
			if strings.HasSuffix(at, end) {
				name = "draw"
			}
		}
		if strings.Contains(at, "/distance") {
			name = "distance"
		}
	}
	switch {
	case name == "setting" && (strings.HasSuffix(at, "/bare_up") || strings.HasSuffix(at, "/bare_up_doubt")):
		name = "impact"
	case name == "mass" && strings.Contains(at, "/riser/"):
		name = "heavy"
	case strings.HasSuffix(at, "/button_preload"), strings.HasSuffix(at, "/repeatability/nock_fit"):
		name = "preload"
	case strings.HasSuffix(at, "/button_stiffness"):
		name = "spring"
	}
	return kinds[name], ok
}

// kind reads and prints one quantity without knowing its type.
type kind struct {
	si, example string
	units       func() []string
	symbol      func(unit.System) string
	read        func(s unit.System, field, text string) (parsed, error)
	print       func(s unit.System, si float64) string
	// precise prints a typed value with no fewer digits than were typed; step is
	// the size of the last of them, SI.
	precise func(s unit.System, si, step float64) string
	number  func(s unit.System, si float64) float64 // in the person's unit
}

// parsed is a quantity read from typed text.
type parsed struct {
	SI   float64
	Unit string  // in which it was typed
	Full string  // the text with its unit, safe to keep
	Step float64 // size of the last digit typed, SI
}

// quantity makes the kind of one style.
func quantity[T unit.Quantity](si, example string, style func(unit.System) unit.Style[T]) kind {
	return kind{
		si: si, example: example,
		units: func() []string {
			var names []string
			for _, u := range unit.Units[T]() {
				names = append(names, string(u))
			}
			return names
		},
		symbol: func(s unit.System) string { return style(s).Symbol() },
		read: func(s unit.System, field, text string) (parsed, error) {
			t, err := style(s).Read(field, text)
			if err != nil {
				return parsed{}, err
			}
			return parsed{float64(t.Value), string(t.Unit), complete(t, text), float64(t.Step)}, nil
		},
		print: func(s unit.System, v float64) string { return style(s).Print(T(v)) },
		precise: func(s unit.System, v, step float64) string {
			return style(s).Precise(T(v), T(step))
		},
		number: func(s unit.System, v float64) float64 { return style(s).Unit.From(T(v)) },
	}
}

// complete gives the text itself where it stands on its own, else with the
// unit and the decimal mark that were understood.
func complete[T unit.Quantity](t unit.Typed[T], text string) string {
	text = strings.TrimSpace(text)
	for _, full := range []string{text, text + " " + string(t.Unit)} {
		alone, err := unit.Read(full, unit.Reading[T]{})
		if err == nil && alone.Value == t.Value && alone.Unit == t.Unit {
			return full
		}
	}
	return unit.Exact(t.Value, t.Unit, unit.Point)
}

// usuals are the named ranges that catch a wrong unit, by the field's name.
var usuals = map[string]func(unit.System, string) string{
	"brace_height":  doubts(unit.BraceHeight, unit.System.SettingStyle),
	"nocking_point": doubts(unit.NockingPoint, unit.System.SettingStyle),
	"tiller":        doubts(unit.Tiller, unit.System.SettingStyle),
	"centre_shot":   doubts(unit.CentreShot, unit.System.SettingStyle),
	"draw_length":   doubts(unit.DrawLength, unit.System.DrawStyle),
	"arrow_length":  doubts(unit.ArrowLength, unit.System.DrawStyle),
	"string_length": doubts(unit.StringLength, unit.System.DrawStyle),
	"distance":      doubts(unit.Distance, unit.System.DistanceStyle),
	"draw_weight":   doubts(unit.DrawWeight, unit.System.ForceStyle),
	"arrow_mass":    doubts(unit.ArrowMass, unit.System.MassStyle),
	"point_mass":    doubts(unit.PointMass, unit.System.MassStyle),
	"string_mass":   doubts(unit.StringMass, unit.System.MassStyle),
	"arrow_speed":   doubts(unit.ArrowSpeed, unit.System.SpeedStyle),
	"static_spine":  doubts(unit.ShaftSpine, unit.System.SpineStyle),
	"temperature":   doubts(unit.AirTemp, unit.System.TemperatureStyle),
	"pressure":      doubts(unit.AirPressure, unit.System.PressureStyle),
}

// doubts asks back about a text outside its usual range; "" when it is usual
// or cannot be read.
func doubts[T unit.Quantity](usual unit.Usual[T], style func(unit.System) unit.Style[T]) func(unit.System, string) string {
	return func(s unit.System, text string) string {
		t, err := style(s).Read("", text)
		if err != nil {
			return ""
		}
		return usual.Doubt(t)
	}
}

// unitsOutput lists what can be typed and in which units.
type unitsOutput struct {
	Body struct {
		Quantities []quantityInfo         `json:"quantities"`
		Systems    map[string]unit.System `json:"systems" doc:"Ready-made choices of units: metric, imperial, mixed."`
	}
}

// quantityInfo describes one kind of quantity for a form.
type quantityInfo struct {
	Name  string   `json:"name" example:"setting"`
	SI    string   `json:"si" doc:"Unit of all numbers in this API." example:"m"`
	Units []string `json:"units" doc:"Units in which it can be typed." example:"[\"m\",\"mm\",\"cm\",\"in\"]"`
	Yours string   `json:"yours" doc:"Unit in which this person reads it." example:"mm"`
}

func (s *server) listUnits(ctx context.Context, _ *struct{}) (*unitsOutput, error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	var out unitsOutput
	for _, name := range kindNames {
		k := kinds[name]
		out.Body.Quantities = append(out.Body.Quantities, quantityInfo{name, k.si, k.units(), k.symbol(system)})
	}
	out.Body.Systems = map[string]unit.System{"metric": unit.Metric(), "imperial": unit.Imperial(), "mixed": unit.Mixed()}
	return &out, nil
}

// parseInput is text typed into a field.
type parseInput struct {
	Body struct {
		Quantity string `json:"quantity" doc:"Kind of quantity, as listed by /units." example:"setting"`
		Field    string `json:"field,omitempty" maxLength:"60" doc:"What was asked for; named in errors and in questions." example:"brace_height"`
		Text     string `json:"text" maxLength:"200" doc:"What was typed. A bare number is in the person's unit." example:"8 3/4 in"`
	}
}

// parseOutput is the text understood.
type parseOutput struct {
	Body struct {
		Shown
		TypedUnit string  `json:"typed_unit" doc:"Unit in which it was typed." example:"in"`
		Full      string  `json:"full" doc:"The text with its unit: send this, and no later change of units can alter it." example:"8.75 in"`
		Step      float64 `json:"step" doc:"Size of the last digit typed, SI." example:"0.00635"`
		Both      string  `json:"both,omitempty" doc:"Both scales of a bow square, for lengths on the bow." example:"222 mm (8 3/4 in)"`
		Question  string  `json:"question,omitempty" doc:"Asked back when the value is outside what is usual; the person decides." example:"brace height 2.25 cm (22.5 mm) is outside the usual 150 to 300 mm; did you mean 22.5 cm?"`
	}
}

func (s *server) parseText(ctx context.Context, in *parseInput) (*parseOutput, error) {
	k, ok := kinds[in.Body.Quantity]
	if !ok {
		p := newProblem(http.StatusUnprocessableEntity, codeInvalid, "", "")
		p.Errors = []FieldError{{"/quantity", codeInvalid, "is not a quantity that can be typed", "one of " + strings.Join(kindNames, ", ")}}
		return nil, p.lead()
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	v, err := k.read(system, strings.ReplaceAll(in.Body.Field, "_", " "), in.Body.Text)
	if err != nil {
		return nil, refuse(unreadable("/text", err))
	}
	var out parseOutput
	out.Body.Shown = Shown{v.SI, k.si, k.print(system, v.SI)}
	out.Body.TypedUnit, out.Body.Full, out.Body.Step = v.Unit, v.Full, v.Step
	if slices.Contains([]string{"setting", "draw"}, in.Body.Quantity) {
		out.Body.Both = unit.Both(unit.Length(v.SI), system.Decimal)
	}
	if ask := usuals[in.Body.Field]; ask != nil {
		out.Body.Question = ask(system, in.Body.Text)
	}
	return &out, nil
}

// refuse makes one problem of fields at fault.
func refuse(errs ...FieldError) *Problem {
	p := newProblem(http.StatusUnprocessableEntity, errs[0].Code, "", "")
	p.Errors = errs
	return p.lead()
}
