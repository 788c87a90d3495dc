//go:build unix

package drill

import (
	"os"
	"time"
)

// bar is what a part of the bad day must hold (bars.md T22, T23).
type bar struct {
	p99, p999 time.Duration // of what was accepted
	held      time.Duration // every answer that is computed first: the program itself waits 0.4 s for quick work, and the first prediction of a bow takes as long
	refusal   time.Duration // 99 of 100 refusals
	sheds     bool          // refusals are wanted; else none may be
}

// What the bad line takes of a request and an answer of eight segments, at
// most, of 99 and of 999 in 1000 (TestTheBadLinesTimes).
const (
	farTakes  = 900 * time.Millisecond
	farTakes9 = 1900 * time.Millisecond
)

// The bars. Over a bad line what it takes of itself is on top. Beside fits, a backup and silent connections T23's 300 ms stand.
var (
	calmBar = bar{p99: 200 * time.Millisecond, p999: time.Second, held: 1400 * time.Millisecond}
	busyBar = bar{p99: 300 * time.Millisecond, p999: time.Second, held: 2400 * time.Millisecond}
	overBar = bar{p99: time.Second, p999: 5 * time.Second, held: 5400 * time.Millisecond, refusal: 50 * time.Millisecond, sheds: true}
	farBar  = bar{p99: calmBar.p99 + farTakes, p999: calmBar.p999 + farTakes9, held: calmBar.held + farTakes9}
)

// quiet says that nothing else runs on the machine, so that times count.
func quiet() bool { return os.Getenv("TAUTLINE_QUIET") == "1" }

// enough is how many answers make a 99 % quantile worth judging.
const enough = 400

// judge holds a part of the day to its bar: times and every refusal only on a
// quiet machine, since a drill usually shares its machine.
func (d *day) judge(what string, f *Figures, b bar) {
	for _, fault := range b.faults(f, quiet()) {
		d.r.Failf("%s: %s", what, fault)
	}
}

// faults says in what figures miss a bar.
func (b bar) faults(f *Figures, timed bool) (out []string) {
	asked, shed := f.Planned(), f.Shed()
	switch {
	case len(f.took) == 0:
		out = append(out, "nothing was answered")
	case !b.sheds && shed > 0 && timed:
		out = append(out, "refused at the usual pace: "+f.String())
	case !b.sheds && 2*shed > asked: // a shared machine may be short of time, but not of half of it
		out = append(out, "half is refused at the usual pace: "+f.String())
	case b.sheds && shed == 0 && asked >= enough && timed:
		out = append(out, "nothing was refused: "+f.String())
	}
	if !timed || asked < enough {
		return out
	}
	for _, q := range []struct {
		name string
		got  time.Duration
		most time.Duration
	}{{"p99", at(f.took, 0.99), b.p99}, {"p99.9", at(f.took, 0.999), b.p999}, {"p99 of refusals", at(f.refused, 0.99), b.refusal}, {"the longest answer that is computed", at(f.held, 1), b.held}} {
		if q.most > 0 && q.got > q.most {
			out = append(out, q.name+" is "+q.got.String()+", at most "+q.most.String()+" asked")
		}
	}
	return out
}
