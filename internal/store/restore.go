package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"time"

	"tautline/notebook"
)

// Restored says what a restore, or going back, did.
type Restored struct {
	From     string   `json:"from"`     // the folder or schema it came from
	Manifest Manifest `json:"backup"`   // what that said of itself
	Kept     string   `json:"kept"`     // where the notebook from before is now; "" if there was none
	Whole    bool     `json:"proved"`   // what was kept is proved, and can be restored itself
	Sounds   int      `json:"sounds"`   // recordings brought back
	Report   *Report  `json:"report"`   // of the notebook afterwards; nil after going back
	LoggedIn bool     `json:"accounts"` // there are accounts; their sessions, tokens and open links ended
	TakenOn  bool     `json:"taken_on"` // the folder goes on as the notebook of the backup, which it was not before
	logged   bool     // it stands in the log of who did what
}

// Restore puts a backup in the place of the notebook in a folder or database.
// The backup is checked whole first; a damaged one changes nothing. The
// notebook from before is kept in the folder copies. Only files inside the
// folder are moved, so that the folder itself may be a mount point. A stop at
// any moment leaves the one or the other: what was begun is finished by the
// next opening. At the end the notebook is held against the backup.
func Restore(ctx context.Context, backup, dir string, o Options) (r Restored, err error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	r = Restored{From: backup}
	if r.Manifest, err = CheckBackup(ctx, backup); err != nil {
		return r, err
	}
	from, err := seenFolders(backup)
	if err != nil {
		return r, errors.Join(err, from.close())
	}
	defer func() { err = joined(err, from.close()) }()
	p, err := prepare(dir, o)
	if err != nil {
		return r, err
	}
	defer func() { err = p.end(err, r) }()
	before, err := idIn(p.files.own)
	r.TakenOn = r.Manifest.Notebook != "" && (err != nil || r.Manifest.Notebook != before)
	server, inDatabase := p.engine.(postgres)
	if inDatabase { // its copy is of the present version, so it is brought there first
		if err := p.open(ctx); err != nil {
			return r, err
		}
		if err := server.mustOwn(ctx, p.write, "restoring"); err != nil {
			return r, err
		}
	}
	if err := p.keep(ctx, &r, "before-restore"); err != nil {
		return r, err
	}
	if r.Sounds, err = p.bringSounds(ctx, from); err != nil {
		return r, err
	}
	if inDatabase {
		return r, p.restorePostgres(ctx, from.own, &r)
	}
	return r, p.restoreFile(ctx, from.own, &r)
}

// placing is a notebook's folder while something is put in its place.
type placing struct {
	*Store
	options Options
}

// prepare takes the folder for this program alone.
func prepare(dir string, o Options) (placing, error) {
	engine, err := o.engine(dir)
	if err != nil {
		return placing{}, err
	}
	if IsBackup(dir) {
		return placing{}, &notebook.Error{Code: notebook.Invalid, Field: "data", Message: dir + " is a backup itself", Hint: "name the notebook's folder with --data"}
	}
	files, err := makeFolders(dir, nil)
	if err != nil {
		return placing{}, err
	}
	held, err := acquire(files.own)
	if err != nil {
		return placing{}, errors.Join(err, files.close())
	}
	s := &Store{dir: dir, files: files, engine: engine, lock: held, now: o.Now, program: o.Program}
	s.tables()
	if err := files.finishPlacing(); err != nil {
		return placing{}, errors.Join(err, held.release(false), files.close())
	}
	return placing{s, o}, nil
}

// end closes the notebook. Where nothing was replaced in the end, the folder goes
// into which an unproved notebook would have been moved.
func (p placing) end(err error, r Restored) error {
	kept := filepath.Base(r.Kept)
	if err != nil && r.Kept != "" && !r.Whole && isNot(p.files.own, markName) && isNot(p.files.copies, path.Join(kept, databaseName)) {
		err = joined(err, fileError(p.files.copies.RemoveAll(kept)))
	}
	return errors.Join(err, p.Close())
}

