package workbench

import (
	"context"
	"fmt"

	"tautline/arrow"
	"tautline/flight"
	"tautline/notebook"
	"tautline/shot"
	"tautline/unit"
)

// What is assumed of an arrow and a button that nobody described. All are
// common practice without a source, said aloud in Sideways.Assumed.
const (
	usualDiameter  unit.Length = 5.6 * unit.Millimetre
	usualPoint     unit.Mass   = 110 * unit.Grain
	usualNock      unit.Mass   = 8 * unit.Grain
	usualFletching unit.Mass   = 6 * unit.Grain
	// grooveBehind is how far the nock's groove lies behind the shaft's end.
	grooveBehind unit.Length = 10 * unit.Millimetre
	// pastPivot is how far the shaft reaches past the pivot at full draw.
	pastPivot    unit.Length = 40 * unit.Millimetre
	usualCentre  unit.Length = 1 * unit.Millimetre
	usualPreload unit.Force  = 1.5
	// A button's thread is taken to advance 0.5 mm a turn, so that a turn adds
	// that much of its spring; its marked zero is taken to press 0.5 N.
	threadPitch unit.Length = 0.5 * unit.Millimetre
	zeroPreload unit.Force  = 0.5
	// usualExtension is a sight's, riser to pin.
	usualExtension unit.Length = 0.17
	mostPreload    unit.Force  = 8
)

// Shaft weights outside these are slips of entry: 3 to 16 grains per inch.
const lightShaft, heavyShaft = 3.0, 16.0

// SidewaysFromSettings translates a notebook's settings into what the target
// needs. The static spine and the arrow's mass are required; everything else
// is filled in and named in Assumed. The error is a notebook.Problems.
func SidewaysFromSettings(s notebook.Settings, hand arrow.Hand) (Sideways, error) {
	out := Sideways{Setup: arrow.GenericSetup(), Air: flight.StandardAir()}
	out.Setup.Hand = hand
	problems := s.Check()
	missing := func(field, message, hint string) {
		problems = append(problems, notebook.Error{Code: notebook.Invalid, Field: field, Message: message, Hint: hint})
	}
	if s.Arrow.Spine.IsZero() {
		missing("/arrow/spine", "the static spine is missing: what the target shows depends on it", "the number printed on the shaft, like 600")
	}
	if s.Arrow.Mass.IsZero() {
		missing("/arrow/mass", "the arrow's mass is missing", "weigh one whole arrow, like 330 gr or 21.4 g")
	}
	if err := problems.OrNil(); err != nil {
		return Sideways{}, err
	}
	if err := out.arrow(s); err != nil {
		return Sideways{}, err
	}
	out.button(s)
	out.string(s)
	out.inertia(s)
	out.PinAhead = riserToPivot + orUsual(s.SightExt, usualExtension, func() {})
	return out, nil
}

func (out *Sideways) note(format string, a ...any) {
	out.Assumed = append(out.Assumed, fmt.Sprintf(format, a...))
}

// orUsual takes what was typed, also a typed 0, or the usual value and says so.
func orUsual[T unit.Quantity](t unit.Text[T], usual T, say func()) T {
	if t.IsZero() {
		say()
		return usual
	}
	return t.Value
}

// or is orUsual of a quantity that is never 0, such as a diameter.
func or[T ~float64](given, usual T, say func()) T {
	if given == 0 {
		say()
		return usual
	}
	return given
}

// arrow describes the shaft; what it weighs is what the whole arrow weighs
// less its ends.
func (out *Sideways) arrow(s notebook.Settings) error {
	d, a := arrow.Generic(), s.Arrow
	d.Spine = a.Spine.Value
	shaft := orUsual(a.Length, toPivot(s, s.Draw.Length.Value)+pastPivot, func() {
		out.note("No shaft length given: it is taken to reach %.0f mm past the pivot at full draw.", pastPivot.Millimetres())
	})
	d.Length = shaft + grooveBehind
	d.Diameter = orUsual(a.Diameter, usualDiameter, func() {
		out.note("No shaft diameter given: %.1f mm assumed.", usualDiameter.Millimetres())
	})
	d.Point.Mass = orUsual(a.PointMass, usualPoint, func() { out.note("No point mass given: %.0f gr assumed.", float64(usualPoint/unit.Grain)) })
	d.Nock = orUsual(a.NockMass, usualNock, func() { out.note("No nock mass given: %.0f gr assumed.", float64(usualNock/unit.Grain)) })
	d.Fletching.Mass = orUsual(a.FletchMass, usualFletching, func() {
		out.note("No fletching mass given: %.0f gr assumed.", float64(usualFletching/unit.Grain))
	})
	d.LinearDensity = float64(a.Mass.Value-d.Point.Mass-d.Nock-d.Fletching.Mass) / float64(d.Length)
	if w := d.LinearDensity / arrow.GrainsPerInch(1); w < lightShaft || w > heavyShaft {
		return notebook.Problems{{
			Code: notebook.Invalid, Field: "/arrow/mass",
			Message: fmt.Sprintf("the arrow's mass less point, nock and vanes leaves %.1f grains per inch of shaft", w),
			Hint:    "check arrow mass, point mass and shaft length, like 330 gr, 110 gr and 28 1/2 in",
		}}
	}
	if err := d.Validate(); err != nil {
		return &notebook.Error{Code: notebook.Invalid, Field: "/arrow", Message: err.Error(), Hint: "an arrow like 330 gr, spine 600, 28 1/2 in, 110 gr point", Cause: err}
	}
	out.Arrow = d
	return nil
}

