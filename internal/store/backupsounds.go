package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// sound is a sound file that records name.
type sound struct {
	hash  string
	bytes int64
}

// soundsOf lists the sound files that a database's records name.
func soundsOf(ctx context.Context, from asker) (out []sound, err error) {
	rows, err := from.QueryContext(ctx, "SELECT sha256, max(size_bytes) FROM recordings GROUP BY sha256 ORDER BY sha256")
	if err != nil {
		return nil, translate(err, "the recordings could not be listed")
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var one sound
		if err := rows.Scan(&one.hash, &one.bytes); err != nil {
			return nil, translate(err, "the recordings could not be listed")
		}
		out = append(out, one)
	}
	return out, translate(rows.Err(), "the recordings could not be listed")
}

// soundsIn lists the sound files that the database of a folder names.
func soundsIn(ctx context.Context, dir *os.Root) (out []sound, err error) {
	db, err := openSQLite(pathIn(dir, databaseName), inspector)
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, db.Close()) }()
	return soundsOf(ctx, db)
}

// copySounds brings every sound file that the copied records name into the
// backup and reads it there. What the notebook itself has lost is noted.
func (s *Store) copySounds(ctx context.Context, to *os.Root, beside string, m *Manifest) (err error) {
	sounds, err := soundsIn(ctx, to)
	if err != nil {
		return err
	}
	kept, err := to.OpenRoot(recordingsDir)
	if err != nil {
		return fileError(err)
	}
	defer func() { err = joined(err, kept.Close()) }()
	for _, one := range sounds {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, err := keepSound(ctx, one, s.files.sounds, kept, beside)
		switch {
		case errors.Is(err, errSoundLost):
			m.Lost = append(m.Lost, one.hash)
		case err != nil:
			return fileError(err)
		default:
			m.Recordings++
			m.SoundBytes += n
		}
	}
	return fileError(syncFolder(kept, "."))
}

// errSoundLost says that the notebook's own sound file is missing or damaged.
var errSoundLost = errors.New("store: the sound file is missing or damaged")

// keepSound shares a sound file with an older backup where it is whole there,
// or copies it, and makes sure that what is kept is what its name says.
func keepSound(ctx context.Context, one sound, from, to *os.Root, beside string) (int64, error) {
	if beside != "" && isHash(one.hash) && os.Link(filepath.Join(beside, recordingsDir, one.hash), pathIn(to, one.hash)) == nil {
		if checkFile(to, one.hash, one.bytes) == nil {
			return one.bytes, nil
		}
		if err := to.Remove(one.hash); err != nil {
			return 0, err
		}
	}
	if !isHash(one.hash) {
		return 0, errSoundLost
	}
	read, err := copySummed(ctx, from, one.hash, to, one.hash)
	if err == nil && read.SHA256 == one.hash && (one.bytes == 0 || one.bytes == read.Bytes) {
		return one.bytes, checkFile(to, one.hash, one.bytes)
	}
	if gone := to.Remove(one.hash); !errors.Is(gone, fs.ErrNotExist) {
		err = errors.Join(err, gone)
	}
	if bad := checkFile(from, one.hash, one.bytes); ctx.Err() == nil && bad != nil && !isAny(bad, errsOpen) {
		return 0, errSoundLost
	}
	return 0, joined(err, errors.New("store: a sound file was read otherwise than it is"))
}
