package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tautline/notebook"
)

// State says whether a result still counts.
type State string

// The states. Fresh: even at the far end of the doubt, with the floors added,
// what was changed since moved the result by no more than its own interval.
// Stale: on most of the plausible bows it moved by more. Drifted is everything
// between: one check reading settles it.
const (
	Fresh   State = "fresh"
	Drifted State = "drifted"
	Stale   State = "stale"
)

// Result is something the notebook holds that was found out with one set-up.
type Result struct {
	ID    notebook.ID
	Noun  notebook.Noun // verdict, reading or end
	Label string        // in an archer's words
	SetUp notebook.ID
	At    time.Time
	// Of is the quantity that was read, or, for a setting that was decided,
	// the quantity that decided it.
	Of Quantity
	// By is the entry that was decided ("button.turns"), "" for a reading. Its
	// own later moves are no part of the result's standing.
	By string
	// PerQuantity, if not 0, turns Of into the result's unit: a sight mark is
	// minus the reach over the distance times the height at the target.
	PerQuantity float64
	// Value and Half are in Unit; Half is half the result's own 90 % interval.
	Value, Half float64
	Unit        string // m, m/s, N, turns
	HalfFrom    string // where the interval comes from, in words
}

// direct are the quantities that are an entry of the settings themselves.
var direct = map[string]string{
	string(notebook.ReadBrace): "brace_height.value", string(notebook.ReadNockingPoint): "nocking_point.value", string(notebook.ReadTiller): "tiller",
	string(notebook.ReadButton): "button.turns",
}

// Cause is what one entry did to a result since. All numbers are in the
// result's unit. Likely and Far are sizes, never negative: what half of the
// plausible bows exceed, and what nine of ten stay within, floor included.
type Cause struct {
	Entry         string // as in notebook.Keys
	Before, After string // as typed; equal when it was moved and put back
	PutBack       bool
	// Shift is the predicted move, signed; nil when the model has none.
	Shift       *Estimate[float64]
	Likely, Far float64
	Floor       float64
	// Unknown: no bound can be given for what this does.
	Unknown bool
}

// Standing is how a result stands today.
type Standing struct {
	Result Result
	State  State
	// Likely and Far are what all changes together moved the result, if none
	// of them made another good; Far has the floors.
	Likely, Far float64
	// Net is the predicted move with its sign, changes that work against each
	// other taken together. It is a forecast of a new reading, not a reason to
	// keep the old one.
	Net     *Estimate[float64]
	Causes  []Cause
	Unknown bool
	// Superseded is a later result of the same quantity on the present bow.
	Superseded notebook.ID
	// NotSet says that the bow is no longer set to what was decided.
	NotSet string
	// Ruling is a person's word against the computed state.
	Ruling   *notebook.Ruling
	Computed State
	Sentence string
}

// Since is everything that was changed on a bow since a result: the set-ups
// from the result's own to the present one, in the order in which they were
// made.
type Since []notebook.Settings

// Stand computes how a result stands. since begins with the settings the
// result was found with and ends with the present ones; slopes are about the
// first of them. Nothing is taken from a rule of what spoils what: each entry
// that differs, or was moved and put back, contributes what the model says it
// moves, and a floor for what the model lacks.
//
// More change never makes a result fresher: contributions are sizes that grow
// with how far an entry was moved, and they are added, never set off against
// each other. Putting everything back leaves only how well it can be put back.
func Stand(ctx context.Context, r Result, since Since, slopes *Slopes) (Standing, error) {
	out := Standing{Result: r, State: Fresh}
	if len(since) == 0 {
		return out, nil
	}
	if r.Half <= 0 {
		return out, fmt.Errorf("workbench: a result without an interval of its own has no standing")
	}
	w := weighing{r, slopes, since[0], since[len(since)-1], since.nockMoved(), map[string]notebook.Difference{}, map[string]float64{}}
	for _, d := range differences(w.first, w.last) {
		w.net[d.Key] = d
	}
	var net []float64
	for _, key := range since.touched() {
		if key == r.By {
			out.NotSet = w.net[key].After
			continue
		}
		c, moves, err := w.cause(ctx, key)
		if err != nil {
			return out, err
		}
		if c.Far == 0 && !c.Unknown {
			continue
		}
		out.Causes = append(out.Causes, c)
		out.Likely += c.Likely
		out.Far += c.Far
		out.Unknown = out.Unknown || c.Unknown
		net = add(net, moves)
	}
	if net != nil {
		e := estimate(net[0], net[1:])
		out.Net = &e
	}
	slices.SortStableFunc(out.Causes, func(a, b Cause) int { return compareFar(b, a) })
	out.judge()
	return out, nil
}

