//go:build unix

package drill

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
)

// sites are the calls of one kind that an operation makes: each is to fail in
// each way.
type sites struct {
	operation, call string
	made            int // by one thread in a clean run
	next            []fault
	tried, fired    int
}

// longRun is how many rounds a run has that takes every operation.
const longRun = 100

// plan counts the calls of a clean run of every operation; a short run takes
// some of the operations.
func (d *faulty) plan(ctx context.Context) (plan []*sites, err error) {
	operations := slices.Concat(overHTTP, commands)
	if d.r.N < longRun {
		operations = []string{overHTTP[d.dice.IntN(7)], "upload", "upload part", "import", "erase"}
	}
	for _, op := range operations {
		t := d.trial(fault{op, strings.Join(faultCalls, ","), "", 0})
		if err := t.run(ctx); err != nil {
			return nil, fmt.Errorf("%s without a fault: %w", op, err)
		}
		if t.failed != "" {
			return nil, fmt.Errorf("%s without a fault: %s", op, t.failed)
		}
		counts := t.calls()
		if err := os.RemoveAll(t.p.Data); err != nil {
			return nil, err
		}
		for _, call := range faultCalls {
			if n := counts[call]; n > 0 {
				plan = append(plan, d.sites(op, call, n))
			}
		}
		d.r.Logf("calls of one thread in %s: %v", op, counts)
	}
	d.dice.Shuffle(len(plan), func(i, j int) { plan[i], plan[j] = plan[j], plan[i] })
	return plan, nil
}

// sites are those that a clean run shows, in any order.
func (d *faulty) sites(operation, call string, made int) *sites {
	s := &sites{operation: operation, call: call, made: made}
	for n := range made {
		for _, kind := range faultKinds {
			s.next = append(s.next, fault{operation, call, kind, n + 1})
		}
	}
	d.dice.Shuffle(len(s.next), func(i, j int) { s.next[i], s.next[j] = s.next[j], s.next[i] })
	return s
}

// sweep tries site after site, in turn of every operation and call, so that
// each has had its share however much of it is done.
func (d *faulty) sweep(ctx context.Context, plan []*sites) {
	tried := 0
	for left := true; left; {
		left = false
		for _, s := range plan {
			if len(s.next) == 0 || tried == d.r.N || ctx.Err() != nil {
				continue
			}
			left = true
			tried++
			d.try(ctx, s)
		}
	}
}

// try makes a site's call fail. Where that was the last that was known, and it
// was made, there may be one more.
func (d *faulty) try(ctx context.Context, s *sites) {
	f := s.next[0]
	s.next = s.next[1:]
	s.tried++
	fired := d.fires(ctx, f)
	for n := 1; !fired && s.fired == 0 && n <= s.made; n++ { // something of it must
		f.n = n
		fired = d.fires(ctx, f)
	}
	if !fired {
		return
	}
	s.fired++
	if bound := 2*s.made + 5; f.n >= s.made && f.n < bound {
		f.n++
		s.next = append(s.next, f)
	}
}

// triesOfASite is how often a call is made to fail until it does: another time
// the threads share the work in another way.
const triesOfASite = 3

// fires tries until a fault has happened.
func (d *faulty) fires(ctx context.Context, f fault) bool {
	for range triesOfASite {
		fired, err := d.round(ctx, f)
		if err != nil && ctx.Err() == nil {
			d.r.Failf("%v: %v", f, err)
		}
		if fired || ctx.Err() != nil {
			return fired
		}
	}
	return false
}

// round makes one thing go wrong, and tells whether it did.
func (d *faulty) round(ctx context.Context, f fault) (fired bool, err error) {
	t := d.trial(f)
	defer os.RemoveAll(t.p.Data)
	if err := t.run(ctx); err != nil {
		return false, err
	}
	if !t.fired() || strings.Contains(t.p.Said(), "netpollBreak") {
		return false, nil // an error for the runtime's own wake-up call is none of a disk's
	}
	d.r.Counted()
	t.judge(ctx)
	return true, nil
}

// flawed are programs with a fault in them, by the operation, the calls that
// show it when they fail, and what is then said: errors of flushes that are
// ignored, and an erasing that a start does not go on with. Of the some 220 writes
// of an erasing the first 57 are the records' own and the next 28 bring the
// journal into the database; before they are done the old bytes stand in it.
var flawed = []struct {
	planted
	call, kind string
	at         []int
	says       string
}{
	{planted{"upload", "blobs.go", []string{"err = tmp.Sync(); err != nil", "_ = tmp.Sync(); err != nil"}}, "fsync,fdatasync", "error=EIO", []int{1, 2, 3, 4}, "the flush of"},
	{planted{"upload part", "uploads.go", []string{flushOfPart, "errors.Join(func() error { _ = f.Sync(); return nil }(), f.Close())"}}, "fsync,fdatasync", "error=EIO", []int{1, 2, 3, 4}, "the flush of"},
	{planted{"erase", "store.go", []string{"s.resumeErasing(ctx, true)", "error(nil)"}}, "pwrite64", "signal=SIGKILL", []int{60, 64, 68, 72, 76, 80}, "still stands in"},
}

// controls show that the drill can see: each flawed program must be found.
func (d *faulty) controls(ctx context.Context) error {
	for _, c := range flawed {
		bin, err := rebuilt(ctx, d.r, c.file, c.changes...)
		if err != nil {
			return err
		}
		var said page
		blind := *d
		blind.r = &Run{N: 20, Seed: d.r.Seed, bin: bin, dir: d.r.Folder(), disk: d.r.disk, log: &said, dice: d.r.Random()}
		for _, n := range c.at {
			blind.fires(ctx, fault{c.name, c.call, c.kind, n})
		}
		d.r.Logf("control, %s with a fault in %s: %d failures", c.name, c.file, blind.r.bad)
		if !strings.Contains(said.String(), c.says) && ctx.Err() == nil {
			d.r.Failf("%s with a fault in %s is not found: the drill is blind: %s", c.name, c.file, said.String())
		}
	}
	return nil
}
