package workbench

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"tautline/notebook"
	"tautline/sound"
	"tautline/trial"
	"tautline/unit"
)

// Heard is one recording with what was found in it, as corrected by hand.
type Heard struct {
	Recording notebook.Recording
	Hearing   sound.Hearing
	Onsets    *notebook.Onsets // the corrections in force and what shots are tied to; nil: none were made
}

// StopRecord is what was recorded at one stop of a plan, or at one visit to it.
type StopRecord struct {
	Stop    int           `json:"stop"` // index into the plan's stops, from 0
	Visit   int           `json:"-"`    // to this stop, from 1; of all visits together their number
	Braces  []unit.Length `json:"brace_heights_m"`
	Turns   *float64      `json:"turns,omitempty"` // noted, counted from the start
	Speeds  []float64     `json:"speeds_mps,omitempty"`
	Feels   []float64     `json:"feels,omitempty"`
	Arrows  int           `json:"arrows,omitempty"`
	Shots   []sound.Shot  `json:"-"`
	Notes   []string      `json:"notes,omitempty"`
	Clipped int           `json:"clipped_shots,omitempty"`
}

// Gather sorts a trial's readings and recordings by stop, all visits to it
// together. Readings that a later one corrects are left out; readings from the
// button are brought to the pivot.
func Gather(p BracePlan, s notebook.Settings, readings []notebook.Reading, heard []Heard) []StopRecord {
	return perStop(p, Visits(p, s, readings, heard))
}

// standing drops every reading that a later one corrects.
func standing(readings []notebook.Reading) []notebook.Reading { return notebook.Standing(readings) }

func (s *StopRecord) take(r notebook.Reading, settings notebook.Settings) {
	switch r.Kind {
	case notebook.ReadBrace:
		height := unit.Length(r.Value)
		if r.Edge == notebook.EdgeButton {
			height -= settings.BraceHeight.ButtonBehind.Value
		}
		s.Braces = append(s.Braces, height)
	case notebook.ReadTurns:
		turns := r.Value
		s.Turns = &turns
	case notebook.ReadSpeed:
		s.Speeds = append(s.Speeds, r.Value)
	case notebook.ReadFeel:
		s.Feels = append(s.Feels, r.Value)
	case notebook.ReadArrows:
		s.Arrows = int(r.Value)
	}
	if r.Note != "" {
		s.Notes = append(s.Notes, r.Note)
	}
}

// StopOf says at which stop a shot was loosed: where it was tied by hand, the
// recording's own stop, or the last tap before the release.
func (h Heard) StopOf(shot sound.Shot) (int, bool) {
	if t, ok := h.Tie(shot); ok && t.Stop != nil {
		return *t.Stop, true
	}
	r := h.Recording
	if r.Stop != nil {
		return *r.Stop, true
	}
	at, found := 0, false
	for _, tap := range slices.SortedFunc(slices.Values(r.Taps), func(a, b notebook.Tap) int { return cmp.Compare(a.At, b.At) }) {
		if tap.At <= float64(shot.Release) {
			at, found = tap.Stop, true
		}
	}
	return at, found
}

// tieWithin is how near a tie lies to the shot it means, s: shots are further
// apart, and moving an onset does not lose its tie.
const tieWithin = 0.15

// Tie gives what a shot was said to belong to.
func (h Heard) Tie(shot sound.Shot) (notebook.Tie, bool) {
	var best notebook.Tie
	gap := tieWithin
	if h.Onsets == nil {
		return best, false
	}
	for _, t := range h.Onsets.Ties {
		if d := math.Abs(t.Release - float64(shot.Release)); d <= gap {
			best, gap = t, d
		}
	}
	return best, gap < tieWithin
}

// settling says how many of the first shots of a visit were shot to let the
// string settle: what exceeds the arrows noted, or planned. Nobody planned the
// arrows of a second visit, so that without a note it begins as any does, but
// for one arrow that counts.
func (s StopRecord) settling(plan trial.PlannedStop) int {
	counted := s.Arrows
	if counted == 0 && s.Visit > 1 {
		counted = 1
	}
	if counted == 0 {
		counted = plan.Arrows
	}
	return min(max(0, len(s.Shots)-counted), plan.Settling)
}

