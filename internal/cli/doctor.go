package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"tautline/internal/store"
	"tautline/notebook"
)

// doctorCmd says what is wrong and what to do next.
type doctorCmd struct {
	book
	Support string `help:"Also write a text file for whoever helps you: versions, sizes, schema, log, and no names. Read it before you send it." type:"path" placeholder:"FILE"`
	Quick   bool   `help:"Leave out reading every record and recording."`
}

// Help shows an example.
func (doctorCmd) Help() string {
	return `Example:
  tautline doctor
  tautline doctor --support support.txt

Looks and changes nothing, also while the notebook is being served. Ends with 1
when something is wrong.`
}

// finding is one thing that was looked at.
type finding struct {
	State string `json:"state"` // fine, look, wrong
	What  string `json:"what"`
	Do    string `json:"do,omitempty"`
}

// The states of a finding.
const (
	fine  = "fine"
	look  = "look"
	wrong = "wrong"
)

// diagnosis collects the findings.
type diagnosis struct {
	dir, backups string
	options      store.Options
	found        []finding
	facts        *store.Facts
	kept         []store.Kept
	private      []string // names and logins: taken out of the support file
}

func (d *diagnosis) add(state, do, format string, args ...any) {
	d.found = append(d.found, finding{state, fmt.Sprintf(format, args...), do})
}

// addError adds what an error says, and its hint.
func (d *diagnosis) addError(what string, err error) {
	var e *notebook.Error
	if errors.As(err, &e) {
		d.add(wrong, e.Hint, "%s: %s", what, e.Message)
		return
	}
	d.add(wrong, "look at the cause, then run this again", "%s: %v", what, err)
}

// Run looks and tells.
func (c doctorCmd) Run(ctx context.Context, t *terminal) error {
	dir, options, err := c.find()
	if err != nil {
		return err
	}
	d := &diagnosis{options: options}
	if d.dir, err = filepath.Abs(dir); err != nil { // whole, so that only folders are taken out of the support file
		return err
	}
	if d.backups, err = filepath.Abs(c.keptIn(dir)); err != nil {
		return err
	}
	d.folder()
	d.notebook(ctx, c.Quick)
	d.backedUp(ctx, c.Quick)
	d.logged()
	if c.Support != "" {
		if err := writeFile(c.Support, d.support); err != nil {
			return err
		}
		t.warnf("The support file is %s. It holds no names; read it before you send it.", c.Support)
	}
	return c.tell(t, d)
}

func (c doctorCmd) tell(t *terminal, d *diagnosis) error {
	bad := 0
	for _, f := range d.found {
		if f.State == wrong {
			bad++
		}
	}
	var err error
	if c.JSON {
		err = t.printJSON(map[string]any{"findings": d.found, "facts": d.facts})
	} else {
		err = d.print(t.out)
	}
	if err == nil && bad > 0 {
		return fmt.Errorf("%d things are wrong; what to do stands above, and more in: tautline manual club#when-something-is-wrong (on the pages: Help, /help/club#when-something-is-wrong)", bad)
	}
	return err
}

func (d *diagnosis) print(w io.Writer) (err error) {
	for _, f := range d.found {
		_, e := fmt.Fprintf(w, "%-5s  %s\n", f.State, f.What)
		err = errors.Join(err, e)
		if f.Do != "" {
			_, e = fmt.Fprintf(w, "       → %s\n", f.Do)
			err = errors.Join(err, e)
		}
	}
	return err
}

// folder looks at the notebook's folder and who has it open.
func (d *diagnosis) folder() {
	if _, err := os.Stat(d.dir); err != nil {
		d.add(wrong, "check --data; tautline where prints the usual folder", "there is no folder %s", d.dir)
		return
	}
	use := store.InUse(d.dir)
	switch {
	case use.Held:
		d.add(fine, "", "the notebook is open in process %s", use.Process)
	case use.Process != "":
		d.add(look, "nothing: the next start looks through the database before it writes", "process %s ended without closing the notebook", use.Process)
	default:
		d.add(fine, "", "no program has the notebook open, and the last one closed it")
	}
	if use.Interrupted && !use.Held {
		d.add(wrong, "start tautline serve, which finishes it", "a restore was interrupted")
	}
	if use.Open {
		d.add(look, "chmod 700 "+d.dir, "other users of this machine can look into the folder")
	}
}

