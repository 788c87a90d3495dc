package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"tautline/notebook"
)

// CheckBackup holds a backup against what it said of itself when it was made:
// the database's file to the byte, every table and every sound file. It changes
// nothing. A database copied by hand says nothing of itself and is refused:
// what was written last may be missing from it.
func CheckBackup(ctx context.Context, dir string) (m Manifest, err error) {
	if m, err = readManifest(dir); err != nil {
		return m, err
	}
	if m.Version > newest() {
		return m, tooNew(m.Version)
	}
	files, err := seenFolders(dir)
	if err != nil {
		return m, err
	}
	defer func() { err = joined(err, files.close()) }()
	if m.Report != nil {
		return m, checkOldBackup(ctx, files, m.Report)
	}
	if err := m.checkBytes(ctx, files.own); err != nil {
		return m, err
	}
	return m, together(ctx,
		func(ctx context.Context) error { return m.checkContent(ctx, files.own) },
		func(ctx context.Context) error { return m.checkSounds(ctx, files) })
}

// checkDatabase holds the database against the manifest.
func (m Manifest) checkDatabase(ctx context.Context, dir *os.Root) error {
	if err := m.checkBytes(ctx, dir); err != nil {
		return err
	}
	return m.checkContent(ctx, dir)
}

// checkBytes holds the database's file against the manifest.
func (m Manifest) checkBytes(ctx context.Context, dir *os.Root) error {
	have, err := sumFile(ctx, dir, databaseName)
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case isAny(err, errsOpen):
		return fileError(err)
	case err != nil:
		return damaged(databaseName + " is missing or cannot be read")
	case have.Bytes != m.Database.Bytes:
		return damaged(fmt.Sprintf("%s has %d bytes, it had %d", databaseName, have.Bytes, m.Database.Bytes))
	case have.SHA256 != m.Database.SHA256:
		return damaged(databaseName + " has changed since it was made")
	}
	return nil
}

// checkContent holds what is in the database against the manifest: one that
// was changed to fit the file does not pass either.
func (m Manifest) checkContent(ctx context.Context, dir *os.Root) error {
	if len(m.Tables) == 0 {
		return damaged(backupName + " says nothing of the tables")
	}
	again := Manifest{Tables: m.Tables}
	if err := again.proveDatabase(ctx, dir); err != nil {
		return judged(ctx, err)
	}
	if again.Version != m.Version {
		return damaged(fmt.Sprintf("its database is of version %d, it says %d", again.Version, m.Version))
	}
	return nil
}

// judged says of an error in a backup's database that the backup is damaged,
// unless it tells nothing of what the file holds: a look that was given up, a
// disk without room, a file in use or one that could not be opened now. Nobody
// is to throw a whole backup away.
func judged(ctx context.Context, err error) error {
	var engine *sqlite.Error
	var known *notebook.Error
	code := sqlite3.SQLITE_OK
	if errors.As(err, &engine) {
		code = engine.Code() & 0xff
	}
	switch how := notebook.CodeOf(err); {
	case ctx.Err() != nil:
		return ctx.Err()
	case how == notebook.DiskFull, how == notebook.Busy, code == sqlite3.SQLITE_CANTOPEN, code == sqlite3.SQLITE_NOMEM,
		how == notebook.Unavailable && engine == nil:
		return err
	case errors.As(err, &known):
		return damaged(known.Message)
	}
	return damaged(err.Error())
}

// checkSounds reads every sound file that the records name.
func (m Manifest) checkSounds(ctx context.Context, dir folders) error {
	sounds, err := soundsIn(ctx, dir.own)
	if err != nil {
		return judged(ctx, err)
	}
	lost := map[string]bool{}
	for _, hash := range m.Lost {
		lost[hash] = true
	}
	whole := 0
	for _, one := range sounds {
		if err := ctx.Err(); err != nil {
			return err
		}
		if lost[one.hash] {
			continue
		}
		err := checkFile(dir.sounds, one.hash, one.bytes)
		if isAny(err, errsOpen) {
			return err
		}
		if err != nil {
			return damaged(fmt.Sprintf("recording %.12s: %v", one.hash, err))
		}
		whole++
	}
	if whole != m.Recordings {
		return damaged(fmt.Sprintf("it holds %d recordings, it held %d", whole, m.Recordings))
	}
	return nil
}

// checkOldBackup holds a backup that says less of itself against that: counts
// and a digest of the records.
func checkOldBackup(ctx context.Context, dir folders, said *Report) (err error) {
	db, err := openSQLite(pathIn(dir.own, databaseName), inspector)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, db.Close()) }()
	var s Store
	s.tables()
	now, err := s.verify(ctx, lite{}, db, dir.sounds)
	switch {
	case err != nil:
		return judged(ctx, err)
	case len(now.Problems) > 0:
		return damaged(now.Problems[0])
	case now.Digest != said.Digest || !maps.Equal(now.Counts, said.Counts):
		return damaged("it no longer holds what it held when it was made")
	}
	return nil
}
