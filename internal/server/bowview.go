package server

import (
	"context"
	"fmt"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// bowView is a bow with where it stands.
type bowView struct {
	Bow         notebook.Bow      `json:"bow"`
	Tag         string            `json:"tag" doc:"The bow's ETag, for clients that keep the answer: send it in If-Match to change its name or notes." example:"\"2-9f51c0de9f51c0de\""`
	SetUp       *setUpView        `json:"setup,omitempty" doc:"The current set-up; absent before the first."`
	SetUps      int               `json:"setups" doc:"How many set-ups it has had."`
	Fork        *forkView         `json:"fork,omitempty" doc:"Where two people changed the same set-up without knowing of each other; absent when nobody has to choose. A PUT of a set-up with parent the one side and settles the others ends it; retracting that set-up opens it again."`
	Brace       braceState        `json:"brace" doc:"Brace height against the limb maker's range."`
	LastSession *notebook.Session `json:"last_session,omitempty"`
	LastShot    time.Time         `json:"last_reading_at,omitzero" doc:"When something was last measured on this set-up."`
	OpenTrial   *trialBrief       `json:"open_trial,omitempty" doc:"A trial that waits to be gone on with."`
	LastTrial   *trialBrief       `json:"last_trial,omitempty"`
	Next        nextStep          `json:"next" doc:"The next thing to do."`
	Hand        notebook.Hand     `json:"hand" enum:"right,left" doc:"The hand that the bow's archer draws with: stiff and weak, in and out are said for it, whoever reads."`
	Archer      string            `json:"archer,omitempty" doc:"Whose bow it is, by name; absent of a demo bow, and where the notebook does not know its archer any more." example:"Ann"`
	Demo        bool              `json:"demo,omitempty" doc:"The bow and all that belongs to it is invented."`
}

// nextStep is the next thing to do with a bow.
type nextStep struct {
	Code string `json:"code" example:"plan-trial" doc:"add-bow, enter-settings, enter-range, measure-brace, leave-range, go-on, read-verdict, plan-trial or check-brace."`
	Text string `json:"text" example:"Plan a brace-height trial: from one end of the limb's range to the other."`
}

// trialBrief is a trial in a line.
type trialBrief struct {
	ID    notebook.ID    `json:"id"`
	What  string         `json:"what" example:"brace height"`
	State notebook.Event `json:"state" doc:"begun, reached, paused, finished or abandoned." example:"reached"`
	Stop  *int           `json:"stop,omitempty" doc:"Position in the plan of the stop reached, from 0."`
	Stops int            `json:"stops" doc:"Stops planned."`
	At    time.Time      `json:"at" doc:"When it began."`
}

// braceState compares the brace height with the limb maker's range.
type braceState struct {
	State    string `json:"state" enum:"inside,below,above,no-range,no-reading" doc:"Inside the limb maker's range, corrected for the riser?"`
	Text     string `json:"text" example:"220 mm: inside the limb maker's 210 to 230 mm."`
	Pivot    *Shown `json:"pivot,omitempty" doc:"Brace height to the grip's pivot."`
	Measured bool   `json:"measured,omitempty" doc:"From the last reading on this set-up, not from the set-up as entered."`
	Compared *Shown `json:"compared,omitempty" doc:"The same plus the riser's offset: what the maker's range is about."`
	Low      *Shown `json:"low,omitempty" doc:"Lower end of the range as this riser's square reads it."`
	High     *Shown `json:"high,omitempty" doc:"Upper end of the range as this riser's square reads it."`
}

// viewBow gathers where a bow stands.
func (s *server) viewBow(ctx context.Context, bow notebook.Bow) (bowView, error) {
	v := bowView{Bow: bow, Tag: tagOf(bow), Demo: s.invented(bow.ID)}
	me, err := s.me(ctx)
	if err != nil {
		return v, err
	}
	system := systemOf(me)
	archer, err := s.maker().Archer(ctx, me.ID, bow)
	if err != nil {
		return v, err
	}
	v.Hand, v.Archer = archer.Hand, archer.Name
	setups, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: bow.ID})
	if err != nil {
		return v, err
	}
	var read lastRead
	if v.SetUps = len(setups); v.SetUps > 0 {
		current := viewSetUp(setups[len(setups)-1], system)
		v.SetUp = &current
		if read, err = s.lastReadOn(ctx, current.SetUp); err != nil {
			return v, err
		}
	}
	if v.Fork, err = s.forkOf(ctx, bow.ID, setups); err != nil {
		return v, err
	}
	v.LastShot = read.at
	v.Brace = braceOf(v.SetUp, read.brace, system)
	if err := s.addTrials(ctx, &v); err != nil {
		return v, err
	}
	v.Next = v.nextStep()
	return v, nil
}

