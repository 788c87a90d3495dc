package workbench

import (
	"context"
	"errors"
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/shot"
	"tautline/unit"
)

// ForgiveRow is the spread at 70 m at one brace height, button setting or
// spine, with nothing else changed.
type ForgiveRow struct {
	BraceHeight float64 `json:"brace_height_m"`
	// Turns are added to the present button setting; Preload is what that makes
	// of the assumed spring. Null but for OverButton.
	Turns   *float64 `json:"button_turns_added,omitempty"`
	Preload *float64 `json:"button_preload_n,omitempty"`
	// Spine and Mass are the arrow's; null but for OverArrow.
	Spine *float64 `json:"spine_thousandths,omitempty"`
	Mass  *float64 `json:"arrow_mass_kg,omitempty"`
	// Sideways is the standard deviation at the target, sideways, with the
	// resolved string; Lumped the same with the other model of the string.
	Sideways float64 `json:"sigma_horizontal_m"`
	Lumped   float64 `json:"sigma_horizontal_lumped_string_m"`
	// Interval holds Sideways of 90 % of the plausible bows, buttons, releases
	// and limb tips, for the assumed repeatability.
	Interval Span `json:"sigma_horizontal_interval_90_m"`
	// Vertical is the standard deviation in height, null for the reason given.
	Vertical       *float64 `json:"sigma_vertical_m"`
	VerticalReason string   `json:"sigma_vertical_reason"`
	// BySource adds up in squares to Sideways, BySourceUp to Vertical.
	BySource   map[string]float64 `json:"by_source"`
	BySourceUp map[string]float64 `json:"by_source_vertical"`
	// InWindow says whether a bare shaft could be read there, Reason why not.
	InWindow bool   `json:"in_window"`
	Reason   string `json:"window_reason"`
}

// laneAt is a bow at a stand.
func (b *BowModel) laneAt(m member, st forgiveStand, model shot.Model, set arrow.Setup, side *Sideways) (*lane, error) {
	return b.newLane(m, st.brace, model, st.arrow, st.set(set), side)
}

// spreadOf is J·σ of a bow at a stand.
func (b *BowModel) spreadOf(m member, st forgiveStand, model shot.Model, set arrow.Setup, side *Sideways, sd Repeatability) ([sources]float64, *lane, error) {
	l, err := b.laneAt(m, st, model, set, side)
	if err != nil {
		return [sources]float64{}, nil, err
	}
	effects, err := l.effects(sd)
	return effects, l, err
}

// rowOf is one stand of the middle bow with one model of the string.
type rowOf struct {
	effects [sources]float64
	window  arrow.Window
	err     error
}

// forgiveRows is the middle bow at every stand, both string models. Arrows that
// the bow's thrust breaks down are left out and named in notes.
func (b *BowModel) forgiveRows(ctx context.Context, stands []forgiveStand, side *Sideways, q ForgiveQuestion) (rows []ForgiveRow, keep []forgiveStand, notes []string, err error) {
	n := len(stands)
	all := make([]rowOf, 2*n)
	err = each(ctx, 2*n, func(i int) {
		r := &all[i]
		var l *lane
		if r.effects, l, r.err = b.spreadOf(b.members[0], stands[i/2], stringModels[i%2], side.Setup, side, q.Repeat); r.err != nil || i%2 > 0 {
			return
		}
		j, err := l.sim.Judge(l.arrow, l.drive, l.set)
		r.window, r.err = j.Window, err
	})
	if err != nil {
		return nil, nil, nil, err
	}
	for i, st := range stands {
		err := errors.Join(all[2*i].err, all[2*i+1].err)
		var soft *arrow.CollapseError
		if errors.As(err, &soft) && q.Over == OverArrow {
			notes = append(notes, fmt.Sprintf("Spine %s is left out: %v.", st.at(q.Over), soft))
			continue
		}
		if err != nil {
			return nil, nil, nil, fmt.Errorf("at %s: %w", st.at(q.Over), err)
		}
		rows, keep = append(rows, st.row(q.Over, all[2*i], all[2*i+1], side)), append(keep, st)
	}
	return rows, keep, notes, nil
}

// row puts a stand into numbers.
func (st forgiveStand) row(o Over, resolved, lumped rowOf, side *Sideways) ForgiveRow {
	row := ForgiveRow{
		BraceHeight: float64(st.brace), Sideways: total(resolved.effects, 0), Lumped: total(lumped.effects, 0),
		BySource: map[string]float64{}, InWindow: resolved.window.In, Reason: resolved.window.Reason,
	}
	row.Interval = Span{row.Sideways, row.Sideways}
	for s, e := range resolved.effects {
		row.BySource[sourceKeys[s]] = math.Abs(e)
	}
	switch o {
	case OverButton:
		turns, preload := st.turns, float64(st.set(side.Setup).Button.Preload)
		row.Turns, row.Preload = &turns, &preload
	case OverArrow:
		spine, mass := st.arrow.Design().Spine.Thousandths(), float64(st.arrow.Design().Mass())
		row.Spine, row.Mass = &spine, &mass
	}
	return row
}

// forgiveSpans gives each row the span of the plausible set-ups, with the
// resolved string.
func (b *BowModel) forgiveSpans(ctx context.Context, rows []ForgiveRow, stands []forgiveStand, side *Sideways, q ForgiveQuestion) error {
	n := min(forgiveDraws, len(b.members)-1)
	unknown := draws(n+1, side.CentreKnown)
	all, failed := make([]float64, n*len(stands)), make([]bool, n*len(stands))
	err := each(ctx, len(all), func(k int) {
		i, j := k/n, 1+k%n
		effects, _, err := b.spreadOf(b.members[j], stands[i], shot.Resolved, unknown[j].apply(side.Setup), side, q.Repeat)
		all[k], failed[k] = total(effects, 0), err != nil
	})
	if err != nil {
		return err
	}
	for i := range rows {
		var good []float64
		for k := i * n; k < (i+1)*n; k++ {
			if !failed[k] {
				good = append(good, all[k])
			}
		}
		rows[i].Interval = span(estimate(unit.Length(rows[i].Sideways), good))
	}
	return nil
}
