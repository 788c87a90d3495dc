//go:build unix

package drill

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// badDay is a club's evening on which everything comes together: thirty people
// at the range, and meanwhile a slow upload, fits, a backup, a thousand
// connections that send nothing, ten times as many requests as usual, and a
// restart in the middle (bars.md T22, T23 and drill D10); then the same from far
// away over a bad line, and with TAUTLINE_SOAK=1h a long quiet evening. The
// rounds are seconds. It fails on what was lost or went wrong, when half is
// refused at the usual pace, on what the program holds more of than before, and
// on its memory; how long things took is told, and with TAUTLINE_QUIET=1, when
// nothing else runs on the machine, held to the bars, and nothing may be refused.
var badDay = Drill{Name: "D10", Title: "bad day at the club", Short: 12, Long: 600, Run: runBadDay}

// usual is how many requests a second a club's evening brings.
const usual = 50

type day struct {
	r     *Run
	p     *Program
	l     *Load
	db    *Counted
	whole time.Duration
	side  sync.WaitGroup // what goes on beside the load
}

func runBadDay(ctx context.Context, r *Run) error {
	address, err := r.Postgres(ctx)
	if err != nil {
		return err
	}
	size, lorises := Size{Archers: 300, Impacts: 2_000_000, Readings: 10_000}, 1000
	if r.N < 60 {
		size, lorises = Size{Archers: 20, Impacts: 20_000, Readings: 1000}, 200
	}
	d := &day{r: r, p: r.Program(r.Folder(), "--accounts"), whole: time.Duration(r.N) * time.Second}
	d.p.Env = []string{"TAUTLINE_DATABASE=" + address}
	begun := time.Now()
	archers, err := FillClub(ctx, d.p.Data, address, size, r.Random())
	if err != nil {
		return err
	}
	r.Logf("%d archers with %d impacts made in %v", size.Archers, size.Impacts, time.Since(begun).Round(time.Second))
	if d.db, err = Count(address); err != nil {
		return err
	}
	defer d.db.Close()
	if err := d.p.Start(ctx); err != nil {
		return err
	}
	defer d.p.Kill()
	d.l = NewLoad(d.p, archers, r.Random())
	soak, err := soakLength()
	return errors.Join(err, d.run(ctx, lorises), d.fromFar(ctx), d.soak(ctx, soak), ctx.Err())
}

// run is the day: a tenth at a time.
func (d *day) run(ctx context.Context, lorises int) error {
	tenth := d.whole / 10
	calm := d.l.Run(ctx, usual, tenth)
	d.tell("before", calm, &calmBar)
	before := d.vitals(ctx)
	d.beside("upload", func() error { return d.upload(ctx, 5*tenth) })
	d.tell("with a slow upload", d.l.Run(ctx, usual, tenth), &calmBar)
	for i := range 3 {
		d.beside("fit", func() error { return d.fit(ctx, d.l.Archers[len(d.l.Archers)-1-i]) })
	}
	d.tell("with three fits", d.l.Run(ctx, usual, tenth), &busyBar)
	d.beside("backup", func() error { return d.backup(ctx) })
	d.tell("with a backup", d.l.Run(ctx, usual, tenth), &busyBar)
	free := d.loris(lorises)
	d.tell("with silent connections", d.l.Run(ctx, usual, tenth), &busyBar)
	free()
	d.tell("ten times as much", d.l.Run(ctx, 10*usual, tenth), &overBar)
	time.Sleep(min(5*time.Second, tenth/2))
	after := d.l.Run(ctx, usual, tenth)
	d.tell("five seconds after", after, &calmBar)
	if after.Shed() > 0 && calm.Shed() == 0 && tenth >= 10*time.Second {
		d.r.Failf("still refusing after the overload: %v", after)
	}
	d.side.Wait()
	d.grown(ctx, "over the day", before)
	if err := d.restart(ctx); err != nil {
		return err
	}
	d.tell("after the restart", d.l.Run(ctx, usual, tenth), &calmBar)
	d.grown(ctx, "the restart", before)
	return d.kept(ctx, d.l)
}