// keep keeps the notebook as it is now, proved where it can be, in the folder
// copies. The sound files are shared with the notebook's own.
func (p placing) keep(ctx context.Context, r *Restored, name string) error {
	_, onFile := p.engine.(lite)
	if onFile && isNot(p.files.own, databaseName) {
		return nil
	}
	copied := unusedName(p.files.copies, name+"-"+p.now().UTC().Format(copyTime))
	r.Kept = pathIn(p.files.copies, copied)
	_, err := p.Backup(ctx, r.Kept, BackupOptions{Why: name, Beside: p.dir})
	r.Whole = err == nil
	if !onFile || ctx.Err() != nil || notebook.CodeOf(err) == notebook.DiskFull {
		return err
	}
	if isAny(err, errsOpen) {
		return err // which says nothing of the notebook
	}
	if err != nil && !isNot(p.files.copies, copied) {
		return err // what was begun could not be removed: it would pass for the notebook itself when that is moved there
	}
	if err != nil { // a ruined notebook is moved there as it is
		return fileError(p.keepSounds(ctx, path.Join(copied, recordingsDir)))
	}
	return nil
}

// isNot tells that there is nothing of a name, and not that nobody could look.
func isNot(in *os.Root, name string) bool {
	_, err := in.Lstat(name)
	return errors.Is(err, fs.ErrNotExist)
}

// unusedName adds a number to a name that is taken.
func unusedName(in *os.Root, name string) string {
	for try, n := name, 2; ; n++ {
		if _, err := in.Lstat(try); err != nil {
			return try // free, or nobody can tell, as who makes it will be told
		}
		try = fmt.Sprintf("%s-%d", name, n)
	}
}

// keepSounds keeps every sound file of a notebook whose records cannot be read.
func (p placing) keepSounds(ctx context.Context, to string) error {
	if err := p.files.copies.MkdirAll(to, 0o700); err != nil {
		return err
	}
	entries, err := listed(p.files.sounds)
	for _, e := range entries {
		kept := path.Join(to, e.Name())
		if p.files.own.Link(path.Join(recordingsDir, e.Name()), path.Join(copiesDir, kept)) != nil {
			err = errors.Join(err, copyFile(ctx, p.files.sounds, e.Name(), p.files.copies, kept))
		}
	}
	return errors.Join(err, syncFolder(p.files.copies, to))
}

// bringSounds adds the backup's sound files that the notebook lacks, or has
// damaged.
func (p placing) bringSounds(ctx context.Context, backup folders) (n int, err error) {
	sounds, err := soundsIn(ctx, backup.own)
	if err != nil {
		return 0, err
	}
	for _, one := range sounds {
		if checkFile(p.files.sounds, one.hash, one.bytes) == nil {
			continue
		}
		if !isHash(one.hash) || backup.sounds == nil {
			continue
		}
		if _, err := backup.sounds.Stat(one.hash); err != nil {
			continue // the notebook had lost it before: the check of the backup has let it pass
		}
		if err := replaceFile(ctx, backup.sounds, one.hash, p.files.sounds, one.hash, unfinished+one.hash, one.hash); err != nil {
			return n, fileError(err)
		}
		n++
	}
	return n, fileError(syncFolder(p.files.sounds, "."))
}

// restoreFile puts a backup's database in the place of the notebook's, brings
// it up to date and holds it against the backup.
func (p placing) restoreFile(ctx context.Context, backup *os.Root, r *Restored) error {
	before, err := p.staged(ctx, backup, r)
	if err != nil {
		return err
	}
	if err := p.swap(*r); err != nil {
		return err
	}
	if err := p.open(ctx); err != nil {
		return err
	}
	return p.compare(ctx, before, r)
}

// content is what a restored notebook must hold: every row of every table or,
// where the tables of an older version are others, every record.
type content struct {
	tables map[string]TableSum
	report *Report
}

// compare proves the notebook equal to the backup, and that every record of it
// can be read.
func (p placing) compare(ctx context.Context, before content, r *Restored) error {
	var after Report
	var have map[string]TableSum
	err := together(ctx,
		func(ctx context.Context) (err error) { after, err = p.Verify(ctx); return err },
		func(ctx context.Context) (err error) {
			if before.tables != nil {
				have, err = tableSums(ctx, p.engine, p.read)
			}
			return err
		})
	if err != nil {
		return err
	}
	r.Report = &after
	equal := differ(before.tables, have) == ""
	if old := before.report; old != nil {
		equal = after.Digest == old.Digest && maps.Equal(after.Counts, old.Counts)
	}
	if !equal {
		return &notebook.Error{Code: notebook.Damaged, Message: "the restored notebook is not equal to the backup", Hint: "check the disk; what was there before is in " + r.Kept}
	}
	if !r.logged { // the backup is older than the log
		return p.Note(ctx, p.entryOf(restoring, r.Manifest.Made))
	}
	return nil
}

