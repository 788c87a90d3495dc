package workbench

import (
	"cmp"
	"slices"
	"time"

	"tautline/notebook"
	"tautline/sound"
	"tautline/trial"
	"tautline/unit"
)

// Visits sorts a trial's readings and recordings by visit, in shooting order:
// a brace height read, or a recording begun, at a stop after another stop was
// shot begins a new visit there. A reading that corrects another belongs where
// that one does; what is typed late (a speed, a note) or sent late (a
// recording of a visit that has none yet) begins no visit.
func Visits(p BracePlan, s notebook.Settings, readings []notebook.Reading, heard []Heard) []StopRecord {
	v := visiting{stops: len(p.Plan.Stops), now: -1, roots: rootsOf(readings)}
	v.order(readings, heard)
	for i, d := range v.dated {
		v.place(i, d)
	}
	v.fill(s, readings, heard)
	out := make([]StopRecord, len(v.visits))
	seen := map[int]int{}
	for i, o := range v.visits {
		seen[o.record.Stop]++
		o.record.Visit = seen[o.record.Stop]
		out[i] = *o.record
	}
	return out
}

// visiting follows who was where while a trial was shot.
type visiting struct {
	stops  int // of the plan
	now    int // stop shot last; −1: none yet
	roots  map[notebook.ID]notebook.Reading
	dated  []dated
	visits []*oneVisit
	stays  map[stay]*oneVisit
}

// oneVisit is a visit while it is put together.
type oneVisit struct {
	record        *StopRecord
	from          time.Time // of the first brace height read, which is dated as the words beside it are; else of what began it
	braced, taped bool
}

// stay is one stretch of a recording at one stop: between two taps, or the
// whole of a recording made at a stop.
type stay struct{ recording, tap int }

// dated is something done at a stop that can begin a visit.
type dated struct {
	at    time.Time
	stop  int
	brace bool // else a stay
	stay  stay
}

// rootsOf gives for every reading the one at the head of its chain of
// corrections, which says when and at which visit it was taken.
func rootsOf(readings []notebook.Reading) map[notebook.ID]notebook.Reading {
	by := map[notebook.ID]notebook.Reading{}
	for _, r := range readings {
		by[r.ID] = r
	}
	roots := map[notebook.ID]notebook.Reading{}
	for _, r := range readings {
		root := r
		for range readings { // a chain is no longer than the list, should it bite its tail
			before, ok := by[root.Corrects]
			if root.Corrects == "" || !ok {
				break
			}
			root = before
		}
		roots[r.ID] = root
	}
	return roots
}

// order lists what can begin a visit by time; what has the same time stays as
// it was given, readings first.
func (v *visiting) order(readings []notebook.Reading, heard []Heard) {
	inPlan := func(stop *int) bool { return stop != nil && *stop >= 0 && *stop < v.stops }
	for _, r := range standing(readings) {
		if r.Kind == notebook.ReadBrace && inPlan(r.Stop) {
			v.dated = append(v.dated, dated{at: v.roots[r.ID].At, stop: *r.Stop, brace: true})
		}
	}
	for i, h := range heard {
		for _, d := range h.stretches() {
			if inPlan(&d.stop) {
				d.stay.recording = i
				v.dated = append(v.dated, d)
			}
		}
	}
	slices.SortStableFunc(v.dated, func(a, b dated) int { return a.at.Compare(b.at) })
	v.stays = map[stay]*oneVisit{}
}

// place gives one thing that was done its visit, an old one or a new.
func (v *visiting) place(i int, d dated) {
	own := v.of(d.stop)
	var to *oneVisit
	switch {
	case len(own) > 0 && v.now == d.stop && !v.sentLate(i, own):
		to = own[len(own)-1]
	case d.brace:
		to = firstVisit(own, func(o *oneVisit) bool { return !o.braced })
	case len(own) > 0 && v.bracedNext(i) && own[len(own)-1].braced:
	default:
		to = firstVisit(own, func(o *oneVisit) bool { return !o.taped })
	}
	if to == nil {
		to = &oneVisit{record: &StopRecord{Stop: d.stop}, from: d.at}
		v.visits, v.now = append(v.visits, to), d.stop
	}
	if d.brace && !to.braced {
		to.braced, to.from = true, d.at
	}
	if !d.brace {
		to.taped = true
		v.stays[d.stay] = to
	}
}

// sentLate says that a recording (or reading) at the stop shot last is one of
// several still to come, as many as its visits lack: they were sent, and dated,
// after the shooting.
func (v *visiting) sentLate(i int, own []*oneVisit) bool {
	lack, runs, stop, brace := 0, 0, v.dated[i].stop, v.dated[i].brace
	for _, o := range own {
		if brace && !o.braced || !brace && !o.taped {
			lack++
		}
	}
	for k, d := range v.dated[i:] {
		if d.stop == stop && d.brace == brace && (k == 0 || v.dated[i+k-1].stop != stop) {
			runs++
		}
	}
	return lack > 1 && runs >= lack
}

// bracedNext says whether the next brace height that was read after i is that
// of the same stop: the recording then began before the square was at hand.
func (v *visiting) bracedNext(i int) bool {
	for _, d := range v.dated[i+1:] {
		if d.brace {
			return d.stop == v.dated[i].stop
		}
	}
	return false
}

func (v *visiting) of(stop int) (own []*oneVisit) {
	for _, o := range v.visits {
		if o.record.Stop == stop {
			own = append(own, o)
		}
	}
	return own
}

