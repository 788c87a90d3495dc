package cli

import (
	"context"
	"fmt"
	"strings"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/workbench"
)

// upDown adds the vertical plane to a forecast, or why it cannot.
type upDown struct {
	*workbench.UprightView
	VerticalUnavailable string `json:"vertical_unavailable,omitempty"`
}

// upright predicts the vertical plane; what is missing for it is said, not
// refused.
func upright(ctx context.Context, s notebook.Settings, hand arrow.Hand) (upDown, error) {
	view, err := workbench.PredictUpright(ctx, s, hand)
	if notebook.CodeOf(err) == notebook.Invalid {
		return upDown{VerticalUnavailable: err.Error()}, nil
	}
	if err != nil {
		return upDown{}, err
	}
	return upDown{UprightView: &view}, nil
}

// text tells it in centimetres on the target.
func (u upDown) text() string {
	if u.UprightView == nil {
		return "Up and down: nothing to say: " + u.VerticalUnavailable + "\n"
	}
	if u.Bare30 == nil {
		return "Up and down: withheld: " + u.Reason + ".\n"
	}
	var b strings.Builder
	row := func(name string, x *float64, key, unit string, scale float64, sign string) {
		s := u.Interval[key]
		f := "  %-32s %" + sign + "8.1f %-4s  %" + sign + ".1f … %" + sign + ".1f\n"
		fmt.Fprintf(&b, f, name, scale**x, unit, scale*s[0], scale*s[1])
	}
	b.WriteString("Up and down, up positive (changes can be trusted, heights must be calibrated):\n")
	row("bare minus fletched at 18 m", u.Bare18, "bare_minus_fletched_18m_up_m", "cm", 100, "+")
	row("bare minus fletched at 30 m", u.Bare30, "bare_minus_fletched_30m_up_m", "cm", 100, "+")
	row("nocking point 1 mm higher, 30 m", u.PerMM30, "bare_30m_up_per_nock_mm_m", "cm", 100, "+")
	row("nock rises, brace to full draw", u.StaticTravel, "nock_travel_static_m", "mm", 1000, "+")
	row("nock moves during the shot", u.DynamicTravel, "nock_travel_dynamic_m", "mm", 1000, "")
	row("last touch of the rest", u.RestContact, "rest_contact_end_s", "ms", 1000, "")
	row("tail passes the rest by", u.TailGap, "tail_gap_rest_m", "mm", 1000, "")
	row("lower limb arrives earlier by", u.LowerFirst, "lower_limb_first_s", "ms", 1000, "+")
	if u.InWindow {
		fmt.Fprintf(&b, "  the bare shaft's height can be read here (%.0f %% of the plausible set-ups)\n", 100*u.InShare)
	} else {
		fmt.Fprintf(&b, "  the bare shaft's height cannot be read here: %s\n", u.Reason)
	}
	return b.String()
}