// notebook looks at the database and, unless quick, reads every record.
func (d *diagnosis) notebook(ctx context.Context, quick bool) {
	s, err := store.Look(ctx, d.dir, d.options)
	if err != nil {
		d.addError("the notebook cannot be opened", err)
		return
	}
	defer s.Close() // only read
	f, err := s.Facts(ctx)
	if err != nil {
		d.addError("the notebook cannot be read", err)
		return
	}
	if d.private, err = s.Names(ctx); err != nil {
		d.addError("the notebook cannot be read", err)
		return
	}
	d.tell(f)
	if quick {
		return
	}
	r, err := s.Verify(ctx)
	switch {
	case err != nil:
		d.addError("the notebook cannot be checked", err)
	case len(r.Problems) > 0:
		d.add(wrong, "keep the folder as it is, then: tautline restore latest (what is there now is kept)", "%d problems in the notebook; the first: %s", len(r.Problems), r.Problems[0])
	default:
		d.add(fine, "", "every record and all %d recordings are whole", r.Recordings)
	}
}

// tell says what the notebook's files say of themselves.
func (d *diagnosis) tell(f store.Facts) {
	d.facts = &f
	d.add(fine, "", "%s, schema version %d, %s in the database, %s of recordings", f.Engine, f.Version, size(f.Database), size(f.Sounds))
	switch {
	case (store.Space{Free: f.Free, Total: f.Disk}).Low():
		d.add(wrong, "free some space; old copies in "+filepath.Join(d.dir, "copies")+" ("+size(f.Copies)+") may go when you no longer want to go back", "only %s are free on the notebook's disk", size(f.Free))
	case f.Free >= 0:
		d.add(fine, "", "%s are free on the notebook's disk", size(f.Free))
	}
}

// backedUp looks at the automatic backups and proves the newest again.
func (d *diagnosis) backedUp(ctx context.Context, quick bool) {
	kept, others, err := store.Backups(d.backups, d.dir, d.options)
	d.kept = kept
	if len(others) > 0 {
		d.add(fine, "", "backups of another notebook in %s (%d) are passed over", d.backups, len(others))
	}
	switch {
	case err != nil:
		d.addError("the backups cannot be listed", err)
		return
	case len(kept) == 0:
		d.add(look, "keep tautline serve running for a minute, or: tautline backup FOLDER", "there is no automatic backup in %s", d.backups)
		return
	}
	last := kept[len(kept)-1]
	old := time.Since(last.Manifest.Made)
	if old > 72*time.Hour {
		d.add(wrong, "see the log below for why; make one now: tautline backup FOLDER", "the newest of %d backups was made %s", len(kept), age(old))
	} else {
		d.add(fine, "", "the newest of %d backups was made %s", len(kept), age(old))
	}
	if n := len(last.Manifest.Lost); n > 0 {
		d.add(wrong, "tautline verify names them; an older backup may still have them", "%d recordings were lost in the notebook before that backup", n)
	}
	if quick {
		return
	}
	if _, err := store.CheckBackup(ctx, last.Dir); err != nil {
		d.addError("the newest backup", err)
	} else {
		d.add(fine, "", "the newest backup is whole")
	}
}

// logged looks for failures in the program's own log.
func (d *diagnosis) logged() {
	bad, last := 0, ""
	for _, line := range d.log() {
		if strings.Contains(line, `"level":"ERROR"`) {
			bad++
			last = line
		}
	}
	if bad > 0 {
		d.add(look, "look at "+filepath.Join(d.dir, logName), "%d failures in the log; the last: %s", bad, told(last, func(s string) string { return s }))
	}
}

// size says a number of bytes.
func size(n int64) string {
	switch {
	case n < 0:
		return "unknown"
	case n >= 10_000_000_000:
		return fmt.Sprintf("%.0f GB", float64(n)/1e9)
	case n >= 10_000_000:
		return fmt.Sprintf("%.0f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%.0f kB", float64(n)/1e3)
}
