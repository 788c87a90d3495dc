//go:build unix

package drill

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// aim is when a whole update happens: so long after the start the copy from
// before is there, and so long after that the new version.
type aim struct{ copied, done time.Duration }

// aim measures a whole update, by when its files were last written.
func (u *upgrader) aim(ctx context.Context, from string) (aim, error) {
	if a, known := u.aims[from]; known {
		return a, nil
	}
	p, _, err := u.old(ctx, u.r.Disk(), from)
	if err != nil {
		return aim{}, err
	}
	begun := time.Now()
	if err := p.Start(ctx); err != nil {
		return aim{}, err
	}
	defer p.Kill()
	done, err := os.Stat(filepath.Join(p.Data, "notebook.db-wal"))
	if err != nil {
		return aim{}, err
	}
	copied, err := os.Stat(copyBefore(p.Data))
	if err != nil {
		return aim{}, err
	}
	a := aim{max(0, copied.ModTime().Sub(begun)), max(time.Millisecond, done.ModTime().Sub(copied.ModTime()))}
	u.aims[from] = a
	return a, nil
}

// copyBefore names what says that the copy from before an update is whole; ""
// as long as there is none.
func copyBefore(dir string) string {
	found, err := filepath.Glob(filepath.Join(dir, "copies", "before-version-*", "backup.json"))
	if err != nil || len(found) == 0 {
		return ""
	}
	return found[0]
}

// killed kills an update: a quarter of the kills falls before its copy is made or
// while it is, the rest while the tables are changed or a little later.
func (u *upgrader) killed(ctx context.Context, from string) error {
	if from == u.from[len(u.from)-1] { // needs none
		from = u.from[u.dice.IntN(len(u.from)-1)]
	}
	aim, err := u.aim(ctx, from)
	if err != nil {
		return err
	}
	p, before, err := u.old(ctx, u.r.Disk(), from)
	if err != nil {
		return err
	}
	if err := p.Launch(ctx); err != nil {
		return err
	}
	if u.kills++; u.kills%4 == 0 {
		time.Sleep(u.between(0, aim.copied))
	} else {
		for end := time.Now().Add(startTime); copyBefore(p.Data) == "" && time.Now().Before(end); time.Sleep(100 * time.Microsecond) {
		}
		time.Sleep(u.between(0, aim.done*5/4))
	}
	p.Kill()
	if err := u.where(ctx, from, p.Data); err != nil {
		return err
	}
	u.same("a killed update", before, p)
	if err := p.Start(ctx); err != nil {
		return err
	}
	p.Kill()
	u.same("the update after a killed one", before, p)
	if now, err := versionOf(ctx, p.Data); err != nil || now != len(u.from) {
		u.r.Failf("the update after a killed one ends at version %d: %v", now, err)
	}
	return os.RemoveAll(p.Data)
}

// between is a random time.
func (u *upgrader) between(low, high time.Duration) time.Duration {
	return low + time.Duration(u.dice.Int64N(int64(high-low)+1))
}

// Where a kill may fall into an update.
const (
	beforeCopy = "before the copy was whole"
	inChange   = "in the change of the tables"
	afterwards = "when all was done"
)

// where tells what a kill left: which version, and whether the copy is whole.
func (u *upgrader) where(ctx context.Context, from, dir string) error {
	copied, err := copyDatabase(dir)
	defer os.RemoveAll(copied)
	if err != nil {
		return err
	}
	now, err := versionOf(ctx, copied)
	switch {
	case err != nil:
		return err
	case now == len(u.from):
		u.found[afterwards]++
	case copyBefore(dir) == "":
		u.found[beforeCopy]++
		if was := filepath.Base(from); was != fmt.Sprint("v", now) {
			u.r.Failf("killed before the copy of %s was whole, and the tables are of version %d", was, now)
		}
	default:
		u.found[inChange]++
	}
	return nil
}

// missed says that every kill came when all was done.
func (u *upgrader) missed() bool { return u.found[afterwards] == u.kills }

// tell demands that enough kills fell into the change itself.
func (u *upgrader) tell() {
	all := 0
	for _, n := range u.found {
		all += n
	}
	for from, a := range u.aims {
		u.r.Logf("an update of %s: its copy is whole after %v, and all done %v later", filepath.Base(from), a.copied.Round(time.Millisecond), a.done.Round(time.Millisecond))
	}
	u.r.Logf("of %d kills %d fell %s, %d %s, %d %s", all, u.found[beforeCopy], beforeCopy, u.found[inChange], inChange, u.found[afterwards], afterwards)
	if all >= 10 && u.found[inChange] < all/4 {
		u.r.Failf("only %d of %d kills fell %s: the drill is blind", u.found[inChange], all, inChange)
	}
	if u.missed() {
		u.r.Failf("no kill fell into an update: the drill is blind")
	}
}

// byOlder lets the program of before the newest version meet a notebook that was
// brought up to date: it refuses it unchanged to the byte, and after going back it
// works on it again.
func (u *upgrader) byOlder(ctx context.Context, from string) error {
	bin, version, err := u.r.older(ctx)
	if err != nil {
		return err
	}
	if from == u.from[len(u.from)-1] { // which it cannot read
		from = u.from[version-1]
	}
	old, _, err := u.old(ctx, u.r.Disk(), from)
	if err != nil {
		return err
	}
	old.bin = bin
	w := NewWriter(old, NewLedger(), u.r.Random())
	if err := u.serves(ctx, old, w); err != nil {
		return err
	}
	before, err := ReadFolder(ctx, old.Data)
	if err != nil {
		return err
	}
	if now, err := versionOf(ctx, old.Data); err != nil || now != version {
		u.r.Failf("the older program works at version %d, not %d: %v", now, version, err)
	}
	p := u.r.Program(old.Data, "--backup-every", "0")
	later := *w
	later.URL, later.Ledger = p.URL(), NewLedger()
	if err := u.serves(ctx, p, &later); err != nil {
		return err
	}
	if err := u.refuses(ctx, old); err != nil {
		return err
	}
	if out, err := p.Run(ctx, "go-back"); err != nil {
		u.r.Failf("going back for an older program: %v: %s", err, out)
	}
	u.same("gone back for an older program", before, p)
	return u.serves(ctx, old, w)
}

// serves lets a program take some writes.
func (u *upgrader) serves(ctx context.Context, p *Program, w *Writer) error {
	if err := p.Start(ctx); err != nil {
		return err
	}
	for range 5 {
		if err := w.Write(ctx); err != nil {
			u.r.Failf("written to the program of an older or newer version: %v", err)
			break
		}
	}
	return p.Stop()
}

// refuses demands that an older program does not start, says why, and changes
// no byte of the database.
func (u *upgrader) refuses(ctx context.Context, old *Program) error {
	before, err := os.ReadFile(filepath.Join(old.Data, "notebook.db"))
	if err != nil {
		return err
	}
	began := len(old.Said())
	started := old.Start(ctx)
	old.Kill()
	if said := old.Said()[began:]; started == nil || !strings.Contains(said, "newer program (version") {
		u.r.Failf("an older program on a newer notebook says %q", said)
	}
	after, err := os.ReadFile(filepath.Join(old.Data, "notebook.db"))
	if err != nil || !bytes.Equal(before, after) {
		u.r.Failf("an older program changed a newer notebook: %v", err)
	}
	return nil
}

func versionOf(ctx context.Context, dir string) (version int, err error) {
	db, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "notebook.db"))
	if err != nil {
		return 0, err
	}
	err = db.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version").Scan(&version)
	return version, errors.Join(err, db.Close())
}
