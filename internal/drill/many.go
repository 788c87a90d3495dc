//go:build unix

package drill

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// manyClients is five phones with outboxes, a laptop and the command line on
// one notebook, with everything between them going wrong (bars.md T11, T12 and
// drill D7, after the processes, nemeses and checkers of Jepsen). A round is
// one seed on one engine; engines take turns.
var manyClients = Drill{Name: "D7", Title: "many clients", Short: 2, Long: 110, Run: runMany}

// opsARound is how many writes the devices of a round mean to make together.
const opsARound = 1000

func runMany(ctx context.Context, r *Run) error {
	total := tally{}
	for round := range r.N {
		ops := opsARound
		if r.N <= 2 {
			ops = 300 // in go test
		}
		found, t, err := manyRound(ctx, r, round%2 == 1, ops, nil)
		if errors.Is(err, ErrSkip) || ctx.Err() != nil {
			return err
		}
		if err != nil {
			r.Failf("round %d: %v", round, err)
			continue
		}
		r.Fail(fmt.Sprintf("round %d", round), found)
		total.add(t)
		r.Counted()
	}
	r.Logf("%v", total)
	if total.upgrades != r.n || total.kills == 0 || total.resent == 0 || total.lateOrder == 0 || r.N > 4 && (total.forks == 0 || total.restores == 0 || total.refusedEdits == 0) {
		r.Failf("too little went wrong for the drill to mean anything: %v", total)
	}
	return nil
}

// tally is how much happened.
type tally struct {
	ops, edits, refusedEdits, resent, kills, restarts, upgrades, deaths, jumps, partitions, restores, exports int

	forks, lateOrder, rolledBack, refused int
}

func (t *tally) add(o tally) {
	t.ops, t.edits, t.refusedEdits, t.resent = t.ops+o.ops, t.edits+o.edits, t.refusedEdits+o.refusedEdits, t.resent+o.resent
	t.kills, t.restarts, t.upgrades, t.deaths, t.jumps = t.kills+o.kills, t.restarts+o.restarts, t.upgrades+o.upgrades, t.deaths+o.deaths, t.jumps+o.jumps
	t.partitions, t.restores, t.exports, t.forks = t.partitions+o.partitions, t.restores+o.restores, t.exports+o.exports, t.forks+o.forks
	t.lateOrder, t.rolledBack, t.refused = t.lateOrder+o.lateOrder, t.rolledBack+o.rolledBack, t.refused+o.refused
}

func (t tally) String() string {
	return fmt.Sprintf("%d operations, %d of them edits (%d more were refused as outdated), %d requests sent again; %d kills of the server, %d restarts, %d upgrades from the version before, %d kills of a device, "+
		"%d clock jumps, %d partitions, %d restores of an older backup (%d acknowledged writes went with them, %d were then refused and kept aside), %d exports meanwhile; "+
		"%d set-ups stood beside others, %d records arrived in another order than their ids",
		t.ops, t.edits, t.refusedEdits, t.resent, t.kills, t.restarts, t.upgrades, t.deaths, t.jumps, t.partitions, t.restores, t.rolledBack, t.refused, t.exports, t.forks, t.lateOrder)
}

// between is what stands between the devices and the program, for the control:
// a planted bug.
type between func(http.RoundTripper) http.RoundTripper

// crowd is one round.
type crowd struct {
	r        *Run
	dice     *rand.Rand
	p        *Program
	postgres bool
	plant    between
	history  *history
	devices  []*device
	bows     []string
	left     atomic.Int64 // writes still to be meant
	backup   string       // the last one made, "" for none
	tally    tally
	snapshot map[string]string // bodies at some moment, by id/version
	faults   []string
}

// manyRound makes one round and gives what the checker found.
func manyRound(ctx context.Context, r *Run, postgres bool, ops int, plant between) (found []string, t tally, err error) {
	c := &crowd{r: r, dice: r.Random(), postgres: postgres, plant: plant, history: newHistory(), snapshot: map[string]string{}}
	c.p = r.Program(r.Folder())
	if postgres {
		address, err := r.Postgres(ctx)
		if err != nil {
			return nil, t, err
		}
		c.p.Env = []string{"TAUTLINE_DATABASE=" + address}
	}
	if plant == nil {
		if c.p.bin, _, err = r.older(ctx); err != nil {
			return nil, t, err
		}
	}
	if err := c.p.Start(ctx); err != nil {
		return nil, t, err
	}
	defer func() { c.p.Kill(); _ = os.RemoveAll(c.p.Data) }()
	c.left.Store(int64(ops))
	if err := c.begin(ctx); err != nil {
		return nil, t, err
	}
	if err := c.storm(ctx); err != nil {
		return nil, t, err
	}
	found, err = c.heal(ctx)
	return append(c.faults, found...), c.tally, err
}

