package workbench

import (
	"fmt"

	"tautline/bow"
	"tautline/notebook"
	"tautline/unit"
)

// What is assumed of a string that nobody described, and of an arrow nobody
// weighed. Said aloud in Inputs.Assumed wherever it is used.
const (
	usualStrands             = 18
	usualTurns               = 20.0
	turnsDoubt               = 6.0 // one standard deviation of an uncounted string's turns (assumed)
	shortOfBow   unit.Length = 3 * unit.Inch
)

// FromSettings translates a notebook's settings into what the model needs.
// The error is a notebook.Problems that names every field at fault.
func FromSettings(s notebook.Settings) (Inputs, error) {
	problems := s.Check()
	if s.Arrow.Mass.IsZero() {
		problems = append(problems, notebook.Error{Code: notebook.Invalid, Field: "/arrow/mass", Message: "the arrow's mass is missing: the speed depends on it", Hint: "weigh one whole arrow, like 330 gr or 21.4 g"})
	}
	if err := problems.OrNil(); err != nil {
		return Inputs{}, err
	}
	in := Inputs{ArrowMass: s.Arrow.Mass.Value}
	k := &in.Known
	k.BowLength = s.Limbs.BowLength.Value
	k.DrawWeight, k.Draw = s.Draw.Weight.Value, toPivot(s, s.Draw.Length.Value)
	k.PivotOffset = s.Riser.Offset.Value
	k.StringLength = s.String.Length.Value
	in.Now, _ = s.BraceHeight.ToPivot()
	k.Brace = in.Now
	if at := s.Draw.AtBrace.Value; at > 0 && at != in.Now {
		k.Brace = at
		k.StringLength = 0 // read at another brace height than the draw was
	}
	for _, p := range s.Draw.Points {
		k.Points = append(k.Points, bow.DrawPoint{Nock: toPivot(s, p.At.Value), Force: p.Force.Value})
	}
	in.StringMass = s.String.Mass.Value
	in.describeString(s)
	in.note(s)
	return in, nil
}

// toPivot turns a draw length, as this bow's owner quotes it, into the nock's
// distance from the pivot.
func toPivot(s notebook.Settings, draw unit.Length) unit.Length {
	switch s.Draw.From {
	case notebook.FromPivot:
		return draw
	case notebook.FromButton:
		return draw - s.BraceHeight.ButtonBehind.Value
	}
	return bow.PivotDraw(draw)
}

// describeString takes the string as given, or the usual one.
func (in *Inputs) describeString(s notebook.Settings) {
	spec := bow.StringSpec{Material: bow.Material(s.String.Material), Strands: s.String.Strands, Length: s.String.Length.Value}
	if spec.Material == "" {
		spec.Material = bow.HMPE
	}
	in.TurnsCounted = s.String.Twists != nil
	in.Turns = usualTurns
	if in.TurnsCounted {
		in.Turns = *s.String.Twists
	}
	if spec.Strands == 0 {
		spec.Strands = usualStrands
		in.Assumed = append(in.Assumed, fmt.Sprintf("The string is not described: %d strands of HMPE assumed.", usualStrands))
	}
	if spec.Length == 0 {
		spec.Length = in.Known.BowLength - shortOfBow
		if in.Known.BowLength == 0 {
			spec.Length = 65 * unit.Inch
		}
	}
	in.Known.String = spec
}

// note says what else was filled in.
func (in *Inputs) note(s notebook.Settings) {
	if in.Known.Brace == 0 {
		in.Assumed = append(in.Assumed, fmt.Sprintf("No brace height given: %v assumed.", bow.UsualBrace(in.Known.BowLength)))
	}
	if !in.TurnsCounted {
		in.Assumed = append(in.Assumed, fmt.Sprintf("The string's turns were never counted: %.0f ± %.0f assumed; the first two stops teach the step.", usualTurns, turnsDoubt))
	}
	if s.StringWalking {
		in.Assumed = append(in.Assumed, "String-walking: the model draws the string at the nock, so draw weight and energy hold for no crawl.")
	}
}

// Range is the limb maker's brace-height range, for the usual riser, and
// whether it is known.
func Range(s notebook.Settings) (bow.BraceRange, bool) {
	r := bow.BraceRange{Low: s.Limbs.RangeLow.Value, High: s.Limbs.RangeHigh.Value}
	return r, r.Low > 0 && r.High > r.Low
}

// CheckRange compares the settings' brace height with the limb maker's range,
// corrected for the riser; ok is false when either is not known.
func CheckRange(s notebook.Settings) (check bow.RangeCheck, ok bool) {
	r, known := Range(s)
	reading, read := s.BraceHeight.ToPivot()
	if !known || !read {
		return bow.RangeCheck{}, false
	}
	check, err := r.Check(reading, s.Riser.Offset.Value)
	return check, err == nil
}

// Warnings are what the settings alone say against shooting like this, in
// words.
func Warnings(s notebook.Settings) (out []string) {
	if c, ok := CheckRange(s); ok && c.Side != bow.InsideRange {
		out = append(out, fmt.Sprintf("The brace height is %.0f mm %s the limb maker's range (%s to %s on this riser).",
			float64(c.Outside)*1e3, c.Side, unit.Both(c.OnRiser.Low, unit.Point), unit.Both(c.OnRiser.High, unit.Point)))
	}
	if least := s.Arrow.MinimumMass; !least.IsZero() && s.Arrow.Mass.Value < least.Value {
		out = append(out, fmt.Sprintf("The arrow (%s) is lighter than the bow maker's minimum (%s): do not shoot it.", s.Arrow.Mass.Text, least.Text))
	}
	return out
}