// entry is how the log tells of what was done by whoever has this machine: not
// by a person of the notebook, but by a user of the system, by number.
func (s *Store) entry(what string) notebook.AuditEntry {
	e := notebook.AuditEntry{At: s.now().UTC(), What: what, From: "command line", Status: 200}
	if id := os.Getuid(); id >= 0 { // Windows has no such numbers
		e.From += fmt.Sprintf(", user %d", id)
	}
	return e
}

// entryOf tells of a state of the notebook, by its time.
func (p placing) entryOf(what string, of time.Time) notebook.AuditEntry {
	return p.entry(what + " " + of.UTC().Format(time.RFC3339))
}

// What the log says.
const (
	restoring = "restore of the backup of"
	goingBack = "going back to the state of"
	exporting = "export of the whole notebook"
)

// stagedName is the database that waits to take the notebook's place.
const stagedName = "restoring.db"

// staged stages a backup's database, and says what the notebook must hold once
// that has taken its place.
func (p placing) staged(ctx context.Context, backup *os.Root, r *Restored) (want content, err error) {
	if err := p.stage(ctx, backup, restoring, r); err != nil {
		return want, err
	}
	if want, err = p.expect(ctx, r.Manifest); err != nil {
		return want, errors.Join(err, p.files.own.RemoveAll(stagedName))
	}
	return want, nil
}

// stage copies a backup's database beside the notebook's, to the byte what was
// checked, ends what could let someone in again who was put out since, and
// notes in its log what is being done.
func (p placing) stage(ctx context.Context, backup *os.Root, what string, r *Restored) (err error) {
	if err := p.files.own.RemoveAll(stagedName); err != nil {
		return fileError(err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, p.files.own.RemoveAll(stagedName))
		}
	}()
	read, err := copySummed(ctx, backup, databaseName, p.files.own, stagedName)
	if err != nil {
		return fileError(err)
	}
	have, err := sumFile(ctx, p.files.own, stagedName)
	if err != nil || have != read || r.Manifest.Report == nil && have != r.Manifest.Database {
		return errors.Join(fileError(err), errDiffers)
	}
	db, err := openSQLite(pathIn(p.files.own, stagedName), plain)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, db.Close()) }()
	tables, err := (lite{}).tables(ctx, db)
	if err != nil {
		return err
	}
	if r.LoggedIn, err = dropAccess(ctx, db, tables); err != nil {
		return err
	}
	return p.log(ctx, db, tables, what, r)
}

var errDiffers = damaged("the copy differs from it, so nothing was replaced")

// log notes what is being done, where there is a log already.
func (p placing) log(ctx context.Context, in execs, tables []string, what string, r *Restored) error {
	if !slices.Contains(tables, auditTable) {
		return nil
	}
	r.logged = true
	return translate(note(ctx, in, p.entryOf(what, r.Manifest.Made)), "the log of who did what could not be written")
}

// expect says what the notebook must hold once the staged database has taken
// its place: what the backup holds, but for what stage changed.
func (p placing) expect(ctx context.Context, m Manifest) (want content, err error) {
	db, err := openSQLite(pathIn(p.files.own, stagedName), inspector)
	if err != nil {
		return want, err
	}
	defer func() { err = joined(err, db.Close()) }()
	if m.Report == nil && m.Version == newest() {
		want.tables = maps.Clone(m.Tables)
		for _, changed := range []string{credentialsTable, auditTable} {
			if want.tables[changed], err = sumTable(ctx, db, changed); err != nil {
				return want, translate(err, "the backup could not be read")
			}
		}
		return want, nil
	}
	r, err := p.verify(ctx, lite{}, db, p.files.sounds)
	if old := m.Report; err == nil && old != nil && old.Digest != r.Digest {
		err = errDiffers
	}
	want.report = &r
	return want, err
}

// The tables that stage changes.
const (
	credentialsTable = "credentials"
	auditTable       = "audit"
)

// dropAccess ends sessions, tokens and open links: some of them may have been
// ended or used since the backup. Passwords and printed codes stay.
func dropAccess(ctx context.Context, db execs, tables []string) (accounts bool, err error) {
	if !slices.Contains(tables, credentialsTable) {
		return false, nil
	}
	_, err = db.ExecContext(ctx, "DELETE FROM credentials WHERE kind IN ($1, $2, $3, $4)",
		string(notebook.SessionCredential), string(notebook.TokenCredential), string(notebook.InvitationCredential), string(notebook.UsedCredential))
	if err == nil {
		err = db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM accounts)").Scan(&accounts)
	}
	return accounts, translate(err, "the backup's sessions could not be ended")
}
