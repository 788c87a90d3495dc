package workbench

import (
	"context"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// UprightView is an Upright as numbers whose names end in their unit: the keys
// that predict --json adds for the vertical plane. Null where the plane is
// withheld.
type UprightView struct {
	Bare18        *float64 `json:"bare_minus_fletched_18m_up_m"`
	Bare30        *float64 `json:"bare_minus_fletched_30m_up_m"`
	StaticTravel  *float64 `json:"nock_travel_static_m"`
	DynamicTravel *float64 `json:"nock_travel_dynamic_m"`
	NockSpeed     *float64 `json:"nock_exit_up_mps"`
	RestContact   *float64 `json:"rest_contact_end_s"`
	TailGap       *float64 `json:"tail_gap_rest_m"`
	LowerFirst    *float64 `json:"lower_limb_first_s"`
	PitchRate     *float64 `json:"exit_pitch_rate_radps"`
	PerMM18       *float64 `json:"bare_18m_up_per_nock_mm_m"`
	PerMM30       *float64 `json:"bare_30m_up_per_nock_mm_m"`
	// InWindow says whether the bare shaft's height tells which way to move the
	// nocking point.
	InWindow bool   `json:"vertical_in_window"`
	Reason   string `json:"vertical_window_reason"`
	// InShare is the share of plausible set-ups in the window.
	InShare  float64         `json:"vertical_window_share_ratio"`
	Interval map[string]Span `json:"vertical_interval_90"`
	Notes    []string        `json:"vertical_notes"`
}

// View turns an Upright into numbers.
func (u Upright) View(v Vertical) UprightView {
	out := UprightView{InWindow: u.In, Reason: u.Reason, InShare: u.InShare, Notes: append([]string{}, v.Assumed...), Interval: map[string]Span{}}
	if v.Withheld != "" {
		return out
	}
	show := func(at **float64, key string, value float64, s Span) {
		*at = &value
		out.Interval[key] = s
	}
	show(&out.Bare18, "bare_minus_fletched_18m_up_m", float64(u.Bare18.Value), span(u.Bare18))
	show(&out.Bare30, "bare_minus_fletched_30m_up_m", float64(u.Bare30.Value), span(u.Bare30))
	show(&out.StaticTravel, "nock_travel_static_m", float64(u.StaticTravel.Value), span(u.StaticTravel))
	show(&out.DynamicTravel, "nock_travel_dynamic_m", float64(u.DynamicTravel.Value), span(u.DynamicTravel))
	show(&out.NockSpeed, "nock_exit_up_mps", float64(u.NockSpeed.Value), span(u.NockSpeed))
	show(&out.RestContact, "rest_contact_end_s", float64(u.RestContact.Value), span(u.RestContact))
	show(&out.TailGap, "tail_gap_rest_m", float64(u.TailGap.Value), span(u.TailGap))
	show(&out.LowerFirst, "lower_limb_first_s", float64(u.LowerFirst.Value), span(u.LowerFirst))
	show(&out.PitchRate, "exit_pitch_rate_radps", u.PitchRate.Value, span(u.PitchRate))
	show(&out.PerMM18, "bare_18m_up_per_nock_mm_m", float64(u.PerMM18.Value), span(u.PerMM18))
	show(&out.PerMM30, "bare_30m_up_per_nock_mm_m", float64(u.PerMM30.Value), span(u.PerMM30))
	return out
}

// PredictUpright says what a set-up shows up and down at its own brace height.
// It takes about 200 ms; ctx stops it. The error names the settings at fault.
func PredictUpright(ctx context.Context, s notebook.Settings, hand arrow.Hand) (UprightView, error) {
	u, v, err := LookUpright(ctx, s, hand)
	return u.View(v), err
}

// LookUpright is PredictUpright as estimates, with what it assumed; where
// Vertical.Withheld says why, only the reason is filled.
func LookUpright(ctx context.Context, s notebook.Settings, hand arrow.Hand) (Upright, Vertical, error) {
	q, err := newUprightQuestion(ctx, s, hand)
	if err != nil {
		return Upright{}, q.v, err
	}
	if q.v.Withheld != "" {
		return Upright{Reason: q.v.Withheld}, q.v, nil
	}
	u, err := q.model.Upright(ctx, q.side, q.v, q.model.Now())
	return u, q.v, understand(err)
}

// uprightQuestion is a set-up made ready for the vertical plane.
type uprightQuestion struct {
	settings notebook.Settings
	side     Sideways
	v        Vertical
	model    *BowModel
}

func newUprightQuestion(ctx context.Context, s notebook.Settings, hand arrow.Hand) (q uprightQuestion, err error) {
	q.settings = s
	if q.side, err = SidewaysFromSettings(s, hand); err != nil {
		return q, err
	}
	in, err := FromSettings(s)
	if err != nil {
		return q, err
	}
	if q.model, err = NewBowModel(ctx, in); err != nil {
		return q, understand(err)
	}
	q.v = VerticalFromSettings(s, unit.Length(q.side.Arrow.Diameter))
	return q, nil
}

// HeightMoves says what each of UprightMoves does on a set-up; none where the
// fingers walk the string.
func HeightMoves(ctx context.Context, s notebook.Settings, hand arrow.Hand) ([]Sensitivity, error) {
	q, err := newUprightQuestion(ctx, s, hand)
	if err != nil || q.v.Withheld != "" {
		return nil, err
	}
	out, err := q.model.Sensitivities(ctx, q.side, q.v, q.model.Now())
	return out, understand(err)
}