// addTrials adds the last session and the trials.
func (s *server) addTrials(ctx context.Context, v *bowView) error {
	me, err := s.me(ctx)
	if err != nil {
		return err
	}
	sessions, err := s.Notebook.Sessions().List(ctx, me.ID, notebook.Query{Bow: v.Bow.ID, Newest: true, Limit: 1})
	if err != nil {
		return err
	}
	if len(sessions.Rows) > 0 {
		v.LastSession = &sessions.Rows[0]
	}
	trials, err := all(ctx, s, s.Notebook.Trials(), notebook.Query{Bow: v.Bow.ID})
	if err != nil {
		return err
	}
	for _, t := range trials {
		brief, err := s.briefTrial(ctx, t)
		if err != nil {
			return err
		}
		v.LastTrial, v.OpenTrial = &brief, nil
		if brief.open() {
			v.OpenTrial = &brief
		}
	}
	return nil
}

// open reports whether a trial waits to be gone on with.
func (t trialBrief) open() bool {
	return t.State != notebook.Finished && t.State != notebook.Abandoned
}

// braceOf compares the latest brace height on the set-up with the range.
func braceOf(current *setUpView, last *notebook.Reading, system unit.System) braceState {
	if current == nil {
		return braceState{State: "no-reading", Text: "No set-up yet."}
	}
	settings := current.SetUp.Settings
	show := func(l unit.Length) *Shown {
		return &Shown{float64(l), "m", system.SettingStyle().Print(l)}
	}
	var out braceState
	offset := settings.Riser.Offset.Value
	low, high := settings.Limbs.RangeLow.Value-offset, settings.Limbs.RangeHigh.Value-offset
	hasRange := !settings.Limbs.RangeLow.IsZero() && !settings.Limbs.RangeHigh.IsZero()
	if hasRange {
		out.Low, out.High = show(low), show(high)
	}
	height, ok := settings.BraceHeight.ToPivot()
	if last != nil {
		height, ok, out.Measured = toPivot(*last, settings), true, true
	}
	if !ok {
		out.State, out.Text = "no-reading", "The brace height was not measured yet."
		return out
	}
	out.Pivot, out.Compared = show(height), show(height+offset)
	out.judge(height, low, high, hasRange, system)
	return out
}

// judge puts the comparison into words.
func (b *braceState) judge(height, low, high unit.Length, hasRange bool, system unit.System) {
	if !hasRange {
		b.State, b.Text = "no-range", b.Pivot.Text+"; the limb maker's range is not entered."
		return
	}
	// A square resolves 1 mm; half of it does not make a reading fall outside.
	const reads = 0.0005
	span := system.SettingStyle().Range(low, high)
	switch {
	case height < low-reads:
		b.State, b.Text = "below", fmt.Sprintf("%s: below the limb maker's %s as this riser reads.", b.Pivot.Text, span)
	case height > high+reads:
		b.State, b.Text = "above", fmt.Sprintf("%s: above the limb maker's %s as this riser reads.", b.Pivot.Text, span)
	default:
		b.State, b.Text = "inside", fmt.Sprintf("%s: inside the limb maker's %s as this riser reads.", b.Pivot.Text, span)
	}
}

// toPivot brings a brace height to the pivot.
func toPivot(r notebook.Reading, settings notebook.Settings) unit.Length {
	height := unit.Length(r.Value)
	if r.Edge == notebook.EdgeButton {
		height -= settings.BraceHeight.ButtonBehind.Value
	}
	return height
}

// nextStep says what to do next; the order is the job's own.
func (v bowView) nextStep() nextStep {
	switch {
	case v.SetUp == nil:
		return nextStep{"enter-settings", "Enter the bow's settings: draw length and draw weight first."}
	case v.OpenTrial != nil:
		return nextStep{"go-on", "Go on with the " + v.OpenTrial.What + " trial where you left it."}
	case v.Brace.State == "no-range":
		return nextStep{"enter-range", "Enter the brace-height range that the limb maker gives."}
	case v.Brace.State == "no-reading":
		return nextStep{"measure-brace", "Shoot five arrows, then measure the brace height from the grip's deepest point."}
	case v.Brace.State != "inside":
		return nextStep{"leave-range", "Bring the brace height inside the limb maker's range before anything else."}
	case v.LastTrial == nil || v.LastTrial.State == notebook.Abandoned:
		return nextStep{"plan-trial", "Plan a brace-height trial: from one end of the limb's range to the other."}
	case v.LastTrial.At.After(v.SetUp.SetUp.At):
		return nextStep{"read-verdict", "Read the verdict of the " + v.LastTrial.What + " trial and choose a set-up."}
	}
	return nextStep{"check-brace", "Check the brace height from time to time: strings creep."}
}
