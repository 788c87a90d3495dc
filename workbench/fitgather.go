package workbench

import (
	"fmt"
	"slices"

	"tautline/notebook"
	"tautline/unit"
)

// Observations turns a bow's readings in the notebook into observations for a fit.
// Retracted readings are the caller's to leave out; corrected ones are left
// out here. A reading at a trial's stop counts with the brace height that was
// read there. skipped says in words what could not be used and why.
func Observations(setups map[notebook.ID]notebook.SetUp, readings []notebook.Reading) (out []Observation, skipped []string) {
	readings = notebook.Standing(readings)
	at := stopReadings(readings)
	for _, r := range readings {
		if !Fittable(r.Kind) {
			continue
		}
		setup, ok := setups[r.SetUp]
		if !ok {
			skipped = append(skipped, fmt.Sprintf("%s: its set-up is not in the notebook", readingName(r)))
			continue
		}
		o, err := observation(r, setup.Settings, at[stopKey(r)])
		if err != nil {
			skipped = append(skipped, fmt.Sprintf("%s: %v", readingName(r), err))
			continue
		}
		if o.Quantity.Kind != "" {
			out = append(out, o)
		}
	}
	return out, skipped
}

// EnoughToFit reports whether the readings are as many as every bow of the
// coverage study had (docs/theory/fit.md): a speed and a bare shaft.
func EnoughToFit(list []Observation) bool {
	has := func(kind string) bool {
		return slices.ContainsFunc(list, func(o Observation) bool { return o.Quantity.Kind == kind })
	}
	return has(QSpeed) && has(QBare)
}

// Fittable kinds say something about the bow that the model can use.
func Fittable(k notebook.Kind) bool {
	switch k {
	case notebook.ReadSpeed, notebook.ReadDrawWeight, notebook.ReadDrawForce, notebook.ReadBareShaft, notebook.ReadBareUp, notebook.ReadGroupRight,
		notebook.ReadSightMark, notebook.ReadStringLength, notebook.ReadBrace:
		return true
	}
	return false
}

// trialStop is a place in a trial.
type trialStop struct {
	trial notebook.ID
	index int
}

func stopKey(r notebook.Reading) trialStop {
	if r.Trial == "" || r.Stop == nil {
		return trialStop{}
	}
	return trialStop{r.Trial, *r.Stop}
}

// stopReadings finds the brace height and the turns read at each stop.
func stopReadings(readings []notebook.Reading) map[trialStop]map[notebook.Kind]notebook.Reading {
	out := map[trialStop]map[notebook.Kind]notebook.Reading{}
	for _, r := range readings {
		k := stopKey(r)
		if k == (trialStop{}) || r.Kind != notebook.ReadBrace && r.Kind != notebook.ReadTurns {
			continue
		}
		if out[k] == nil {
			out[k] = map[notebook.Kind]notebook.Reading{}
		}
		out[k][r.Kind] = r
	}
	return out
}

// observation is one reading; the zero Quantity when it says nothing, such as
// a brace height without turns.
func observation(r notebook.Reading, s notebook.Settings, stop map[notebook.Kind]notebook.Reading) (Observation, error) {
	o := Observation{ID: r.ID, Name: readingName(r), Value: r.Value, Doubt: r.Doubt, Arrows: r.Arrows}
	if r.Kind == notebook.ReadBrace {
		turns, read := stop[notebook.ReadTurns]
		if !read || turns.Value == 0 {
			return o, nil
		}
		o.Settings, o.Quantity = s, Quantity{Kind: QBrace, Turns: turns.Value}
		if r.Edge == notebook.EdgeButton {
			o.Value -= float64(s.BraceHeight.ButtonBehind.Value)
		}
		return o, nil
	}
	var err error
	if b, read := stop[notebook.ReadBrace]; read {
		if s, err = withBrace(s, b); err != nil {
			return o, err
		}
	}
	if s, err = withShaft(s, r.Shaft); err != nil {
		return o, err
	}
	if r.Kind == notebook.ReadBareUp && s.StringWalking {
		return o, withheldHeight(stringWalking)
	}
	o.Settings = s
	o.Quantity = Quantity{Kind: string(r.Kind), Distance: r.Distance.Value}
	switch r.Kind {
	case notebook.ReadDrawForce:
		o.Quantity = Quantity{Kind: QDrawForce, Draw: toPivot(s, r.DrawLength.Value)}
	case notebook.ReadSpeed:
		o.Arrows = max(1, r.Arrows)
	}
	return o, nil
}

// withBrace is a set-up at the brace height that was read, whatever edge it
// was read from.
func withBrace(s notebook.Settings, r notebook.Reading) (notebook.Settings, error) {
	value := unit.Length(r.Value)
	if r.Edge == notebook.EdgeButton {
		value -= s.BraceHeight.ButtonBehind.Value
	}
	return s.With("brace_height", lengthText(value, s))
}

// withShaft is a set-up shot with another arrow; what it leaves out is the
// set-up's own.
func withShaft(s notebook.Settings, a notebook.Arrow) (notebook.Settings, error) {
	var other notebook.Settings
	other.Arrow = a
	diff, err := notebook.Diff(notebook.Settings{}, other)
	if err != nil {
		return s, err
	}
	for _, d := range diff {
		if s, err = s.With(d.Key, d.After); err != nil {
			return s, err
		}
	}
	return s, nil
}

// readingName names a reading for a person: "arrow speed, 58.2 m/s".
func readingName(r notebook.Reading) string {
	name := string(r.Kind)
	if info, ok := r.Kind.Info(); ok {
		name = info.Label
	}
	if !r.Distance.IsZero() {
		name += " at " + r.Distance.String()
	}
	if r.Text != "" {
		name += ", " + r.Text
	}
	return name
}
