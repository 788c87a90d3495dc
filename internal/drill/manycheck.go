//go:build unix

package drill

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
)

// intent is one record that a device means to keep.
type intent struct {
	id, kind, device, path string
	body                   []byte
	hash                   string // of a sound
	mark                   string // text that no other record has
	parent                 string // of a set-up
	at                     time.Time

	first, acked time.Time // by the clock of this machine; zero: never
	rolledBack   bool      // acknowledged, and then an older backup was restored
	refused      string
}

// edit is one change of a bow's notes from a version that the device read.
type edit struct {
	bow, mark      string
	based, version int    // version is 0 until it is acknowledged
	read           string // the notes of the version it was made from
	acked          time.Time
	rolledBack     bool
}

// history is all that devices meant, sent and heard.
type history struct {
	mu       sync.Mutex
	intents  map[string]*intent
	changes  []*edit
	refusals []*intent
	backup   time.Time
	restores int
}

func newHistory() *history { return &history{intents: map[string]*intent{}} }

func (h *history) with(f func()) {
	h.mu.Lock()
	defer h.mu.Unlock()
	f()
}

func (h *history) mean(in *intent) { h.with(func() { h.intents[in.id] = in }) }
func (h *history) edits(e *edit)   { h.with(func() { h.changes = append(h.changes, e) }) }
func (h *history) backupBegins()   { h.with(func() { h.backup = time.Now() }) }

func (h *history) sends(in *intent) {
	h.with(func() {
		if in.first.IsZero() {
			in.first = time.Now()
		}
	})
}

func (h *history) acks(in *intent, _ []byte) { h.with(func() { in.acked = time.Now() }) }

func (h *history) edited(e *edit, version int) {
	h.with(func() { e.version, e.acked = version, time.Now() })
}

func (h *history) refuses(in *intent, why string) {
	h.with(func() { in.refused = why; h.refusals = append(h.refusals, in) })
}

// acked are the records acknowledged so far and not given up since.
func (h *history) acked() (out []*intent) {
	h.with(func() {
		for _, in := range h.intents {
			if !in.acked.IsZero() && !in.rolledBack {
				out = append(out, in)
			}
		}
	})
	return out
}

// restored gives up what was acknowledged since the backup began.
func (h *history) restored() {
	h.with(func() {
		h.restores++
		for _, in := range h.intents {
			in.rolledBack = in.rolledBack || in.acked.After(h.backup)
		}
		for _, e := range h.changes {
			e.rolledBack = e.rolledBack || e.acked.After(h.backup)
		}
	})
}

func (h *history) ops() (n int) {
	h.with(func() { n = len(h.intents) + len(h.changes) })
	return n
}

// setUpSeen is a set-up as the program lists them.
type setUpSeen struct {
	SetUp struct {
		ID, Parent string
		Settles    []string
	} `json:"setup"`
	Beside []string
}

// seen is what one device has of the notebook.
type seen struct {
	device  string
	records map[string]string
}

// ending is what is left when everything was let through.
type ending struct {
	contents *Contents
	before   map[string]string      // bodies at some moment on the way, by id/version
	lists    map[string][]string    // ids by noun, in the notebook's order
	setups   map[string][]setUpSeen // by bow, newest first
	seen     []seen
	aside    []string // ids of what devices hold as refused
}

// checker collects what should not be.
type checker struct {
	h   *history
	e   ending
	bad []string
	t   tally
}

func (c *checker) add(format string, args ...any) {
	c.bad = append(c.bad, fmt.Sprintf(format, args...))
}

// check holds the ending against the history: what was acknowledged is there,
// nothing twice, nothing that nobody sent, nothing changed; edits form one
// chain, set-ups a chain or a fork that is told; the order is the server's;
// everyone sees the same.
func check(h *history, e ending) ([]string, tally) {
	c := &checker{h: h, e: e}
	c.bad = append(c.bad, e.contents.Problems...)
	c.acknowledged()
	c.stored()
	c.unchanged()
	c.chains()
	for bow, list := range e.setups {
		c.forks(bow, list)
	}
	for noun, ids := range e.lists {
		c.order(noun, ids)
	}
	c.equal()
	return c.bad, c.t
}

// acknowledged: every acknowledged record is there; what was refused was
// refused because a restore took what it names, and is still held aside.
func (c *checker) acknowledged() {
	for id, in := range c.h.intents {
		row, there := c.e.contents.Rows[id+"/1"]
		if in.kind == "sound" {
			there = c.e.contents.Files[in.hash] == in.hash
		}
		switch {
		case in.rolledBack:
			c.t.rolledBack++
		case in.refused != "":
			if c.h.restores == 0 || !slices.Contains(c.e.aside, id) {
				c.add("%s %s of %s was refused: %s", in.kind, id, in.device, in.refused)
			}
		case in.acked.IsZero():
			c.add("%s %s of %s was never acknowledged", in.kind, id, in.device)
		case !there:
			c.add("acknowledged %s %s is lost", in.kind, id)
		case in.kind != "sound" && !bytes.Contains(row.Body, []byte(in.mark)):
			c.add("acknowledged %s %s holds other content: %.200s", in.kind, id, row.Body)
		}
	}
	for _, in := range c.h.refusals {
		if in.kind == "edit" {
			c.add("an edit of bow %s was refused: %s", in.id, in.refused)
		}
	}
}

var marks = regexp.MustCompile(`(laptop|phone \d+), note \d+\.`)

// kept are the tables that devices write.
var kept = []string{"bows", "setups", "sessions", "readings", "ends", "recordings", "retractions"}