// visit turns a record into what package trial judges. Levels are brought to
// the mean of the session by the caller.
func (s StopRecord) visit(plan trial.PlannedStop) trial.BraceVisit {
	v := trial.BraceVisit{Stop: plan.Index, Braces: s.Braces}
	settling := s.settling(plan)
	for i, shot := range s.Shots {
		b := trial.BraceShot{Settling: i < settling, Values: map[trial.Measure]float64{}}
		if shot.Exposure.OK && shot.Clipped == 0 {
			b.Values[trial.Level] = shot.Exposure.Value
		}
		if shot.Late.OK {
			b.Values[trial.LateEnergy] = shot.Late.Value
		}
		if shot.Rise.OK {
			b.Values[trial.Attack] = 1e3 * shot.Rise.Value
		}
		v.Shots = append(v.Shots, b)
	}
	counted := settling
	attach := func(m trial.Measure, values []float64) {
		for i, x := range values {
			if at := counted + i; at < len(v.Shots) {
				v.Shots[at].Values[m] = x
			} else {
				v.Shots = append(v.Shots, trial.BraceShot{Values: map[trial.Measure]float64{m: x}})
			}
		}
	}
	// a speed or a feeling belongs to an arrow that was heard, if any was:
	// which one does not matter, since each measure is judged by itself
	attach(trial.Speed, s.Speeds)
	attach(trial.Feel, s.Feels)
	return v
}

// BraceVerdict is a trial's answer with what stands behind it.
type BraceVerdict struct {
	trial.BraceVerdict
	Records []StopRecord `json:"records"`
	// Model is the forecast at the measured brace heights, in the order of
	// Records that have one.
	Model []Prediction `json:"model"`
	// Costs says for each of these heights what choosing it changes.
	Costs []Cost `json:"costs"`
	// Inputs is the SHA-256 of everything the verdict was computed from.
	Inputs string `json:"inputs"`
}

// Cost is what choosing a brace height changes against the present one.
type Cost struct {
	Stop        int         `json:"stop"` // index into the plan's stops
	BraceHeight unit.Length `json:"brace_height_m"`
	Turns       float64     `json:"turns_from_now"`
	Change      ChangeView  `json:"change"`
	// Stale says in words which results would have to be shot again.
	Stale []string `json:"stale"`
}

// JudgeBrace gives the verdict on what has been recorded so far. Few readings
// are no error: the verdict then says what they cannot tell.
func JudgeBrace(ctx context.Context, s notebook.Settings, p BracePlan, readings []notebook.Reading, heard []Heard) (BraceVerdict, error) {
	visits := Visits(p, s, readings, heard)
	asked := trial.BraceReadings{Seed: seed, Visits: toJudge(p, visits)}
	if p.Plan.Order == trial.ABBA {
		asked.Order = p.Plan.Order
	}
	relative(asked.Visits)
	answer, err := trial.DecideBrace(asked)
	if err != nil {
		return BraceVerdict{}, understand(err)
	}
	out := BraceVerdict{BraceVerdict: answer, Records: perStop(p, visits)}
	if out.Inputs, err = hashOf(s, p, readings, asked); err != nil {
		return BraceVerdict{}, err
	}
	out.Warnings = append(out.Warnings, soundWarnings(heard)...)
	return out, out.weigh(ctx, s, p)
}

// relative takes the session's mean from every level, since a phone's levels
// have no other zero.
func relative(visits []trial.BraceVisit) {
	for _, m := range []trial.Measure{trial.Level, trial.LateEnergy} {
		sum, n := 0.0, 0
		for _, v := range visits {
			for _, s := range v.Shots {
				if x, ok := s.Values[m]; ok && !s.Settling {
					sum, n = sum+x, n+1
				}
			}
		}
		for _, v := range visits {
			for _, s := range v.Shots {
				if x, ok := s.Values[m]; ok && n > 0 {
					s.Values[m] = x - sum/float64(n)
				}
			}
		}
	}
}

// weigh adds the model's view of the measured heights and what each would
// cost.
func (v *BraceVerdict) weigh(ctx context.Context, s notebook.Settings, p BracePlan) error {
	heights := []unit.Length{unit.Length(p.Now)}
	var at []StopRecord
	for _, r := range v.Records {
		if h, ok := r.height(); ok {
			heights, at = append(heights, h), append(at, r)
		}
	}
	in, err := FromSettings(s)
	if err != nil {
		return err
	}
	model, err := NewBowModel(ctx, in)
	if err != nil {
		return understand(err)
	}
	sweep, err := model.Sweep(ctx, heights, unit.Length(p.Now), nil)
	if err != nil {
		return understand(err)
	}
	for i, r := range at {
		v.Model = append(v.Model, view(sweep.Stops[i+1], nil))
		v.Costs = append(v.Costs, Cost{
			Stop: r.Stop, BraceHeight: heights[i+1], Turns: p.Plan.Stops[r.Stop].FromNow,
			Change: viewChange(sweep.Changes[i+1]), Stale: stale(heights[i+1]-heights[0], sweep.Changes[i+1]),
		})
	}
	return nil
}