// begin makes the devices, and on the laptop the bows with their first set-ups.
func (c *crowd) begin(ctx context.Context) error {
	for i := range 6 {
		c.devices = append(c.devices, newDevice(c, i))
	}
	laptop := c.devices[0]
	for range 3 {
		bow := laptop.newBow()
		c.bows = append(c.bows, bow)
		laptop.newSetUp(bow)
	}
	if laptop.flush(ctx); len(laptop.outbox) > 0 {
		return fmt.Errorf("the first bows were not taken")
	}
	return nil
}

// storm lets the devices work while things go wrong, until they have made what
// they were to make.
func (c *crowd) storm(ctx context.Context) error {
	c.calm(false)
	working, stop := context.WithCancel(ctx)
	defer stop()
	var group sync.WaitGroup
	for _, d := range c.devices {
		group.Go(func() { d.live(working) })
	}
	half := c.left.Load() / 2
	for c.left.Load() > 0 && ctx.Err() == nil {
		time.Sleep(time.Duration(5+c.dice.IntN(60)) * time.Millisecond)
		strike := c.strike
		if c.p.bin != c.r.bin && c.left.Load() < half {
			strike = c.upgrade
		}
		if err := strike(ctx); err != nil {
			stop()
			group.Wait()
			return err
		}
	}
	var err error
	if c.p.bin != c.r.bin && ctx.Err() == nil { // they were quick
		err = c.upgrade(ctx)
	}
	stop()
	group.Wait()
	return errors.Join(err, ctx.Err())
}

// strike makes one thing go wrong.
func (c *crowd) strike(ctx context.Context) error {
	d := c.devices[c.dice.IntN(len(c.devices))]
	switch k := c.dice.IntN(20); {
	case k < 5:
		c.tally.kills++
		c.crash()
		return c.p.Start(ctx)
	case k < 6:
		c.tally.restarts++
		if err := c.p.Stop(); err != nil {
			return err
		}
		return c.p.Start(ctx)
	case k < 10:
		c.tally.deaths++
		d.die()
	case k < 13:
		c.tally.jumps++
		d.jump(c.dice)
	case k < 16:
		c.tally.partitions++
		d.net.cut(time.Duration(50+c.dice.IntN(400)) * time.Millisecond)
	case k < 17:
		return c.look(ctx)
	case k < 18:
		return c.export(ctx)
	case k < 19:
		return c.makeBackup(ctx)
	case c.backup != "" && c.tally.restores == 0:
		return c.restore(ctx)
	}
	return nil
}

// upgrade puts the present program in the place of the one before, as an owner
// does while the devices go on.
func (c *crowd) upgrade(ctx context.Context) error {
	c.tally.upgrades++
	if err := c.p.Stop(); err != nil {
		return err
	}
	c.p.bin = c.r.bin
	return c.p.Start(ctx)
}

// crash kills the program; what only memory held is gone.
func (c *crowd) crash() {
	c.p.Kill()
	for _, d := range c.devices {
		d.net.forgetful()
	}
}

// look remembers every body as it is now: none may ever change.
func (c *crowd) look(ctx context.Context) error {
	now, err := c.contents(ctx)
	if err != nil {
		return err
	}
	for key, row := range now.Rows {
		c.snapshot[key] = string(row.Body)
	}
	return nil
}

// export is the command line on the open notebook: what was acknowledged
// before it began is in it.
func (c *crowd) export(ctx context.Context) error {
	c.tally.exports++
	must := c.history.acked()
	to := filepath.Join(c.r.Folder(), "export")
	if out, err := c.p.Run(ctx, "export", to); err != nil {
		return fmt.Errorf("export: %w: %s", err, out)
	}
	lines, err := exported(to)
	if err != nil {
		return err
	}
	for _, in := range must {
		if in.kind != "sound" && !lines[in.id] {
			c.faults = append(c.faults, fmt.Sprintf("%s %s was acknowledged before an export and is not in it", in.kind, in.id))
		}
	}
	return os.RemoveAll(to)
}

var idInJSON = regexp.MustCompile(`"id":\s*"([0-9a-f-]{36})"`)

// exported gives the ids of all records in an unpacked export.
func exported(dir string) (map[string]bool, error) {
	b, err := os.ReadFile(filepath.Join(dir, "notebook.json"))
	ids := map[string]bool{}
	for _, m := range idInJSON.FindAllSubmatch(b, -1) {
		ids[string(m[1])] = true
	}
	return ids, err
}