// kept looks for everything that a load was told is kept.
func (d *day) kept(ctx context.Context, l *Load) error {
	missing, acked, err := l.Missing(ctx, d.db)
	d.r.Logf("%d records acknowledged, %d missing", acked, len(missing))
	d.r.Fail("acknowledged and not there", missing)
	return err
}

// tell prints figures, notes answers that should not be, and holds them to a
// bar; nil for none, where no answer is an answer too.
func (d *day) tell(what string, f *Figures, b *bar) {
	d.r.Logf("%s: %v\n  %s", what, f, f.ByWhat())
	for range int(d.whole/time.Second) / 10 {
		d.r.Counted()
	}
	if b == nil {
		return
	}
	for _, e := range f.Errors {
		d.r.Failf("%s: %s", what, e)
	}
	d.judge(what, f, *b)
}

// beside does something while the load goes on.
func (d *day) beside(what string, do func() error) {
	begun := time.Now()
	d.side.Go(func() {
		err := do()
		if err != nil {
			d.r.Failf("%s: %v", what, err)
		}
		d.r.Logf("%s took %v", what, time.Since(begun).Round(time.Millisecond))
	})
}

// slow is a file as it comes over 0.75 Mbit/s.
type slow struct {
	left  int64
	until time.Time
}

func (s *slow) Read(b []byte) (int, error) {
	if s.left <= 0 || time.Now().After(s.until) {
		return 0, io.EOF
	}
	time.Sleep(100 * time.Millisecond)
	n := min(len(b), 9375, int(s.left))
	copy(b[:n], "RIFF and what follows")
	s.left -= int64(n)
	return n, nil
}

// upload sends as much of a 200 MB recording as the line takes until its end.
func (d *day) upload(ctx context.Context, length time.Duration) error {
	body := &slow{200_000_000, time.Now().Add(length)}
	r, err := http.NewRequestWithContext(ctx, "PUT", d.p.URL()+"/api/v1/recordings/"+string(notebook.NewID())+"/sound", body)
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "audio/wav")
	r.Header.Set("Authorization", "Bearer "+d.l.Archers[0].Token)
	answer, err := (&http.Client{}).Do(r)
	if err != nil {
		return err
	}
	defer drain(answer)
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("answered %s", answer.Status)
	}
	return nil
}

// fit gives a bow readings and asks for its fit until it is there.
func (d *day) fit(ctx context.Context, who Archer) error {
	for i, body := range fittable() {
		body["bow"], body["setup"] = who.Bow, who.SetUp
		if err := d.note(ctx, who, body); err != nil {
			return fmt.Errorf("reading %d: %w", i, err)
		}
	}
	for ctx.Err() == nil {
		status, retry, text, err := d.l.send(ctx, ask{method: "GET", path: "/api/v1/bows/" + string(who.Bow) + "/fit"}, who)
		switch {
		case err != nil:
			return err
		case status == http.StatusOK && !strings.Contains(string(text), `"computing"`):
			return nil
		case status != http.StatusOK && retry == "":
			return fmt.Errorf("%d %s", status, text)
		}
		time.Sleep(500 * time.Millisecond)
	}
	return ctx.Err()
}

// fittable are readings from which a bow is fitted.
func fittable() []obj {
	return []obj{
		{"kind": "draw_force", "text": "24 lbf", "draw_length": "24 in"}, {"kind": "draw_force", "text": "31 lbf", "draw_length": "26 in"},
		{"kind": "draw_weight", "text": "38.2 lbf"}, {"kind": "speed", "text": "57.5 m/s"}, {"kind": "speed", "text": "57.9 m/s"}, {"kind": "brace_height", "text": "22.1 cm"},
		{"kind": "bare_shaft_right", "text": "6 cm", "distance": "18 m"},
	}
}

// note keeps a reading, as often as it is told to come again.
func (d *day) note(ctx context.Context, who Archer, body obj) error {
	a := ask{method: "PUT", path: "/api/v1/readings/" + string(notebook.NewID()), body: body}
	for {
		status, retry, text, err := d.l.send(ctx, a, who)
		switch {
		case err != nil:
			return err
		case status == http.StatusOK || status == http.StatusCreated:
			return nil
		case retry == "":
			return fmt.Errorf("%d %s", status, text)
		}
		time.Sleep(time.Second)
	}
}

