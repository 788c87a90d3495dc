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
	far, near, quick := units.ImpactStyle(), finer(units.SettingStyle()), units.DurationStyle()
	b.WriteString("Up and down, up positive (changes can be trusted, heights must be calibrated):\n")
	b.WriteString(moved("bare minus fletched at 18 m", *u.Bare18, u.Interval["bare_minus_fletched_18m_up_m"], far))
	b.WriteString(moved("bare minus fletched at 30 m", *u.Bare30, u.Interval["bare_minus_fletched_30m_up_m"], far))
	b.WriteString(moved("nocking point 1 mm higher, 30 m", *u.PerMM30, u.Interval["bare_30m_up_per_nock_mm_m"], far))
	b.WriteString(moved("nock rises, brace to full draw", *u.StaticTravel, u.Interval["nock_travel_static_m"], near))
	b.WriteString(spanned("nock moves during the shot", *u.DynamicTravel, u.Interval["nock_travel_dynamic_m"], near))
	b.WriteString(spanned("last touch of the rest", *u.RestContact, u.Interval["rest_contact_end_s"], quick))
	b.WriteString(spanned("tail passes the rest by", *u.TailGap, u.Interval["tail_gap_rest_m"], near))
	b.WriteString(moved("lower limb arrives earlier by", *u.LowerFirst, u.Interval["lower_limb_first_s"], quick))
	if u.InWindow {
		fmt.Fprintf(&b, "  the bare shaft's height can be read here (%.0f %% of the plausible set-ups)\n", 100*u.InShare)
	} else {
		fmt.Fprintf(&b, "  the bare shaft's height cannot be read here: %s\n", u.Reason)
	}
	return b.String()
}