func compareFar(a, b Cause) int {
	switch {
	case a.Unknown != b.Unknown:
		return int(btof(a.Unknown) - btof(b.Unknown))
	case a.Far < b.Far:
		return -1
	case a.Far > b.Far:
		return 1
	}
	return 0
}

func btof(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func add(a, b []float64) []float64 {
	if a == nil {
		return slices.Clone(b)
	}
	for i := range min(len(a), len(b)) {
		a[i] += b[i]
	}
	return a
}

// judge compares the ends with the result's own interval.
func (s *Standing) judge() {
	switch half := s.Result.Half; {
	case s.Likely > half:
		s.State = Stale
	case s.Far > half || s.Unknown:
		s.State = Drifted
	default:
		s.State = Fresh
	}
	s.Computed = s.State
	s.Sentence = s.words()
}

// words say the state and the main reason.
func (s Standing) words() string {
	if len(s.Causes) == 0 {
		return "Nothing that matters to it was changed since."
	}
	var names []string
	for _, c := range s.Causes[:min(3, len(s.Causes))] {
		names = append(names, notebook.Label(c.Entry))
	}
	what := strings.Join(names, ", ")
	switch s.State {
	case Stale:
		return "Take it again: what was changed since (" + what + ") moved it by more than it was known to."
	case Drifted:
		if s.Unknown {
			return "Check it with one reading: nobody can compute what was changed since (" + what + ")."
		}
		return "Check it with one reading: what was changed since (" + what + ") may have moved it by more than it was known to."
	}
	return "It still counts: what was changed since (" + what + ") moved it by less than it was known to."
}

// touched lists every entry that any step changed, in the settings' order.
func (s Since) touched() []string {
	seen := map[string]bool{}
	for i := 1; i < len(s); i++ {
		for _, d := range differences(s[i-1], s[i]) {
			seen[d.Key] = true
		}
	}
	var out []string
	for _, key := range entryOrder() {
		if seen[key] {
			out = append(out, key)
		}
	}
	return out
}

func entryOrder() []string { return append(notebook.Keys(), "draw.points", "riser.rods") }

// differences of two settings that say something of the bow; an entry that was
// only noted, or is no longer noted, did not move.
func differences(a, b notebook.Settings) []notebook.Difference {
	all, err := notebook.Diff(a, b)
	if err != nil {
		return nil
	}
	return slices.DeleteFunc(all, func(d notebook.Difference) bool {
		return d.Before == "" || d.After == "" || bookkeeping[d.Key] || d.Key == "string.shots_on_it" && !renewed(a, b)
	})
}

// renewed tells a new string from one that was shot on.
func renewed(a, b notebook.Settings) bool {
	return a.String.Shots != nil && b.String.Shots != nil && *b.String.Shots < *a.String.Shots
}

// weighing is one result against everything since.
type weighing struct {
	r           Result
	slopes      *Slopes
	first, last notebook.Settings
	nock        float64                        // how far the nocking point was moved up the string
	net         map[string]notebook.Difference // what differs in the end
	given       map[string]float64             // once-moved floors counted so far, by part of the bow
}

// cause is what one touched entry did.
func (w weighing) cause(ctx context.Context, key string) (Cause, []float64, error) {
	d, differs := w.net[key]
	c := Cause{Entry: key, Before: d.Before, After: d.After, PutBack: !differs}
	moved, again, numeric := move(key, w.first, w.last)
	if key == "nocking_point.value" && numeric && w.r.Of.Kind == OfBareUp && w.slopes.rises() {
		moved = w.nock // what a moved rest did to the reading counts with the rest
	}
	effect, ok, err := w.r.response(ctx, key, moved, w.slopes)
	if err != nil {
		return c, nil, err
	}
	if ok {
		e := estimate(effect.signed[0], effect.signed[1:])
		c.Shift = &e
		c.Likely = likely(effect.size)
		c.Far = far(effect.size) + far(effect.first)*again
		c.Unknown = effect.left
	} else {
		c.Unknown, effect = w.r.shouldKnow(key), response{}
	}
	f, err := w.r.floor(ctx, key, w.slopes, ok)
	if err != nil {
		return c, nil, err
	}
	c.addFloor(f, math.Abs(moved)+again, numeric, w.given)
	return c, effect.signed, nil
}

// shouldKnow tells that the model computes what an entry does to the result,
// so that no answer from it means that nobody knows.
func (r Result) shouldKnow(key string) bool {
	m, ok := moverOf(key)
	_, read := direct[r.Of.Kind]
	return ok && m.write != nil && !read
}

// putBackShare is how much of a once-moved floor remains of what was put back
// as it was (assumed): the same string goes on again nearly as it came off.
const putBackShare = 0.3

// addFloor adds what the model lacks. What moving a part at all may do counts
// once for the part, however many of its entries differ.
func (c *Cause) addFloor(f floor, moved float64, numeric bool, given map[string]float64) {
	once := f.once
	if c.PutBack {
		once *= putBackShare
	}
	if math.IsInf(once, 0) || math.IsNaN(once) {
		c.Unknown = true
		once = 0
	}
	part := groupOf(c.Entry)
	c.Floor = max(0, once-given[part])
	given[part] = max(given[part], once)
	if numeric {
		c.Floor += f.per * moved
	}
	c.Far += c.Floor
}

// move is how far a numeric entry was moved in all, and how well it is set
// twice running.
func move(key string, first, last notebook.Settings) (moved, again float64, numeric bool) {
	m, ok := moverOf(key)
	if !ok {
		return 0, 0, false
	}
	a, here := m.read(first)
	b, there := m.read(last)
	if !here || !there {
		return 0, 0, false
	}
	return b - a, m.again, true
}

// response is how the result moves when an entry was moved by so much, bow by
// bow; ok is false when the model does not know. For a setting that was
// decided it is how far that setting must move to bring what decided it back.
func (r Result) response(ctx context.Context, key string, moved float64, slopes *Slopes) (response, bool, error) {
	if entry, ok := direct[r.Of.Kind]; ok {
		return response{signed: []float64{moved}, size: []float64{math.Abs(moved)}, first: []float64{1}}, entry == key, nil
	}
	effect, ok, err := slopes.of(ctx, key, moved, r.Of)
	if err != nil || !ok {
		return effect, false, err
	}
	worth, err := r.worth(ctx, slopes)
	if err != nil || worth == 0 {
		return effect, false, err
	}
	for i := range effect.signed {
		effect.signed[i] *= worth
		effect.size[i] *= math.Abs(worth)
		effect.first[i] *= math.Abs(worth)
	}
	return effect, true, nil
}

// worth turns the deciding quantity into the result's unit: for a setting that
// was decided, minus one over what the best bow's quantity moves with it. The
// doubt of that worth is left out: a verdict's own interval came through the
// same number, so it would widen both alike. 0: the model gives none.
func (r Result) worth(ctx context.Context, slopes *Slopes) (float64, error) {
	switch {
	case r.PerQuantity != 0:
		return r.PerQuantity, nil
	case r.By == "":
		return 1, nil
	}
	own, err := slopes.perUnit(ctx, r.By, r.Of)
	if err != nil || own == 0 {
		return 0, err
	}
	return -1 / own, nil
}

// floor is what the model lacks, in the result's unit; computed tells that the
// model knew the entry.
func (r Result) floor(ctx context.Context, key string, slopes *Slopes, computed bool) (floor, error) {
	f := floorOf(key, r.Of)
	if computed && r.Of.Kind == OfBareUp {
		f = floor{once: heightLack * float64(r.Of.Distance/floorBare)}
	}
	if f == (floor{}) {
		return f, nil
	}
	worth, err := r.worth(ctx, slopes)
	if worth == 0 {
		return unknown, err
	}
	worth = math.Abs(worth)
	return floor{f.once * worth, f.per * worth}, err
}
