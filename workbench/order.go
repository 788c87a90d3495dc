package workbench

import (
	"fmt"
	"slices"
	"strings"

	"tautline/notebook"
)

// WorkStep is one step of the job of setting up a bow, with how its latest
// result stands.
type WorkStep struct {
	Key   string // build, arrow, rough, brace, bare, walkback, groups, marks, keep
	Label string
	// State is todo, noted (entered, with no interval of its own), fresh,
	// drifted or stale.
	State  string
	Text   string       // why it stands so
	After  []string     // steps whose move spoils this one
	Result *notebook.ID // what it rests on, if a record
	Do     string       // what to do about it, "" for nothing
}

// States of a step that no result gives.
const (
	StepToDo  = "todo"
	StepNoted = "noted"
)

// Work is the order of work on one bow and where it now stands.
type Work struct {
	Steps []WorkStep
	// Now is the first step, in order, that is not in order; "" when all are.
	Now  string
	Next string // what to do there, in a sentence
}

// OrderOfWork puts a bow's standings in the order in which a bow is set up. An
// earlier setting moved later may spoil the later results; by how much is
// computed in the standings, the order only says what to look at first.
func OrderOfWork(b BowRecords, standings []Standing) Work {
	var w Work
	if len(b.SetUps) == 0 {
		return w
	}
	s := b.SetUps[len(b.SetUps)-1].Settings
	w.Steps = []WorkStep{
		buildStep(b, s), arrowStep(s), roughStep(s),
		resultStep("brace", "Brace height", "Plan a brace-height trial and choose from its verdict.", []string{"build", "arrow"}, latest(standings, func(st Standing) bool { return st.Result.By == "brace_height.value" })),
		resultStep("bare", "Bare shaft", "Shoot three bare shafts beside three fletched arrows at 18 to 30 m.", []string{"brace", "arrow", "rough"}, latest(standings, bareDecided)),
		resultStep("walkback", "Walk-back", "Shoot a walk-back: one aim, many distances.", []string{"bare"}, latest(standings, func(st Standing) bool { return strings.Contains(st.Result.Label, "walk-back") })),
		resultStep("groups", "Fine tuning by groups", "Shoot groups at your longest distance.", []string{"bare", "walkback"}, latest(standings, func(st Standing) bool { return st.Result.Of.Kind == OfRight && st.Result.Of.Distance >= 30 })),
		resultStep("marks", "Sight marks", "Note a sight mark at two distances or more.", []string{"brace", "groups"}, latest(standings, func(st Standing) bool { return st.Result.PerQuantity != 0 })),
		keepStep(b),
	}
	for i := range w.Steps {
		w.Steps[i].underWay(b)
	}
	for _, step := range w.Steps {
		if step.Do != "" && w.Now == "" {
			w.Now, w.Next = step.Key, step.Do
		}
	}
	if w.Now == "" {
		w.Next = "Everything stands. Check brace height, nocking point and tiller from time to time: strings creep."
	}
	return w
}

func bareDecided(st Standing) bool {
	r := st.Result
	return r.Of.Kind == OfBare || r.By == "button.turns" || r.By == "centre_shot"
}

// latest is the newest standing that fits.
func latest(all []Standing, fits func(Standing) bool) *Standing {
	for i := range slices.Backward(all) {
		if fits(all[i]) {
			return &all[i]
		}
	}
	return nil
}

func buildStep(b BowRecords, s notebook.Settings) WorkStep {
	step := WorkStep{Key: "build", Label: "Build and check", State: StepNoted}
	_, known := Range(s)
	check, compared := CheckRange(s)
	switch {
	case !known:
		step.State, step.Text, step.Do = StepToDo, "The limb maker's brace-height range is not entered.", "Enter the limb maker's brace-height range."
	case !compared:
		step.State, step.Text, step.Do = StepToDo, "The brace height is not entered.", "Shoot five arrows, then measure the brace height."
	case check.Outside > 0:
		step.State, step.Text, step.Do = string(Stale), fmt.Sprintf("The brace height is %.0f mm outside the limb maker's range.", 1e3*float64(check.Outside)), "Bring the brace height inside the limb maker's range before anything else."
	default:
		step.Text = "Inside the limb maker's range."
	}
	return step
}

