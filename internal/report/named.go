package report

import (
	"context"
	"fmt"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// Named is a record in a few words, whatever its noun.
type Named struct {
	Noun    notebook.Noun
	What    string      // "brace height: 222 mm", "end 3, 6 arrows at 70 m"
	At      time.Time   // when it was written, by its writer's clock
	Bow     notebook.ID // "" for none
	Session notebook.ID // "" for none
}

// Named finds a record by its id alone and says what it is in the person's
// units. One that is not there, or not for the actor to see, is an error with
// code NotFound; so is a person, a share or a retraction.
func (m Maker) Named(ctx context.Context, actor, id notebook.ID, system unit.System) (Named, error) {
	n := namer{ctx, m.Notebook, actor, system}
	for _, look := range []func(notebook.ID) (Named, error){
		naming(n, n.book.Readings(), n.reading), naming(n, n.book.Ends(), n.end), naming(n, n.book.SetUps(), n.setUp),
		naming(n, n.book.Events(), n.event), naming(n, n.book.Sessions(), n.session), naming(n, n.book.Trials(), n.trial),
		naming(n, n.book.Recordings(), n.recording), naming(n, n.book.Onsets(), n.onsets), naming(n, n.book.Verdicts(), n.verdict),
		naming(n, n.book.Rulings(), n.ruling), naming(n, n.book.Fits(), n.fit), naming(n, n.book.Forecasts(), n.forecast), naming(n, n.book.Bows(), n.bow),
	} {
		if found, err := look(id); notebook.CodeOf(err) != notebook.NotFound {
			return found, err
		}
	}
	return Named{}, &notebook.Error{Code: notebook.NotFound, Message: "there is no such record", Hint: "go back to the list and open it from there"}
}

// naming looks for a record of one noun and has it said.
func naming[T notebook.Record](n namer, among notebook.Records[T], say func(T) (Named, error)) func(notebook.ID) (Named, error) {
	return func(id notebook.ID) (Named, error) {
		r, err := among.Get(n.ctx, n.actor, id)
		if err != nil {
			return Named{}, err
		}
		found, err := say(r)
		found.At = r.Stamped().At
		return found, err
	}
}

// namer says records to one person.
type namer struct {
	ctx    context.Context
	book   notebook.Store
	actor  notebook.ID
	system unit.System
}

func (n namer) reading(r notebook.Reading) (Named, error) {
	label := string(r.Kind)
	if info, known := r.Kind.Info(); known {
		label = info.Label
	}
	if !r.Distance.IsZero() {
		label += " at " + n.system.DistanceStyle().Print(r.Distance.Value)
	}
	return Named{Noun: notebook.ReadingNoun, What: label + ": " + ReadingValue(r, n.system), Bow: r.Bow, Session: r.Session}, nil
}

func (n namer) end(r notebook.End) (Named, error) {
	what := "end"
	if r.Number > 0 {
		what = fmt.Sprintf("end %d", r.Number)
	}
	arrows := "1 arrow"
	if len(r.Impacts) != 1 {
		arrows = fmt.Sprintf("%d arrows", len(r.Impacts))
	}
	if what += ", " + arrows; !r.Distance.IsZero() {
		what += " at " + n.system.DistanceStyle().Print(r.Distance.Value)
	}
	return Named{Noun: notebook.EndNoun, What: what, Bow: r.Bow, Session: r.Session}, nil
}

func (n namer) setUp(r notebook.SetUp) (Named, error) {
	return Named{Noun: notebook.SetUpNoun, What: about("set-up", r.Reason), Bow: r.Bow}, nil
}

func (n namer) session(r notebook.Session) (Named, error) {
	return Named{Noun: notebook.SessionNoun, What: about("session", r.Place), Bow: r.Bow, Session: r.ID}, nil
}

func (n namer) trial(r notebook.Trial) (Named, error) {
	return Named{Noun: notebook.TrialNoun, What: about("trial", r.What), Bow: r.Bow}, nil
}

func (n namer) event(r notebook.TrialEvent) (Named, error) {
	step := map[notebook.Event]string{notebook.Reached: "a stop reached", notebook.Paused: "left for the day", notebook.Finished: "finished", notebook.Abandoned: "given up"}[r.What]
	if r.What == notebook.Reached && r.Stop != nil {
		step = fmt.Sprintf("stop %d reached", *r.Stop+1)
	}
	return n.ofTrial(notebook.EventNoun, r.Trial, step)
}

func (n namer) verdict(r notebook.Verdict) (Named, error) {
	return n.ofTrial(notebook.VerdictNoun, r.Trial, "verdict")
}

// ofTrial is something that belongs to a trial.
func (n namer) ofTrial(noun notebook.Noun, trial notebook.ID, what string) (Named, error) {
	t, err := n.book.Trials().Get(n.ctx, n.actor, trial)
	return Named{Noun: noun, What: about("trial", t.What) + ": " + what, Bow: t.Bow}, err
}

func (n namer) recording(r notebook.Recording) (Named, error) {
	return Named{Noun: notebook.RecordingNoun, What: about("recording", r.Name), Bow: r.Bow}, nil
}

func (n namer) onsets(r notebook.Onsets) (Named, error) {
	of, err := n.book.Recordings().Get(n.ctx, n.actor, r.Recording)
	return Named{Noun: notebook.OnsetsNoun, What: about("corrected shots of a recording", of.Name), Bow: of.Bow}, err
}

// ruling is about a result, which has the bow.
func (n namer) ruling(r notebook.Ruling) (Named, error) {
	of, err := Maker{Notebook: n.book}.Named(n.ctx, n.actor, r.Target, n.system)
	return Named{Noun: notebook.RulingNoun, What: about("whether a result counts", r.Reason), Bow: of.Bow}, err
}

func (n namer) fit(r notebook.Fit) (Named, error) {
	return Named{Noun: notebook.FitNoun, What: "a fit to the readings", Bow: r.Bow}, nil
}

func (n namer) forecast(r notebook.Forecast) (Named, error) {
	return Named{Noun: notebook.ForecastNoun, What: "a forecast", Bow: r.Bow}, nil
}

func (n namer) bow(r notebook.Bow) (Named, error) {
	return Named{Noun: notebook.BowNoun, What: about("bow", r.Name), Bow: r.ID}, nil
}

// about adds a person's own words to what a record is.
func about(noun, words string) string {
	if words == "" {
		return noun
	}
	return noun + ", " + words
}
