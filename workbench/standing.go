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
// Stale: even at the near end it moved by more. Drifted is everything between:
// one check reading settles it.
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
	// Value and Half are in Unit; Half is half the result's own 90 % interval.
	Value, Half float64
	Unit        string // m, m/s, N, turns
	HalfFrom    string // where the interval comes from, in words
}

// direct are the quantities that are an entry of the settings themselves.
var direct = map[string]string{
	string(notebook.ReadBrace): "brace_height.value", string(notebook.ReadNockingPoint): "nocking_point.value", string(notebook.ReadTiller): "tiller",
}

// Cause is what one entry did to a result since. All numbers are in the
// result's unit; Near and Far are sizes, never negative.
type Cause struct {
	Entry         string // as in notebook.Keys
	Before, After string // as typed; equal when it was moved and put back
	PutBack       bool
	// Shift is the predicted move, signed; nil when the model has none.
	Shift     *Estimate[float64]
	Near, Far float64
	Floor     float64
	// Unknown: no bound can be given for what this does.
	Unknown bool
}

// Standing is how a result stands today.
type Standing struct {
	Result Result
	State  State
	// Near and Far are the least and the most that all changes together moved
	// the result, if none of them made another good; Far has the floors.
	Near, Far float64
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
	first, last := since[0], since[len(since)-1]
	var net []float64
	given := map[string]float64{} // once-moved floors already counted, by part of the bow
	for _, key := range since.touched() {
		if key == r.By {
			out.notSet(first, last)
			continue
		}
		c, moves, err := r.cause(ctx, key, first, last, slopes, given)
		if err != nil {
			return out, err
		}
		if c.Far == 0 && !c.Unknown {
			continue
		}
		out.Causes = append(out.Causes, c)
		out.Near += c.Near
		out.Far += c.Far
		out.Unknown = out.Unknown || c.Unknown
		net = add(net, moves)
	}
	if net != nil {
		e := bounds(net)
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
	case s.Near > half:
		s.State = Stale
	case s.Far > half || s.Unknown:
		s.State = Drifted
	default:
		s.State = Fresh
	}
	s.Computed = s.State
	s.Sentence = s.words()
}

// notSet notes that the decided entry itself was moved since.
func (s *Standing) notSet(first, last notebook.Settings) {
	for _, d := range differences(first, last) {
		if d.Key == s.Result.By {
			s.NotSet = d.After
		}
	}
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

// cause is what one touched entry did.
func (r Result) cause(ctx context.Context, key string, first, last notebook.Settings, slopes *Slopes, given map[string]float64) (Cause, []float64, error) {
	c := Cause{Entry: key, PutBack: true}
	for _, d := range differences(first, last) {
		if d.Key == key {
			c.Before, c.After, c.PutBack = d.Before, d.After, false
		}
	}
	moved, again, numeric := move(key, first, last)
	per, err := r.slope(ctx, key, slopes)
	if err != nil {
		return c, nil, err
	}
	var moves []float64
	if per != nil {
		moves = make([]float64, len(per))
		for i := range per {
			moves[i] = per[i] * moved
		}
		e, size := bounds(moves), sizes(bounds(per))
		c.Shift = &e
		c.Near = size.Low * math.Abs(moved)
		c.Far = size.High * (math.Abs(moved) + again)
	} else {
		c.Unknown = r.shouldKnow(key)
	}
	f, err := r.floor(ctx, key, slopes)
	if err != nil {
		return c, nil, err
	}
	c.addFloor(f, math.Abs(moved)+again, numeric, given)
	return c, moves, nil
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

// sizes are the ends of a slope's size over the plausible bows: the least is
// zero when they do not agree on its sign.
func sizes(e Estimate[float64]) Estimate[float64] {
	low, high := math.Abs(e.Low), math.Abs(e.High)
	least := min(low, high)
	if e.Low <= 0 && e.High >= 0 {
		least = 0
	}
	return Estimate[float64]{math.Abs(e.Value), least, max(low, high)}
}

// slope is how the result moves per unit of an entry, bow by bow; nil when the
// model does not know. For a setting that was decided it is how far that
// setting must move to bring what decided it back.
func (r Result) slope(ctx context.Context, key string, slopes *Slopes) ([]float64, error) {
	if entry, ok := direct[r.Of.Kind]; ok {
		if entry == key {
			return []float64{1, 1}, nil
		}
		return nil, nil
	}
	per, err := slopes.each(ctx, key, r.Of)
	if err != nil || per == nil || r.By == "" {
		return per, err
	}
	own, err := slopes.each(ctx, r.By, r.Of)
	if err != nil || own == nil || sizes(bounds(own)).Low == 0 {
		return nil, err
	}
	out := make([]float64, len(per))
	for i := range per {
		out[i] = -per[i] / own[i]
	}
	return out, nil
}

// floor is what the model lacks, in the result's unit.
func (r Result) floor(ctx context.Context, key string, slopes *Slopes) (floor, error) {
	f := floorOf(key, r.Of)
	if r.By == "" || f == (floor{}) {
		return f, nil
	}
	own, err := slopes.each(ctx, r.By, r.Of)
	if err != nil {
		return f, err
	}
	if own == nil || sizes(bounds(own)).Low == 0 {
		return unknown, nil // the setting's own effect has no sure sign here
	}
	least := sizes(bounds(own)).Low
	return floor{f.once / least, f.per / least}, nil
}
