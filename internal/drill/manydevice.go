//go:build unix

package drill

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"
)

// device is a phone or the laptop. Its outbox follows the page's rules: a
// record is kept before it is sent, they go out in order, each under its own
// id until it is answered; no answer stops the queue; a refusal is put aside
// where a person sees it. The outbox outlives the device's sudden death.
type device struct {
	c    *crowd
	name string
	dice *rand.Rand
	net  *network
	web  http.Client
	n    int
	last string // the last refusal or error

	outbox, aside []*intent

	mu    sync.Mutex
	ahead time.Duration // of its clock
	kill  context.CancelFunc

	current map[string]string // bow → the set-up it takes for current
	mine    []string          // readings it may retract or correct
	pulled  map[string]string // id → record, as it came
	order   map[string][]string
	cursor  map[string]string
	reset   bool
}

func newDevice(c *crowd, number int) *device {
	d := &device{c: c, name: fmt.Sprintf("phone %d", number), dice: c.r.Random()}
	if number == 0 {
		d.name = "laptop"
	}
	d.net = newNetwork(c.r.Random(), c.plant)
	d.net.calm.Store(true)
	d.web = http.Client{Transport: d.net, Timeout: 20 * time.Second}
	d.current = map[string]string{}
	d.forgetPulled()
	d.jump(d.dice)
	return d
}

// jump sets the device's clock: up to a year off, ahead or behind.
func (d *device) jump(dice *rand.Rand) {
	d.mu.Lock()
	defer d.mu.Unlock()
	const year = 365 * 24 * time.Hour
	d.ahead = time.Duration(dice.Int64N(int64(2*year))) - year
}

func (d *device) now() time.Time {
	d.mu.Lock()
	defer d.mu.Unlock()
	return time.Now().Add(d.ahead)
}

// newID is a UUIDv7 by the device's own clock.
func (d *device) newID() string {
	var u uuid.UUID
	binary.BigEndian.PutUint64(u[:8], uint64(d.now().UnixMilli())<<16|uint64(d.dice.IntN(1<<12))|0x7000)
	binary.BigEndian.PutUint64(u[8:], d.dice.Uint64())
	u[8] = u[8]&0x3f | 0x80
	return u.String()
}

// die ends the device in the middle of whatever it does.
func (d *device) die() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.kill != nil {
		d.kill()
	}
}

// forget makes it begin anew with what it has fetched: a list's cursor holds
// for one notebook, and that was replaced by an older one.
func (d *device) forget() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.reset = true
}

func (d *device) forgetPulled() {
	d.pulled, d.order, d.cursor = map[string]string{}, map[string][]string{}, map[string]string{}
}

// live works until there is nothing left to do, through any number of deaths.
func (d *device) live(ctx context.Context) {
	for ctx.Err() == nil && d.c.left.Load() > 0 {
		alive, kill := context.WithCancel(ctx)
		d.mu.Lock()
		d.kill = kill
		d.mu.Unlock()
		for alive.Err() == nil && d.c.left.Load() > 0 {
			d.act(alive)
		}
		kill()
		d.forgetPulled() // memory only
	}
}

// act does one thing.
func (d *device) act(ctx context.Context) {
	d.mu.Lock()
	reset := d.reset
	d.reset = false
	d.mu.Unlock()
	if reset {
		d.forgetPulled()
		d.current = map[string]string{}
	}
	bow := d.c.bows[d.dice.IntN(len(d.c.bows))]
	switch k := d.dice.IntN(20); {
	case k < 12:
		if d.c.left.Add(-1) >= 0 {
			d.mean(bow)
		}
	case k < 15:
		d.edit(ctx, bow)
	case k < 16:
		d.refresh(ctx, bow)
	case k < 17:
		d.settle(ctx, bow)
	case k < 18:
		_ = d.pull(ctx) // the network's faults are meant
	}
	if d.dice.IntN(3) > 0 {
		d.flush(ctx)
	}
	time.Sleep(time.Duration(d.dice.IntN(4)) * time.Millisecond)
}