// button takes turns from the marked zero, and the centre shot.
func (out *Sideways) button(s notebook.Settings) {
	b := &out.Setup.Button
	b.Place = -s.BraceHeight.ButtonBehind.Value
	b.Preload = usualPreload
	if s.Button.Turns == nil {
		out.note("The button's turns are not given: a preload of %.1f N assumed, give or take a third.", float64(usualPreload))
	} else {
		perTurn := float64(b.Stiffness) * float64(threadPitch)
		b.Preload = min(mostPreload, max(0, zeroPreload+unit.Force(perTurn**s.Button.Turns)))
		out.note("The button's spring was never measured: %.1f N at the marked zero and %.1f N a turn assumed, give or take a third.", float64(zeroPreload), perTurn)
	}
	out.CentreKnown = !s.CentreShot.IsZero()
	out.Setup.CentreShot = orUsual(s.CentreShot, usualCentre, func() { out.note("No centre shot given: %.0f mm outside assumed.", usualCentre.Millimetres()) })
	out.note("Release, limb tips' sideways give and the button's stiffness are assumed ordinary; their spread is in the intervals.")
}

// string says what the nock carries of the string: a third of it and what is
// served on it.
func (out *Sideways) string(s notebook.Settings) {
	if m := s.String.Mass.Value; m > 0 {
		out.Setup.String.Carried = m/3 + orUsual(s.String.NockMass, unit.Gram, func() {})
	}
}

// TargetView is an Impact as numbers whose names end in their unit: the keys
// that predict --json adds.
type TargetView struct {
	Bare18     float64 `json:"bare_minus_fletched_18m_right_m"`
	Bare30     float64 `json:"bare_minus_fletched_30m_right_m"`
	Right70    float64 `json:"impact_70m_right_m"`
	TailGap    float64 `json:"tail_clearance_m"`
	ContactEnd float64 `json:"button_contact_end_s"`
	YawRate    float64 `json:"exit_yaw_rate_radps"`
	Mode1      float64 `json:"arrow_mode1_hz"`
	InWindow   bool    `json:"in_window"`
	// Reason says why not, empty inside the window.
	Reason string `json:"window_reason"`
	// InShare is the share of plausible set-ups in the window.
	InShare float64 `json:"window_share_ratio"`
	Speed70 float64 `json:"speed_70m_mps"`
	Drift70 float64 `json:"drift_70m_m_per_mps"`
	// WalkBack is one aim at many distances.
	WalkBack WalkBack `json:"walk_back"`
	// BareReads is weak, stiff or cannot tell, with the reason for the last.
	BareReads  Tuning `json:"bare_shaft_reads"`
	BareReason string `json:"bare_shaft_reason"`
	// Interval holds, under the same names, the span of 90 % of the plausible
	// set-ups.
	Interval map[string]Span `json:"target_interval_90"`
	Notes    []string        `json:"target_notes"`
}

// View turns an Impact into numbers.
func (i Impact) View(hand arrow.Hand, notes []string) TargetView {
	v := TargetView{
		Bare18: float64(i.Bare18.Value), Bare30: float64(i.Bare30.Value), Right70: float64(i.Right70.Value),
		TailGap: float64(i.TailGap.Value), ContactEnd: float64(i.ContactEnd.Value), YawRate: i.YawRate.Value,
		Mode1: i.Mode1, InWindow: i.Window.In, Reason: i.Window.Reason, InShare: i.InShare,
		Speed70: float64(i.Speed70.Value), Drift70: float64(i.Drift70.Value), WalkBack: i.WalkBack,
		Interval: map[string]Span{
			"bare_minus_fletched_18m_right_m": span(i.Bare18), "bare_minus_fletched_30m_right_m": span(i.Bare30),
			"impact_70m_right_m": span(i.Right70), "tail_clearance_m": span(i.TailGap), "button_contact_end_s": span(i.ContactEnd),
			"exit_yaw_rate_radps": span(i.YawRate), "speed_70m_mps": span(i.Speed70), "drift_70m_m_per_mps": span(i.Drift70),
		},
		Notes: append([]string{}, notes...),
	}
	v.BareReads, v.BareReason = i.Tuning(hand)
	return v
}

// PredictTarget says what a set-up shows on the target at its own brace
// height. It takes about 150 ms; ctx stops it. The error names the settings at
// fault; a missing spine is one.
func PredictTarget(ctx context.Context, s notebook.Settings, hand arrow.Hand) (TargetView, error) {
	side, err := SidewaysFromSettings(s, hand)
	if err != nil {
		return TargetView{}, err
	}
	in, err := FromSettings(s)
	if err != nil {
		return TargetView{}, err
	}
	model, err := NewBowModel(ctx, in)
	if err != nil {
		return TargetView{}, understand(err)
	}
	i, err := model.Target(ctx, side, model.Now(), shot.Resolved)
	if err != nil {
		return TargetView{}, understand(err)
	}
	return i.View(hand, side.Assumed), nil
}
