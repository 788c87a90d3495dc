package store

import (
	"context"
	"errors"
	"io/fs"
	"strings"
	"time"

	"tautline/notebook"
)

// forgetTime is how long a backup may keep the name of a person who was erased
// from the notebook since.
const forgetTime = 90 * 24 * time.Hour

// forget removes the backups and copies from before a person was erased, once
// that is long enough ago.
func (s *Store) forget(ctx context.Context, in string) error {
	undone := s.resumeErasing(ctx, false)
	_, kept := s.dropCopies(ctx)
	kept = errors.Join(undone, kept) // which keeps no backup
	at, err := s.lastErased(ctx, s.now().Add(-forgetTime))
	if err != nil {
		return errors.Join(kept, err)
	}
	all, _, err := s.backups(in)
	err = errors.Join(kept, err)
	for _, b := range all {
		if b.Manifest.Made.Before(at) {
			err = errors.Join(err, b.remove())
		}
	}
	return err
}

// lastErased is when the last person was erased before some time; zero if none
// was.
func (s *Store) lastErased(ctx context.Context, before time.Time) (time.Time, error) {
	at, err := names(ctx, s.read, `SELECT max(received_utc) FROM people WHERE body LIKE '%"name":"`+FormerMember+`"%' AND received_utc < '`+stampTime(before)+`' HAVING count(*) > 0`)
	if err != nil || len(at) == 0 {
		return time.Time{}, err
	}
	return time.Parse(timeFormat, at[0])
}

// copied is a state of the notebook that was put aside.
type copied struct {
	made   time.Time
	update bool // before an update: the notebook itself has all that is in it
	remove func(context.Context) error
}

// dropCopies removes what was put aside and holds the name of a person who was
// erased since, and says how much that was: copies from before an update at
// once, for going back to one would undo the erasing and it holds nothing else
// that is not here; what a restore put aside may be all that is left of
// something, and stays as long as a backup.
func (s *Store) dropCopies(ctx context.Context) (n int, err error) {
	ever, err := s.lastErased(ctx, s.now().Add(time.Second))
	if err != nil || ever.IsZero() {
		return 0, err
	}
	long, err := s.lastErased(ctx, s.now().Add(-forgetTime))
	if err != nil {
		return 0, err
	}
	all, err := s.putAside(ctx)
	for _, c := range all {
		since := long
		if c.update {
			since = ever
		}
		if !c.made.Before(since) {
			continue
		}
		if gone := c.remove(ctx); gone != nil {
			err = errors.Join(err, gone)
		} else {
			n++
		}
	}
	return n, err
}

// putAside lists the copies in the folder, and the schemas of PostgreSQL.
func (s *Store) putAside(ctx context.Context) (out []copied, err error) {
	entries, err := listed(s.files.copies)
	if err != nil {
		return nil, fileError(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), "before-") {
			continue
		}
		c := copied{made: madeAt(s, e), update: strings.HasPrefix(e.Name(), "before-version-")}
		c.remove = func(context.Context) error {
			// without its manifest first: a stop in between leaves nothing that looks whole
			err := s.files.copies.Remove(e.Name() + "/" + backupName)
			if errors.Is(err, fs.ErrNotExist) {
				err = nil
			}
			return fileError(errors.Join(err, s.files.copies.RemoveAll(e.Name()), syncFolder(s.files.copies, ".")))
		}
		out = append(out, c)
	}
	if _, ok := s.engine.(postgres); !ok {
		return out, nil
	}
	kept, err := names(ctx, s.read, "SELECT quote_ident(nspname) FROM pg_namespace WHERE nspname LIKE '"+`before\_version\_%`+"' OR nspname LIKE '"+`after\_version\_%`+"'")
	for _, name := range kept {
		made, bad := time.Parse(schemaTime, name[max(0, len(name)-len(schemaTime)):])
		if bad != nil {
			continue // somebody else's
		}
		out = append(out, copied{made, strings.HasPrefix(name, pgBefore), func(ctx context.Context) error { return s.dropSchema(ctx, name) }})
	}
	return out, err
}

// dropSchema removes a copy. A lesser role does it by what its owner has lent.
func (s *Store) dropSchema(ctx context.Context, name string) error {
	owns, err := ownsTables(ctx, s.write)
	if err != nil {
		return err
	}
	if owns {
		_, err = s.write.ExecContext(ctx, "DROP SCHEMA "+name+" CASCADE")
	} else {
		_, err = s.write.ExecContext(ctx, "SELECT drop_copy($1)", name)
	}
	if err = translate(err, "a copy from before could not be removed"); notebook.CodeOf(err) == notebook.Unavailable {
		err = &notebook.Error{
			Code: notebook.Unavailable, Message: "the records of a person who was erased are gone, but perhaps not from the schema " + name + ", a copy that could not be removed",
			Hint: "as the database's owner: tautline migrate --database … --serve-as ROLE; the next backup removes it then", Cause: err,
		}
	}
	return err
}

// madeAt is when a copy was made: as it says itself, or as the disk does of one
// that could not be read.
func madeAt(s *Store, e fs.DirEntry) time.Time {
	if m, err := manifestIn(s.files.copies, e.Name()); err == nil {
		return m.Made
	}
	info, err := e.Info()
	if err != nil {
		return s.now()
	}
	return info.ModTime()
}