// mean notes something, into the outbox.
func (d *device) mean(bow string) {
	setup := d.current[bow]
	switch k := d.dice.IntN(20); {
	case setup == "":
		d.add("sessions", obj{"bow": bow, "place": "hall", "note": d.mark()})
	case k < 9:
		d.mine = append(d.mine, d.add("readings", obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": fmt.Sprintf("%d mm", 200+d.dice.IntN(40)), "note": d.mark()}))
	case k < 12:
		d.add("ends", obj{"bow": bow, "setup": setup, "distance": "18 m", "face": "40", "number": 1 + d.n%1000, "note": d.mark(), "impacts": []obj{{"arrow": "1", "x_m": d.dice.Float64()/10 - 0.05, "y_m": 0.01}}})
	case k < 14:
		d.newSetUp(bow)
	case k < 15:
		d.attach(bow)
	case k < 17 && len(d.mine) > 0:
		d.add("readings", obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "221 mm", "corrects": d.mine[d.dice.IntN(len(d.mine))], "note": d.mark()})
	case k < 19 && len(d.mine) > 0:
		d.add("retractions", obj{"target": d.mine[d.dice.IntN(len(d.mine))], "reason": d.mark()})
	default:
		d.add("sessions", obj{"bow": bow, "place": "field", "note": d.mark()})
	}
}

// mark is text that no other record has.
func (d *device) mark() string { d.n++; return fmt.Sprintf("%s, note %d.", d.name, d.n) }

func (d *device) add(kind string, body obj) (id string) {
	in := &intent{id: d.newID(), kind: kind, device: d.name, at: d.now().UTC().Truncate(time.Microsecond)}
	in.mark = fmt.Sprintf("%s, note %d.", d.name, d.n)
	in.parent, _ = body["parent"].(string)
	body["at"] = in.at
	in.path, in.body = "/api/v1/"+kind+"/"+in.id, compact(body)
	d.outbox = append(d.outbox, in)
	d.c.history.mean(in)
	return in.id
}

func (d *device) newBow() string { return d.add("bows", obj{"name": d.mark()}) }

// newSetUp changes the bow from the set-up that the device takes for current,
// which another may have changed meanwhile.
func (d *device) newSetUp(bow string) {
	body := obj{"bow": bow, "reason": d.mark(), "settings": obj{
		"draw": obj{"length": "28.5 in", "weight": fmt.Sprintf("%d lbf", 34+d.dice.IntN(8))}, "brace_height": obj{"value": fmt.Sprintf("%d mm", 210+d.dice.IntN(20))},
	}}
	if parent := d.current[bow]; parent != "" {
		body["parent"] = parent
	}
	d.current[bow] = d.add("setups", body)
}

// attach keeps a sound, then says what it is of.
func (d *device) attach(bow string) {
	sound := Noise(d.dice, 200+d.dice.IntN(2000))
	in := &intent{id: d.newID(), kind: "sound", device: d.name, body: sound, hash: Hash(sound)}
	in.path = "/api/v1/recordings/" + in.id + "/sound"
	d.outbox = append(d.outbox, in)
	d.c.history.mean(in)
	d.add("recordings", obj{"hash": in.hash, "bow": bow, "name": d.mark(), "media": "audio/wav"})
}

// flush sends what waits, oldest first, and stops at the first that gets no
// answer.
func (d *device) flush(ctx context.Context) {
	for len(d.outbox) > 0 && ctx.Err() == nil {
		in := d.outbox[0]
		d.c.history.sends(in)
		status, text, err := d.send(ctx, "PUT", in.path, in.body, "")
		if err != nil || offline(status) {
			d.last = fmt.Sprint(status, err, string(text))
			return
		}
		if status == http.StatusOK || status == http.StatusCreated {
			d.c.history.acks(in, text)
		} else {
			d.last = fmt.Sprint(status, string(text))
			d.c.history.refuses(in, d.last)
			d.aside = append(d.aside, in)
			d.lost(in)
		}
		d.outbox = d.outbox[1:]
	}
}

// lost forgets what was refused, so that nothing more is made from it.
func (d *device) lost(in *intent) {
	for bow, setup := range d.current {
		if setup == in.id || in.kind == "setups" {
			delete(d.current, bow)
		}
	}
	d.mine = nil
}

// offline tells answers after which the page tries again later.
func offline(status int) bool {
	return status == 0 || status == http.StatusUnauthorized || status == http.StatusTooManyRequests || status >= 502
}

func (d *device) send(ctx context.Context, method, path string, body []byte, ifMatch string) (int, []byte, error) {
	r, err := http.NewRequestWithContext(ctx, method, d.c.p.URL()+path, bytes.NewReader(body))
	if err != nil {
		return 0, nil, err
	}
	if body == nil {
		r.Body, r.ContentLength = nil, 0
	}
	r.Header.Set("Content-Type", "application/json")
	if strings.HasSuffix(path, "/sound") {
		r.Header.Set("Content-Type", "audio/wav")
	}
	if ifMatch != "" {
		r.Header.Set("If-Match", ifMatch)
	}
	answer, err := d.web.Do(r)
	if err != nil {
		time.Sleep(time.Duration(5+d.dice.IntN(30)) * time.Millisecond) // nobody taps as fast as a lost network answers
		return 0, nil, err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	return answer.StatusCode, text, err
}

func (d *device) get(ctx context.Context, path string, into any) error {
	status, text, err := d.send(ctx, "GET", path, nil, "")
	if err != nil {
		return err
	}
	if status != http.StatusOK {
		return fmt.Errorf("%s: %d %s", path, status, text)
	}
	return json.Unmarshal(text, into)
}

// bowSeen is what a device reads of a bow.
type bowSeen struct {
	Bow struct {
		Version int
		Notes   string
	}
	Tag   string
	SetUp *struct {
		SetUp struct{ ID string } `json:"setup"`
	} `json:"setup"`
	Fork *struct {
		Sides []struct {
			SetUp string `json:"setup"`
		}
		Merged json.RawMessage
	}
}

// refresh learns which set-up is current.
func (d *device) refresh(ctx context.Context, bow string) {
	var view bowSeen
	if d.get(ctx, "/api/v1/bows/"+bow, &view) == nil && view.SetUp != nil {
		d.current[bow] = view.SetUp.SetUp.ID
	}
}

// settle chooses where set-ups went apart.
func (d *device) settle(ctx context.Context, bow string) {
	var view bowSeen
	if d.get(ctx, "/api/v1/bows/"+bow, &view) != nil || view.Fork == nil {
		return
	}
	var others []string
	for _, side := range view.Fork.Sides[:len(view.Fork.Sides)-1] {
		others = append(others, side.SetUp)
	}
	settings := any(obj{"draw": obj{"length": "28.5 in", "weight": "38 lbf"}, "brace_height": obj{"value": "22 cm"}})
	if view.Fork.Merged != nil {
		settings = view.Fork.Merged
	}
	d.current[bow] = d.add("setups", obj{"bow": bow, "parent": view.SetUp.SetUp.ID, "settles": others, "reason": d.mark(), "settings": settings})
}

// edit changes a bow's notes from the version it reads. Without an answer it
// looks what became of it.
func (d *device) edit(ctx context.Context, bow string) {
	var view bowSeen
	if d.get(ctx, "/api/v1/bows/"+bow, &view) != nil || d.c.left.Add(-1) < 0 {
		return
	}
	e := &edit{bow: bow, based: view.Bow.Version, read: view.Bow.Notes, mark: d.mark()}
	d.c.history.edits(e)
	body := compact(obj{"name": "Blue", "style": "recurve", "notes": e.mark})
	status, text, err := d.send(ctx, "PUT", "/api/v1/bows/"+bow+"/about", body, view.Tag)
	if err != nil || offline(status) {
		return // unknown: it may or may not be there, once
	}
	var stored struct{ Version int }
	switch {
	case status == http.StatusOK && json.Unmarshal(text, &stored) == nil:
		d.c.history.edited(e, stored.Version)
	case status != http.StatusPreconditionFailed:
		d.c.history.refuses(&intent{kind: "edit", id: bow}, fmt.Sprint(status, string(text)))
	}
}

// lists are the nouns that a device keeps a copy of.
var lists = map[string]string{"readings": "reading", "ends": "end", "sessions": "", "recordings": ""}

// pull fetches what is new since the last time, as a list's cursor tells.
func (d *device) pull(ctx context.Context) error {
	for noun, inside := range lists {
		if err := d.pullList(ctx, noun, inside); err != nil {
			return err
		}
	}
	return nil
}

func (d *device) pullList(ctx context.Context, noun, inside string) error {
	for {
		var page struct {
			Rows []json.RawMessage
			Next string
		}
		if err := d.get(ctx, "/api/v1/"+noun+"?retracted=true&limit=50&after="+d.cursor[noun], &page); err != nil {
			return err
		}
		for _, row := range page.Rows {
			if err := d.take(noun, inside, row); err != nil {
				return err
			}
		}
		if page.Next == "" {
			return nil // the last page is read again the next time
		}
		d.cursor[noun] = page.Next
	}
}

func (d *device) take(noun, inside string, row json.RawMessage) error {
	if inside != "" {
		var view map[string]json.RawMessage
		if err := json.Unmarshal(row, &view); err != nil {
			return err
		}
		row = view[inside]
	}
	var stamp struct{ ID string }
	if err := errors.Join(json.Unmarshal(row, &stamp)); err != nil || stamp.ID == "" {
		return fmt.Errorf("%s: a row without an id: %s %w", noun, row, err)
	}
	if _, known := d.pulled[stamp.ID]; !known {
		d.order[noun] = append(d.order[noun], stamp.ID)
	}
	d.pulled[stamp.ID] = string(row)
	return nil
}