// height is the mean of a stop's readings.
func (s StopRecord) height() (unit.Length, bool) {
	if len(s.Braces) == 0 {
		return 0, false
	}
	var sum unit.Length
	for _, b := range s.Braces {
		sum += b
	}
	return sum / unit.Length(len(s.Braces)), true
}

// readable is the smallest move of the brace height that a square shows twice
// running (common practice, no source).
const readable unit.Length = 0.001

// stale says which earlier results a change of brace height spoils, by how
// much where the model can tell. The arrow's way out is not in it yet.
func stale(moved unit.Length, c Change) []string {
	if abs(moved) < readable {
		return []string{"nothing: the change is smaller than a square shows"}
	}
	return []string{
		fmt.Sprintf("sight marks: the arrow leaves %s (%s to %s)", told(c.Speed.Value, 1, "m/s", "faster", "slower"), signed(float64(c.Speed.Low), "m/s"), signed(float64(c.Speed.High), "m/s")),
		fmt.Sprintf("nocking point: the string is made %s, so read it again with the square", told(c.StringLength.Value, 1e3, "mm", "longer", "shorter")),
		"bare shaft and button: shoot three bare shafts again",
		"tiller: read it again",
	}
}

// told gives a change in words: "0.5 m/s slower".
func told[T ~float64](x T, scale float64, unit, more, less string) string {
	word := more
	if x < 0 {
		word = less
	}
	return fmt.Sprintf("%.1f %s %s", math.Abs(scale*float64(x)), unit, word)
}

func signed(x float64, unit string) string {
	return fmt.Sprintf("%+.1f %s", x, unit)
}

// soundWarnings tells what keeps recordings from being compared.
func soundWarnings(heard []Heard) (out []string) {
	said := map[string]int{}
	for _, h := range heard {
		for _, w := range h.Hearing.Warnings {
			if said[w]++; said[w] == 1 {
				out = append(out, w)
			}
		}
	}
	for i, w := range out {
		if n := said[w]; len(heard) > 1 {
			out[i] = fmt.Sprintf("%d of %d recordings: %s", n, len(heard), w)
		}
	}
	for i := 1; i < len(heard); i++ {
		a, b := heard[0].conditions(), heard[i].conditions()
		for _, w := range a.Compare(b) {
			out = append(out, fmt.Sprintf("%s and %s: %s", heard[0].Recording.Name, heard[i].Recording.Name, w))
		}
	}
	return out
}

// conditions are what must be alike for levels to be compared.
func (h Heard) conditions() sound.Conditions {
	return sound.Conditions{
		Device: h.Recording.Phone, Place: h.Recording.Place, Position: h.Recording.Where, AutoGain: h.Recording.Treated,
		BaleDistance: h.Recording.ToBale.Value, SampleRate: h.Hearing.SampleRate, Format: h.Hearing.Format,
	}
}

// hashOf is the fingerprint of a verdict's inputs.
func hashOf(parts ...any) (string, error) {
	sum := sha256.New()
	enc := json.NewEncoder(sum)
	for _, p := range parts {
		if err := enc.Encode(p); err != nil {
			return "", fmt.Errorf("workbench: %w", err)
		}
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// Choose makes the settings that follow from choosing a stop: its measured
// brace height, the turns added, and the string as much shorter or longer as
// the model says.
func Choose(s notebook.Settings, v BraceVerdict, stop int) (notebook.Settings, string, error) {
	for _, c := range v.Costs {
		if c.Stop != stop {
			continue
		}
		next := s
		next.BraceHeight.Value = notebook.Length{Typed: unit.Said(tenth(c.BraceHeight), unit.MM)}
		next.BraceHeight.From = notebook.EdgePivot
		if s.String.Twists != nil {
			turns := *s.String.Twists + c.Turns
			next.String.Twists = &turns
		}
		if !s.String.Length.IsZero() {
			moved := s.String.Length.Value + unit.Length(c.Change.StringLength)
			next.String.Length = notebook.Length{Typed: unit.Said(tenth(moved), unit.MM)}
		}
		next = notebook.Carry(s, next)
		return next, fmt.Sprintf("Chosen in the brace-height trial: %s", v.Text), nil
	}
	return s, "", &notebook.Error{Code: notebook.NotFound, Field: "/stop", Message: "no brace height was measured at this stop", Hint: "choose a stop that was measured"}
}

// tenth rounds to a tenth of a millimetre, below what any square shows.
func tenth(l unit.Length) unit.Length {
	return unit.Length(math.Round(float64(l)*1e4) / 1e4)
}