func firstVisit(list []*oneVisit, is func(*oneVisit) bool) *oneVisit {
	if i := slices.IndexFunc(list, is); i >= 0 {
		return list[i]
	}
	return nil
}

// fill puts readings and shots into their visits.
func (v *visiting) fill(s notebook.Settings, readings []notebook.Reading, heard []Heard) {
	for _, r := range standing(readings) {
		if r.Stop != nil && *r.Stop >= 0 && *r.Stop < v.stops {
			v.at(*r.Stop, v.roots[r.ID].At).take(r, s)
		}
	}
	for i, h := range heard {
		for _, shot := range h.Hearing.Measured() {
			stop, ok := h.StopOf(shot)
			if !ok || stop < 0 || stop >= v.stops {
				continue
			}
			record := v.heardAt(i, h, shot, stop)
			record.Shots = append(record.Shots, shot)
			if shot.Clipped > 0 {
				record.Clipped++
			}
		}
	}
}

// at is the visit to a stop that a reading of that moment belongs to: the last
// one begun by then.
func (v *visiting) at(stop int, when time.Time) *StopRecord {
	own := v.of(stop)
	for _, o := range slices.Backward(own) {
		if !when.Before(o.from) {
			return o.record
		}
	}
	if len(own) == 0 {
		own = append(own, &oneVisit{record: &StopRecord{Stop: stop}, from: when})
		v.visits = append(v.visits, own[0])
	}
	return own[0].record
}

// heardAt is the visit in which a shot was heard. A shot that was tied by hand
// to another stop than its recording's belongs to the visit there by time.
func (v *visiting) heardAt(i int, h Heard, shot sound.Shot, stop int) *StopRecord {
	if o := v.stays[stay{i, h.tapOf(shot)}]; o != nil && o.record.Stop == stop {
		return o.record
	}
	return v.at(stop, h.Recording.At.Add(seconds(float64(shot.Release))))
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// stretches are the stays at which something was shot, by time: a tap taken
// back at once, or a recording without a shot, begins no visit.
func (h Heard) stretches() (out []dated) {
	taps, seen := h.taps(), map[int]bool{}
	for _, shot := range h.Hearing.Measured() {
		k := h.tapOf(shot)
		if seen[k] {
			continue
		}
		seen[k] = true
		switch {
		case h.Recording.Stop != nil:
			out = append(out, dated{at: h.Recording.At, stop: *h.Recording.Stop, stay: stay{tap: k}})
		case k >= 0:
			out = append(out, dated{at: h.Recording.At.Add(seconds(taps[k].At)), stop: taps[k].Stop, stay: stay{tap: k}})
		}
	}
	return out
}

// tapOf is the place of the last tap before a shot among the recording's taps;
// −1: there is none, or the recording is one stop's.
func (h Heard) tapOf(shot sound.Shot) int {
	at := -1
	if h.Recording.Stop != nil {
		return at
	}
	for k, t := range h.taps() {
		if t.At <= float64(shot.Release) {
			at = k
		}
	}
	return at
}

// taps are the recording's taps by time.
func (h Heard) taps() []notebook.Tap {
	return slices.SortedFunc(slices.Values(h.Recording.Taps), func(a, b notebook.Tap) int { return cmp.Compare(a.At, b.At) })
}

// perStop joins the visits to each of the plan's stops, in the plan's order.
func perStop(p BracePlan, visits []StopRecord) (out []StopRecord) {
	for i := range p.Plan.Stops {
		joined := StopRecord{Stop: i}
		for _, v := range visits {
			if v.Stop == i {
				joined.join(v)
			}
		}
		if joined.Visit > 0 && !joined.empty() {
			out = append(out, joined)
		}
	}
	return out
}

// join adds a later visit to the same stop.
func (s *StopRecord) join(v StopRecord) {
	s.Braces, s.Speeds, s.Feels = append(s.Braces, v.Braces...), append(s.Speeds, v.Speeds...), append(s.Feels, v.Feels...)
	s.Shots, s.Notes = append(s.Shots, v.Shots...), append(s.Notes, v.Notes...)
	s.Arrows, s.Clipped, s.Visit = s.Arrows+v.Arrows, s.Clipped+v.Clipped, v.Visit
	if v.Turns != nil {
		s.Turns = v.Turns
	}
}

// empty says that nothing was measured or heard.
func (s StopRecord) empty() bool {
	return len(s.Braces) == 0 && len(s.Shots) == 0 && len(s.Speeds) == 0 && s.Turns == nil
}

// braces are the readings of a visit's brace height; of a visit without any,
// the mean of the other visits to that stop, taken for one reading.
func braces(visits []StopRecord, at StopRecord) []unit.Length {
	if len(at.Braces) > 0 {
		return at.Braces
	}
	var all StopRecord
	for _, v := range visits {
		if v.Stop == at.Stop {
			all.join(v)
		}
	}
	if h, ok := all.height(); ok {
		return []unit.Length{h}
	}
	return nil
}

// toJudge are the visits as package trial judges them.
func toJudge(p BracePlan, visits []StopRecord) (out []trial.BraceVisit) {
	for _, r := range visits {
		if b := braces(visits, r); len(b) > 0 {
			r.Braces = b
			out = append(out, r.visit(p.Plan.Stops[r.Stop]))
		}
	}
	return out
}
