package server

import (
	"context"
	"fmt"
	"sync"
	"time"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// weekView is the bench across archers: what each bow wants.
type weekView struct {
	Progress
	Archers []weekArcher `json:"archers" nullable:"false" doc:"By name."`
	Bows    int          `json:"bows"`
	Waiting int          `json:"bows_computing" doc:"Of these, whose results are being judged: ask again."`
	List    string       `json:"list" doc:"The coach's list to print." example:"/sheets/weeklist/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Rules   string       `json:"rules" doc:"Where what falls due comes from."`
}

type weekArcher struct {
	Person notebook.ID `json:"person"`
	Name   string      `json:"name" example:"Ida Falk"`
	Bows   []weekBow   `json:"bows" nullable:"false"`
	Card   string      `json:"card" doc:"The archer's card to print."`
}

type weekBow struct {
	Bow     notebook.ID      `json:"bow"`
	Name    string           `json:"name" example:"Blue 68"`
	SetUp   notebook.ID      `json:"setup,omitempty" doc:"The current set-up."`
	Wants   bool             `json:"wants" doc:"Something is due, besides the next thing to do."`
	Judged  bool             `json:"judged" doc:"False: whether old results still count cannot be told yet."`
	Drifted []weekDrift      `json:"drifted" nullable:"false" doc:"Settings whose check readings left their own scatter."`
	Stale   []weekResult     `json:"stale" nullable:"false" doc:"Results that no longer count."`
	Check   []weekResult     `json:"check" nullable:"false" doc:"Results that one reading settles."`
	String  weekDue          `json:"string"`
	Draw    *weekDue         `json:"draw_length,omitempty" doc:"Of an archer who grows."`
	Next    string           `json:"next,omitempty" doc:"The first thing to do, in the order of work."`
	Then    *weekMeasureNext `json:"measure_next,omitempty" doc:"What tells most of the bow, by its kept fit; absent without one."`
}

type weekDrift struct {
	Kind  notebook.Kind `json:"kind" example:"brace_height"`
	Label string        `json:"label" example:"brace height"`
	State string        `json:"state" enum:"shifted,drifting"`
	Since time.Time     `json:"since"`
}

type weekResult struct {
	ID       notebook.ID `json:"id"`
	Label    string      `json:"label" example:"bare shaft right of the group at 30 m"`
	Sentence string      `json:"sentence"`
	At       time.Time   `json:"at"`
}

type weekDue struct {
	State string    `json:"state" enum:"fine,soon,look,due,cannot tell yet"`
	Text  string    `json:"text"`
	Shots int       `json:"shots,omitempty" doc:"Of a string: on it, as far as noted."`
	Since time.Time `json:"since,omitzero" doc:"When the string was put on, or the draw length last read."`
	Due   time.Time `json:"due,omitzero"`
}

type weekMeasureNext struct {
	Name    string  `json:"name"`
	Minutes int     `json:"minutes"`
	Left    float64 `json:"left_share" doc:"Share of the doubt that would be left." example:"0.7"`
	Why     string  `json:"why"`
}

// weekRules are said wherever what falls due is shown.
var weekRules = fmt.Sprintf("A string is looked at closely from %d shots or a year on, and changed by %d; a growing archer's draw length is read every quarter (common practice, no source). Makers and the coach decide.", workbench.StringLook, workbench.StringDue)

// weekShelf keeps what was found out about each bow, by what it was found from.
type weekShelf struct {
	mu    sync.Mutex
	byBow map[notebook.ID]judged
}

// judged is a bow's standings, and what its kept fit asks for first.
type judged struct {
	key       string
	standings []workbench.Standing
	then      *workbench.NextReading
	failed    bool
}

func (w *weekShelf) get(bow notebook.ID, key string) (judged, bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	j, ok := w.byBow[bow]
	return j, ok && j.key == key
}

func (w *weekShelf) keep(bow notebook.ID, j judged) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.byBow == nil {
		w.byBow = map[notebook.ID]judged{}
	}
	w.byBow[bow] = j
}

func (s *server) getWeek(ctx context.Context, _ *struct{}) (*found[weekView], error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	archers, how, waiting, err := s.week(ctx)
	if err != nil {
		return nil, err
	}
	view := weekView{Progress: how, Archers: []weekArcher{}, Waiting: waiting, List: "/sheets/weeklist/" + string(me.ID), Rules: weekRules}
	for _, a := range archers {
		row := weekArcher{Person: a.Person, Name: a.Name, Bows: []weekBow{}, Card: "/sheets/week/" + string(a.Person)}
		for _, b := range a.Bows {
			row.Bows = append(row.Bows, viewWeek(b))
			view.Bows++
		}
		view.Archers = append(view.Archers, row)
	}
	return &found[weekView]{Body: view}, nil
}

// week gives what every bow wants. What takes long, how each result stands, is
// computed in the background for all bows whose records changed; until then it
// cannot be told.
func (s *server) week(ctx context.Context) (archers []report.ArcherWeek, how Progress, waiting int, err error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, how, 0, err
	}
	bows, err := report.Maker{Notebook: s.Notebook}.WeekBows(ctx, me.ID)
	if err != nil {
		return nil, how, 0, err
	}
	keys := make([]string, len(bows))
	var missing []int
	for i, b := range bows {
		if keys[i], err = fingerprint(b.Records, b.Archer.Hand); err != nil {
			return nil, how, 0, err
		}
		if _, known := s.weeks.get(b.Bow.ID, keys[i]); !known {
			missing = append(missing, i)
		}
	}
	how = Progress{State: "done", Share: 1}
	if len(missing) > 0 {
		if how, err = s.judgeAll(ctx, bows, keys, missing); err != nil {
			return nil, how, 0, err
		}
	}
	for i, b := range bows {
		j, known := s.weeks.get(b.Bow.ID, keys[i])
		if !known {
			waiting++
		}
		if n := len(archers); n == 0 || archers[n-1].Person != b.Bow.Owner {
			archers = append(archers, report.ArcherWeek{Person: b.Bow.Owner, Name: b.Archer.Name})
		}
		last := &archers[len(archers)-1]
		last.Bows = append(last.Bows, report.NamedWeek{Bow: b.Bow, Week: b.Records.Week(b.Bow, j.standings, known && !j.failed, j.then, s.Now())})
	}
	return archers, how, waiting, nil
}

// judgeAll judges bow after bow in the background.
func (s *server) judgeAll(ctx context.Context, bows []report.WeekBow, keys []string, missing []int) (Progress, error) {
	var parts []any
	for _, i := range missing {
		parts = append(parts, keys[i])
	}
	key, err := fingerprint(parts...)
	if err != nil {
		return Progress{}, err
	}
	_, how, err := background(ctx, s, "week "+key, func(ctx context.Context, tell func(float64)) (bool, error) {
		for n, i := range missing {
			tell(float64(n) / float64(len(missing)))
			j, err := s.judgeBow(ctx, bows[i])
			if ctx.Err() != nil {
				return false, ctx.Err()
			}
			if err != nil {
				s.Log.Error("judging a bow for the week", "error", err)
				j = judged{failed: true} // the others can be judged all the same
			}
			j.key = keys[i]
			s.weeks.keep(bows[i].Bow.ID, j)
		}
		return true, nil
	})
	return how, err
}

// judgeBow says how a bow's results stand, by its kept fit where it has one, and
// what that fit asks for.
func (s *server) judgeBow(ctx context.Context, b report.WeekBow) (j judged, err error) {
	hand := b.Archer.Hand
	by := s.fittedBy(ctx, b.Records, hand)
	j.standings, err = workbench.Standings(ctx, b.Records, false, func(setup notebook.SetUp, distances []unit.Length) *workbench.Slopes {
		return s.slopes.get(setup, hand, by, distances, s.queue.turn)
	}, nil)
	if err != nil || by.bow == nil {
		return j, err
	}
	end, err := s.queue.turn(ctx)
	if err != nil {
		return j, err
	}
	defer end()
	next, err := by.bow.MeasureNext(ctx, workbench.EverythingOwned(), workbench.WishAll)
	if len(next) > 0 {
		j.then = &next[0]
	}
	return j, err
}

func viewWeek(n report.NamedWeek) weekBow {
	w := n.Week
	v := weekBow{Bow: n.Bow.ID, Name: n.Bow.Name, Wants: w.Wants(), Judged: w.Judged, Drifted: []weekDrift{}, Stale: viewResults(w.Stale), Check: viewResults(w.Check), Next: w.Next, SetUp: w.SetUp}
	for _, d := range w.Drifted {
		v.Drifted = append(v.Drifted, weekDrift{d.Kind, d.Label, d.State, d.Since})
	}
	v.String = weekDue{State: w.String.State, Text: w.String.Text, Shots: w.String.Shots, Since: w.String.Since}
	if w.Draw != nil {
		v.Draw = &weekDue{State: w.Draw.State, Text: w.Draw.Text, Since: w.Draw.Last, Due: w.Draw.Due}
	}
	if w.Then != nil {
		v.Then = &weekMeasureNext{w.Then.Name, w.Then.Minutes, rounded(w.Then.Left, 3), w.Then.Why}
	}
	return v
}

func viewResults(list []workbench.Standing) []weekResult {
	out := []weekResult{}
	for _, st := range list {
		out = append(out, weekResult{st.Result.ID, st.Result.Label, st.Sentence, st.Result.At})
	}
	return out
}

// weekSheet is an archer's card, or the coach's list.
func (s *server) weekSheet(ctx context.Context, kind string, id notebook.ID) (report.Sheet, error) {
	archers, _, _, err := s.week(ctx)
	if err != nil {
		return report.Sheet{}, err
	}
	made := s.Now().UTC()
	if kind == "weeklist" {
		return report.WeekList(archers, made), nil
	}
	for _, a := range archers {
		if a.Person == id {
			return report.WeekCard(a, made), nil
		}
	}
	return report.Sheet{}, &notebook.Error{Code: notebook.NotFound, Message: "you see no bow of such an archer", Hint: "open the card from the page of the week"}
}
