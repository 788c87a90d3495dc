package server

import (
	"context"
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
	Archers []report.ArcherOfWeek `json:"archers" nullable:"false" doc:"By name."`
	Bows    int                   `json:"bows"`
	Waiting int                   `json:"bows_computing" doc:"Of these, whose results are being judged: ask again."`
	List    string                `json:"list" doc:"The coach's list to print." example:"/sheets/weeklist/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Rules   string                `json:"rules" doc:"Where what falls due comes from."`
}

// weekShelf keeps what was found out about each bow's week.
type weekShelf struct {
	mu    sync.Mutex
	byBow map[notebook.ID]weekOfBow
}

// weekOfBow is what a bow wants, as it stood at a sight of it.
type weekOfBow struct {
	at     sight
	judged judged
	ready  bool // judged, or that failed; else Stale and Check are not known
	week   workbench.BowWeek
}

// sight is what a bow's week hangs on: its records, who draws it, and the day.
type sight struct {
	Bow    notebook.ID
	Moment moment
	Hand   notebook.Hand
	Day    time.Time
}

// judged is a bow's standings, and what its kept fit asks for first, by the
// fingerprint of what they come from: a new day changes neither.
type judged struct {
	key       string
	standings []workbench.Standing
	then      *workbench.NextReading
	failed    bool
}

func (w *weekShelf) of(bow notebook.ID) weekOfBow {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.byBow[bow]
}

// keep puts a look on the shelf, unless a later or better one is there: two may
// go on at once.
func (w *weekShelf) keep(of weekOfBow) {
	w.mu.Lock()
	defer w.mu.Unlock()
	known, ok := w.byBow[of.at.Bow]
	if ok && (known.at.Moment.after(of.at.Moment) || known.at == of.at && known.ready && !of.ready) {
		return
	}
	if w.byBow == nil {
		w.byBow = map[notebook.ID]weekOfBow{}
	}
	w.byBow[of.at.Bow] = of
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

// week gives what every bow wants. Bows whose records changed are read and
// judged in the background, one at a time; until then what must be judged cannot
// be told.
func (s *server) week(ctx context.Context) (archers []report.ArcherWeek, how Progress, waiting int, err error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, how, 0, err
	}
	bows, err := s.maker().WeekBows(ctx, me.ID)
	if err != nil {
		return nil, how, 0, err
	}
	sights, missing := make([]sight, len(bows)), []sight{}
	for i, b := range bows {
		sights[i] = sight{b.Bow.ID, s.changes.at(b.Bow.ID), b.Hand, s.Now().UTC().Truncate(24 * time.Hour)}
		if known := s.weeks.of(b.Bow.ID); !known.ready || !known.at.shows(sights[i]) {
			missing = append(missing, sights[i])
		}
	}
	how = Progress{State: "done", Share: 1}
	if len(missing) > 0 {
		if how, err = s.lookAll(ctx, me.ID, missing); err != nil {
			return nil, how, 0, err
		}
	}
	for i, b := range bows {
		week, ready := s.weeks.of(b.Bow.ID).asOf(sights[i])
		if !ready {
			waiting++
		}
		archers = report.AddBow(archers, b, week)
	}
	if waiting > 0 && how.State == "done" { // of what changed while it was looked at
		how = Progress{State: "computing", Share: 1 - float64(waiting)/float64(len(bows))}
	}
	return archers, how, waiting, nil
}

// shows tells whether what was seen is what there is to see, or newer.
func (a sight) shows(now sight) bool {
	current := a.Moment == now.Moment || a.Moment.after(now.Moment)
	a.Moment = now.Moment
	return current && a == now
}

// asOf is the bow's week as far as it is known now, and whether that is all. Of
// an earlier look what was judged is left out.
func (w weekOfBow) asOf(now sight) (week workbench.BowWeek, ready bool) {
	if w.at.shows(now) {
		return w.week, w.ready
	}
	if w.at.Bow == now.Bow && w.at.Moment.Hidden == now.Moment.Hidden && !w.judged.failed {
		week = w.week
		week.Judged, week.Stale, week.Check, week.Next, week.Then = false, nil, nil, "", nil
		return week, false
	}
	return workbench.NotLooked("Not looked at yet."), false
}

// shareOfLooking is how much of the work it is to read bows; judging is the rest.
const shareOfLooking = 0.1

// lookAll reads bow after bow in the background, and then judges those that
// never were. Somebody who asks again while it goes on waits for the same; what
// it finds out is on the shelf, and what changed meanwhile is looked at when
// they ask next.
func (s *server) lookAll(ctx context.Context, actor notebook.ID, bows []sight) (Progress, error) {
	_, how, err := background(ctx, s, "week "+string(actor), func(ctx context.Context, tell func(float64)) (passing, error) {
		rulings, err := s.ruledBefore(ctx, actor, bows)
		if err != nil {
			return passing{}, err
		}
		var unjudged []sight
		for i, at := range bows {
			tell(shareOfLooking * float64(i) / float64(len(bows)))
			if !s.lookAt(ctx, actor, at, rulings, false) {
				unjudged = append(unjudged, at)
			}
		}
		for i, at := range unjudged {
			tell(shareOfLooking + (1-shareOfLooking)*float64(i)/float64(len(unjudged)))
			s.lookAt(ctx, actor, at, rulings, true)
		}
		return passing{}, ctx.Err()
	})
	return how, err
}

// ruledBefore reads all rulings once for many bows. Those of a bow that changed
// since are read again: a look holds what is there at its moment.
func (s *server) ruledBefore(ctx context.Context, actor notebook.ID, bows []sight) (of func(context.Context, sight) ([]notebook.Ruling, error), err error) {
	then := map[notebook.ID]moment{}
	for _, at := range bows {
		then[at.Bow] = s.changes.at(at.Bow)
	}
	rulings, err := s.maker().Rulings(ctx, actor)
	return func(ctx context.Context, at sight) ([]notebook.Ruling, error) {
		if at.Moment != then[at.Bow] {
			return s.maker().Rulings(ctx, actor)
		}
		return rulings, nil
	}, err
}

// lookAt reads a bow as it stands now, and keeps what can be said of it. It is
// judged where its records are others than those it was judged from; if it
// never was, only with judge: the others are read first. One that cannot be
// read or judged does not keep the others waiting.
func (s *server) lookAt(ctx context.Context, actor notebook.ID, at sight, ruled func(context.Context, sight) ([]notebook.Ruling, error), judge bool) (ready bool) {
	at.Moment = s.changes.at(at.Bow)
	known := s.weeks.of(at.Bow)
	if known.at == at && (known.ready || !judge) {
		return known.ready // somebody else's look was here first
	}
	records, bow, key, err := s.weekRecords(ctx, actor, at, ruled)
	if err != nil {
		s.unreadable(ctx, at, err)
		return true
	}
	j := known.judged
	if j.key != key && (judge || j.key != "") {
		j = s.judgeBow(ctx, records, key, at.Hand)
	}
	if ctx.Err() != nil {
		return false
	}
	if ready = j.key == key; !ready {
		j = judged{}
	}
	s.weeks.keep(weekOfBow{at, j, ready, records.Week(bow, j.standings, ready && !j.failed, j.then, s.Now())})
	return ready
}

// unreadable keeps that a bow could not be read; the next change or day looks
// again.
func (s *server) unreadable(ctx context.Context, at sight, err error) {
	if ctx.Err() == nil && notebook.CodeOf(err) != notebook.NotFound {
		s.Log.Error("reading a bow for the week", "error", err)
		s.weeks.keep(weekOfBow{at, judged{failed: true}, true, workbench.NotLooked("It could not be read now.")})
	}
}

// weekRecords reads a bow with its records, and their fingerprint, in a turn of
// its own.
func (s *server) weekRecords(ctx context.Context, actor notebook.ID, at sight, ruled func(context.Context, sight) ([]notebook.Ruling, error)) (b workbench.BowRecords, bow notebook.Bow, key string, err error) {
	end, err := s.queue.turn(ctx)
	if err != nil {
		return b, bow, "", err
	}
	defer end()
	if bow, err = s.Notebook.Bows().Get(ctx, actor, at.Bow); err != nil {
		return b, bow, "", err
	}
	rulings, err := ruled(ctx, at)
	if err != nil {
		return b, bow, "", err
	}
	if b, err = s.maker().WeekRecords(ctx, actor, at.Bow, rulings); err != nil {
		return b, bow, "", err
	}
	key, err = fingerprintOf(b, at.Hand)
	return b, bow, key, err
}

// judgeBow says how a bow's results stand, or that it cannot.
func (s *server) judgeBow(ctx context.Context, b workbench.BowRecords, key string, hand notebook.Hand) judged {
	j, err := s.standingsOf(ctx, b, hand)
	if err != nil {
		if ctx.Err() == nil {
			s.Log.Error("judging a bow for the week", "error", err)
		}
		j = judged{failed: true}
	}
	j.key = key
	return j
}

// standingsOf says how a bow's results stand, by its kept fit where it has one,
// and what that fit asks for.
func (s *server) standingsOf(ctx context.Context, b workbench.BowRecords, hand notebook.Hand) (j judged, err error) {
	by := s.fittedBy(ctx, b, hand)
	j.standings, err = workbench.Standings(ctx, b, false, func(setup notebook.SetUp, distances []unit.Length) *workbench.Slopes {
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