// makeBackup copies the notebook while it is in use.
func (c *crowd) makeBackup(ctx context.Context) error {
	if c.backup != "" {
		return nil
	}
	c.history.backupBegins()
	to := filepath.Join(c.r.Folder(), "backup")
	if out, err := c.p.Run(ctx, "backup", to); err != nil {
		return fmt.Errorf("backup: %w: %s", err, out)
	}
	c.backup = to
	return nil
}

// restore goes back to the backup, as an owner does after a disaster: what was
// acknowledged since is gone by their decision, and nothing else is.
func (c *crowd) restore(ctx context.Context) error {
	c.tally.restores++
	c.crash()
	if err := c.goBack(ctx); err != nil {
		return err
	}
	c.history.restored()
	c.snapshot = map[string]string{}
	for _, d := range c.devices {
		d.forget()
	}
	return c.p.Start(ctx)
}

func (c *crowd) goBack(ctx context.Context) error {
	if out, err := c.p.Run(ctx, "restore", c.backup); err != nil {
		return fmt.Errorf("restore: %w: %s", err, out)
	}
	return nil
}

// calm makes the networks whole, or not.
func (c *crowd) calm(yes bool) {
	for _, d := range c.devices {
		d.net.calm.Store(yes)
	}
}

// heal lets everything through, has every device send what it still holds,
// settles what went apart, and compares.
func (c *crowd) heal(ctx context.Context) ([]string, error) {
	c.calm(true)
	for _, d := range c.devices {
		d.net.heal()
	}
	for _, d := range c.devices {
		for range 50 {
			if d.flush(ctx); len(d.outbox) == 0 {
				break
			}
		}
		if len(d.outbox) > 0 {
			c.faults = append(c.faults, fmt.Sprintf("%s cannot send what it holds: %s", d.name, d.last))
		}
		c.tally.refused += len(d.aside)
		c.tally.resent += int(d.net.again.Load())
	}
	forks, err := c.settle(ctx)
	if err != nil {
		return nil, err
	}
	end, err := c.ending(ctx)
	if err != nil {
		return nil, err
	}
	found, t := check(c.history, end)
	c.tally.add(t)
	c.tally.ops += c.history.ops()
	return append(forks, found...), nil
}

// settle asks every bow whether people are to choose, and chooses: afterwards
// there is nothing left to ask.
func (c *crowd) settle(ctx context.Context) (found []string, err error) {
	laptop := c.devices[0]
	for _, bow := range c.bows {
		laptop.settle(ctx, bow)
		laptop.flush(ctx)
		var view bowSeen
		if err := laptop.get(ctx, "/api/v1/bows/"+bow, &view); err != nil {
			return nil, err
		}
		if view.Fork != nil {
			found = append(found, fmt.Sprintf("bow %s is still to be chosen about after the choice", bow))
		}
	}
	return found, nil
}

// contents is what the notebook holds, read without the program. SQLite may
// not let a reader in that may write nothing while a program that was just
// started makes its journal; the next try is let in.
func (c *crowd) contents(ctx context.Context) (out *Contents, err error) {
	for range 20 {
		if c.postgres {
			out, err = ReadPostgres(ctx, strings.TrimPrefix(c.p.Env[0], "TAUTLINE_DATABASE="), c.p.Data)
		} else {
			out, err = ReadLive(ctx, c.p.Data)
		}
		if err == nil {
			return out, nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	return out, err
}

// ending gathers what is left: the notebook, and what each device sees of it.
func (c *crowd) ending(ctx context.Context) (e ending, err error) {
	if e.contents, err = c.contents(ctx); err != nil {
		return e, err
	}
	e.before = c.snapshot
	e.lists, e.setups = map[string][]string{}, map[string][]setUpSeen{}
	for _, bow := range c.bows {
		var list struct{ Rows []setUpSeen }
		if err := c.devices[0].get(ctx, "/api/v1/bows/"+bow+"/setups", &list); err != nil {
			return e, err
		}
		e.setups[bow] = list.Rows
	}
	fresh := newDevice(c, len(c.devices))
	fresh.net.calm.Store(true)
	for i, d := range append([]*device{fresh}, c.devices...) {
		if err := d.pull(ctx); err != nil {
			return e, fmt.Errorf("%s: %w", d.name, err)
		}
		if i == 0 {
			e.lists = d.order
		}
		e.seen = append(e.seen, seen{d.name, d.pulled})
		for _, in := range d.aside {
			e.aside = append(e.aside, in.id)
		}
	}
	return e, nil
}
