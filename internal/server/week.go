package server

import (
	"context"
	"sync"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// weekView is the bench across archers: what each bow wants.
type weekView struct {
	Progress
	Archers []report.ArcherOfWeek `json:"archers" nullable:"false" doc:"By name."`
	Bows    int                   `json:"bows"`
	Waiting int                   `json:"bows_computing" doc:"Of these, whose results are being judged: ask again."`
	List    string                `json:"list" doc:"The coach's list to print." example:"/sheets/weeklist/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Rules   string                `json:"rules" doc:"Where what falls due comes from."`
}

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
	view := weekView{Progress: how, Archers: report.ViewWeek(archers), Waiting: waiting, List: "/sheets/weeklist/" + string(me.ID), Rules: report.WeekRules}
	for _, a := range archers {
		view.Bows += len(a.Bows)
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
	bows, err := s.maker().WeekBows(ctx, me.ID)
	if err != nil {
		return nil, how, 0, err
	}
	keys := make([]string, len(bows))
	var missing []int
	for i, b := range bows {
		if keys[i], err = fingerprint(b.Records, b.Hand); err != nil {
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
		archers = report.AddBow(archers, b, b.Records.Week(b.Bow, j.standings, known && !j.failed, j.then, s.Now()))
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
	hand := b.Hand
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
	j.then, err = by.bow.FirstNext(ctx)
	return j, err
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