func arrowStep(s notebook.Settings) WorkStep {
	step := WorkStep{Key: "arrow", Label: "Choose the arrow", State: StepNoted, Text: "Mass and static spine are entered.", After: []string{"build"}}
	var lacks []string
	if s.Arrow.Mass.IsZero() {
		lacks = append(lacks, "mass")
	}
	if s.Arrow.Spine.IsZero() {
		lacks = append(lacks, "static spine")
	}
	if len(lacks) > 0 {
		what := strings.Join(lacks, " and ")
		step.State, step.Text, step.Do = StepToDo, "Not entered: the arrow's "+what+".", "Enter the arrow's "+what+"."
	}
	if least := s.Arrow.MinimumMass; !least.IsZero() && s.Arrow.Mass.Value < least.Value {
		step.State, step.Text, step.Do = string(Stale), "The arrow is lighter than the bow maker's minimum.", "Do not shoot this arrow: it is lighter than the bow maker's minimum."
	}
	return step
}

func roughStep(s notebook.Settings) WorkStep {
	step := WorkStep{Key: "rough", Label: "Rough set-up", State: StepNoted, Text: "Nocking point, tiller, centre shot and button are entered.", After: []string{"build", "arrow"}}
	var lacks []string
	for _, e := range []struct {
		missing bool
		what    string
	}{{s.NockingPoint.Value.IsZero(), "nocking point"}, {s.Tiller.IsZero(), "tiller"}, {s.CentreShot.IsZero(), "centre shot"}, {s.Button.Turns == nil, "button turns"}} {
		if e.missing {
			lacks = append(lacks, e.what)
		}
	}
	if len(lacks) > 0 {
		what := strings.Join(lacks, ", ")
		step.State, step.Text, step.Do = StepToDo, "Not entered: "+what+".", "Read off and enter: "+what+"."
	}
	return step
}

// resultStep is a step that rests on a result.
func resultStep(key, label, do string, after []string, st *Standing) WorkStep {
	step := WorkStep{Key: key, Label: label, After: after, State: StepToDo, Text: "Nothing was found out yet.", Do: do}
	if st == nil {
		return step
	}
	id := st.Result.ID
	step.Result, step.State, step.Text, step.Do = &id, string(st.State), st.Sentence, ""
	switch st.State {
	case Stale:
		step.Do = do
	case Drifted:
		step.Do = "Check with one reading: " + st.Result.Label + "."
	}
	return step
}

// trialsOf are the trials that settle a step.
var trialsOf = map[string][]string{"brace": {BraceTrial}, "bare": {BareTrial}, "walkback": {WalkTrial}}

// underWay turns a step that waits for a trial towards the one that was begun
// on the present set-up and has no kept verdict: to go on with it, or to read
// its verdict.
func (step *WorkStep) underWay(b BowRecords) {
	if step.State == string(Fresh) {
		return
	}
	for _, t := range slices.Backward(b.Trials) {
		if !slices.Contains(trialsOf[step.Key], t.What) || !t.At.After(b.SetUps[len(b.SetUps)-1].At) {
			continue
		}
		judged := slices.ContainsFunc(b.Verdicts, func(v notebook.Verdict) bool { return v.Trial == t.ID })
		name := strings.ToLower(step.Label) + " trial"
		switch last := lastEvent(b.Events[t.ID]); {
		case judged || last == notebook.Abandoned:
		case last == notebook.Finished:
			step.Text, step.Do = "A "+name+" is finished; its verdict is not kept yet.", "Read the verdict of the "+name+" and choose a set-up."
		default:
			step.Text, step.Do = "A "+name+" is under way.", "Go on with the "+name+" where you left it."
		}
		return
	}
}

// lastEvent is what happened to a trial last, "" for nothing yet.
func lastEvent(list []notebook.TrialEvent) notebook.Event {
	if len(list) == 0 {
		return ""
	}
	return list[len(list)-1].What
}

// keepStep looks at the check readings.
func keepStep(b BowRecords) WorkStep {
	step := WorkStep{Key: "keep", Label: "Keep it", State: StepToDo, After: []string{"brace"}, Text: "Too few check readings to tell drift from scatter.", Do: "Read brace height, nocking point and tiller at the start of each session."}
	for _, kind := range []notebook.Kind{notebook.ReadBrace, notebook.ReadNockingPoint, notebook.ReadTiller, notebook.ReadSpeed, notebook.ReadButton} {
		switch c := b.Chart(kind); c.State {
		case Shifted, Drifting:
			info, _ := kind.Info()
			return WorkStep{Key: "keep", Label: step.Label, State: string(Drifted), After: step.After, Text: "The " + info.Label + " is out of its own scatter.", Do: "Look at the " + info.Label + ": its check readings left their limits."}
		case InControl:
			step.State, step.Text, step.Do = string(Fresh), "Check readings lie inside their own scatter.", ""
		}
	}
	return step
}
