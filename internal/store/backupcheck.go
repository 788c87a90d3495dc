package store

import (
	"context"
	"fmt"
	"maps"
	"os"

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
	if err := m.checkDatabase(ctx, files.own); err != nil {
		return m, err
	}
	return m, m.checkSounds(ctx, files)
}

// checkDatabase holds the database's file against the manifest, then what is
// in it: a manifest that was changed to fit does not pass either.
func (m Manifest) checkDatabase(ctx context.Context, dir *os.Root) error {
	have, err := sumFile(ctx, dir, databaseName)
	switch {
	case err != nil:
		return damaged(databaseName + " is missing or cannot be read")
	case have.Bytes != m.Database.Bytes:
		return damaged(fmt.Sprintf("%s has %d bytes, it had %d", databaseName, have.Bytes, m.Database.Bytes))
	case have.SHA256 != m.Database.SHA256:
		return damaged(databaseName + " has changed since it was made")
	}
	again := Manifest{Tables: m.Tables}
	if err := again.proveDatabase(ctx, dir); err != nil {
		return damaged(err.Error())
	}
	return nil
}

// checkSounds reads every sound file that the records name.
func (m Manifest) checkSounds(ctx context.Context, dir folders) error {
	sounds, err := soundsIn(ctx, dir.own)
	if err != nil {
		return err
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
		if err := checkFile(dir.sounds, one.hash, one.bytes); err != nil {
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
	tables, err := (lite{}).tables(ctx, db)
	if err != nil {
		return damaged(err.Error())
	}
	now, err := s.verify(ctx, lite{}, db, dir.sounds, tables)
	switch {
	case err != nil && notebook.CodeOf(err) == "":
		return err
	case err != nil:
		return damaged(err.Error())
	case len(now.Problems) > 0:
		return damaged(now.Problems[0])
	case now.Digest != said.Digest || !maps.Equal(now.Counts, said.Counts):
		return damaged("it no longer holds what it held when it was made")
	}
	return nil
}