// stored: every record was meant by someone, once, and carries the device's
// time as the device said it and the server's as it was.
func (c *checker) stored() {
	at := map[string]string{}
	for key, row := range c.e.contents.Rows {
		if !slices.Contains(kept, row.Table) {
			continue
		}
		id, _, _ := strings.Cut(key, "/")
		in := c.h.intents[id]
		if in == nil {
			c.add("%s %s was never sent", row.Table, key)
			continue
		}
		mark := string(marks.Find(row.Body))
		if other, twice := at[mark]; twice {
			c.add("%q is there twice: %s and %s", mark, key, other)
		}
		at[mark] = key
		if strings.HasSuffix(key, "/1") {
			c.times(in, row)
		}
	}
}

// clockSlack is how far apart two readings of this machine's clock may seem.
const clockSlack = 2 * time.Second

func (c *checker) times(in *intent, row Row) {
	var stamp struct{ At, Received time.Time }
	if err := json.Unmarshal(row.Body, &stamp); err != nil {
		c.add("%s: %v", in.id, err)
		return
	}
	if !stamp.At.Equal(in.at) {
		c.add("%s %s was written at %v by its device's clock, stored as %v", in.kind, in.id, in.at, stamp.At)
	}
	late := !in.acked.IsZero() && !in.rolledBack && stamp.Received.After(in.acked.Add(clockSlack))
	if stamp.Received.Before(in.first.Add(-clockSlack)) || late {
		c.add("%s %s was sent at %v and acknowledged at %v, received at %v", in.kind, in.id, in.first, in.acked, stamp.Received)
	}
}

// unchanged: what was there on the way is there now, byte for byte.
func (c *checker) unchanged() {
	for key, body := range c.e.before {
		if now := string(c.e.contents.Rows[key].Body); now != body {
			c.add("%s was %.200s and is now %.200s", key, body, now)
		}
	}
}

// chains: each version of a bow was made from the one before it, by number and
// by content: numbers come again after a restore.
func (c *checker) chains() {
	byMark := map[string]*edit{}
	for _, e := range c.h.changes {
		byMark[e.mark] = e
		row := c.e.contents.Rows[fmt.Sprintf("%s/%d", e.bow, e.version)]
		switch {
		case e.version == 0 || e.rolledBack:
		case !bytes.Contains(row.Body, []byte(e.mark)):
			c.add("edit %q was acknowledged as version %d of bow %s, which holds %.200s", e.mark, e.version, e.bow, row.Body)
		default:
			c.t.edits++
		}
		if e.version == 0 {
			c.t.refusedEdits++
		}
	}
	for key, row := range c.e.contents.Rows {
		if row.Table != "bows" || strings.HasSuffix(key, "/1") {
			continue
		}
		var bow, before struct {
			Version int
			Notes   string
		}
		id, _, _ := strings.Cut(key, "/")
		e := byMark[string(marks.Find(row.Body))]
		if err := json.Unmarshal(row.Body, &bow); err != nil || e == nil || e.based != bow.Version-1 {
			c.add("version %s was made by an edit of another version: %+v %v", key, e, err)
			continue
		}
		if err := json.Unmarshal(c.e.contents.Rows[fmt.Sprintf("%s/%d", id, e.based)].Body, &before); err != nil || before.Notes != e.read {
			c.add("version %s was made from %q, and the version before it holds %q: %v", key, e.read, before.Notes, err)
		}
	}
}

// forks: of any two set-ups of a bow either one comes from the other, or the
// later says that the earlier, or what became of it, stood beside it.
func (c *checker) forks(bow string, newest []setUpSeen) {
	from := map[string]map[string]bool{} // all that a set-up comes from
	list := slices.Clone(newest)
	slices.Reverse(list)
	for i, x := range list {
		from[x.SetUp.ID] = map[string]bool{x.SetUp.ID: true}
		for _, before := range append([]string{x.SetUp.Parent}, x.SetUp.Settles...) {
			maps.Copy(from[x.SetUp.ID], from[before])
		}
		if len(x.Beside) > 0 {
			c.t.forks++
		}
		for _, y := range list[:i] {
			told := slices.ContainsFunc(x.Beside, func(id string) bool { return from[id][y.SetUp.ID] })
			if !from[x.SetUp.ID][y.SetUp.ID] && !told {
				c.add("bow %s: set-up %s does not know of %s, and nobody is told", bow, x.SetUp.ID, y.SetUp.ID)
			}
		}
	}
}

// order: what was acknowledged before another was first sent stands before
// it, whatever the ids and the devices' clocks say.
func (c *checker) order(noun string, ids []string) {
	var latest *intent
	for i, id := range ids {
		in := c.h.intents[id]
		if in == nil {
			continue // told elsewhere
		}
		if i > 0 && ids[i-1] > id {
			c.t.lateOrder++
		}
		if latest != nil && !in.acked.IsZero() && !in.rolledBack && in.acked.Before(latest.first) {
			c.add("%s: %s was acknowledged before %s was first sent, and stands after it", noun, id, latest.id)
		}
		if latest == nil || in.first.After(latest.first) {
			latest = in
		}
	}
}

// equal: every device has what the notebook holds.
func (c *checker) equal() {
	n := 0
	for _, row := range c.e.contents.Rows {
		if _, listed := lists[row.Table]; listed {
			n++
		}
	}
	for _, s := range c.e.seen {
		if len(s.records) != n {
			c.add("%s has %d records, the notebook %d", s.device, len(s.records), n)
		}
		for id, record := range c.e.seen[0].records {
			if s.records[id] != record {
				c.add("%s sees %s otherwise: %.200s instead of %.200s", s.device, id, s.records[id], record)
			}
		}
	}
}