func (d *day) backup(ctx context.Context) error {
	to := filepath.Join(d.r.Folder(), "backup")
	if out, err := d.p.Run(ctx, "backup", to); err != nil {
		return fmt.Errorf("%w: %s", err, out)
	}
	return os.RemoveAll(to)
}

// loris opens connections that send the beginning of a request and no more,
// half of them in its head and half in its body; free lets go of them.
func (d *day) loris(n int) (free func()) {
	var open []net.Conn
	head := "PUT /api/v1/sessions/" + string(notebook.NewID()) + " HTTP/1.1\r\nHost: " + d.p.Listen + "\r\nContent-Type: application/json\r\nContent-Length: 900\r\n"
	for i := range n {
		c, err := net.DialTimeout("tcp", d.p.Listen, time.Second)
		if err != nil {
			d.r.Failf("connection %d: %v", i, err)
			break
		}
		begin := head
		if i%2 == 0 {
			begin += "\r\n{"
		}
		if _, err := io.WriteString(c, begin); err == nil {
			open = append(open, c)
		}
	}
	return func() {
		for _, c := range open {
			c.Close()
		}
	}
}

// restart ends the program in the middle of its work, and begins it again.
func (d *day) restart(ctx context.Context) error {
	var f *Figures
	var during sync.WaitGroup
	during.Go(func() { f = d.l.Run(ctx, usual, max(2*time.Second, d.whole/20)) })
	time.Sleep(max(time.Second, d.whole/40))
	begun := time.Now()
	if err := d.p.Stop(); err != nil {
		d.r.Failf("SIGTERM: %v", err)
	}
	ended := time.Since(begun)
	if ended > 11*time.Second {
		d.r.Failf("it took %v to end", ended)
	}
	if err := d.p.Start(ctx); err != nil {
		return err
	}
	up := time.Since(begun)
	during.Wait()
	d.tell(fmt.Sprintf("over a restart (ended after %v, ready after %v)", ended.Round(time.Millisecond), up.Round(time.Millisecond)), f, nil)
	return nil
}

// fromFar is the same evening over a bad line: in a network of its own, or where
// the kernel makes none, over one that is made here.
func (d *day) fromFar(ctx context.Context) error {
	f, err := d.r.farAway(ctx)
	move := f.move
	if errors.Is(err, ErrSkip) {
		d.r.Logf("the bad line is made here, for the kernel makes none: %v", err)
		here := &line{dice: d.r.Random()}
		move, err = func(p *Program) { p.Dial = here.dial }, nil
	}
	if err != nil {
		return err
	}
	if err := d.p.Stop(); err != nil {
		return err
	}
	move(d.p)
	if err := d.p.Start(ctx); err != nil {
		return err
	}
	l := NewLoad(d.p, d.l.Archers, d.r.Random())
	before := d.vitals(ctx)
	d.tell("over a bad line ("+badLine+" each way)", l.Run(ctx, usual, d.whole/10), &farBar)
	l.client.CloseIdleConnections()
	d.grown(ctx, "the bad line", before)
	if err := d.p.Stop(); err != nil {
		d.r.Failf("SIGTERM over a bad line: %v", err)
	}
	d.p.Wrap, d.p.Dial = nil, nil
	return errors.Join(d.kept(ctx, l), d.p.Start(ctx))
}

// Counted asks a PostgreSQL database which records it has.
type Counted struct{ *sql.DB }

// Count opens a database to ask it.
func Count(address string) (*Counted, error) {
	db, err := sql.Open("pgx", address)
	return &Counted{db}, err
}

func (c *Counted) present(ctx context.Context, table string, ids []string) (map[string]bool, error) {
	rows, err := c.QueryContext(ctx, "SELECT id FROM "+table+" WHERE id = ANY($1)", ids)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	there := map[string]bool{}
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		there[id] = true
	}
	return there, rows.Err()
}
