package store

import (
	"context"
	"errors"
	"io"
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
	return out, rows.Err()
}

// soundsIn lists the sound files that the database of a folder names.
func soundsIn(ctx context.Context, dir string) (out []sound, err error) {
	db, err := openSQLite(filepath.Join(dir, databaseName), inspector)
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, db.Close()) }()
	return soundsOf(ctx, db)
}

// copySounds brings every sound file that the copied records name into the
// backup and reads it there. What the notebook itself has lost is noted.
func (s *Store) copySounds(ctx context.Context, to, beside string, m *Manifest) error {
	sounds, err := soundsIn(ctx, to)
	if err != nil {
		return err
	}
	for _, one := range sounds {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, err := keepSound(ctx, one, filepath.Join(s.dir, recordingsDir), filepath.Join(to, recordingsDir), filepath.Join(beside, recordingsDir), beside != "")
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
	return fileError(syncFolder(filepath.Join(to, recordingsDir)))
}

// errSoundLost says that the notebook's own sound file is missing or damaged.
var errSoundLost = errors.New("store: the sound file is missing or damaged")

// keepSound shares a sound file with an older backup where it is whole there,
// or copies it, and makes sure that what is kept is what its name says.
func keepSound(ctx context.Context, one sound, from, to, beside string, share bool) (int64, error) {
	kept := filepath.Join(to, one.hash)
	if share && os.Link(filepath.Join(beside, one.hash), kept) == nil {
		if checkFile(kept, one.hash, one.bytes) == nil {
			return one.bytes, nil
		}
		if err := os.Remove(kept); err != nil {
			return 0, err
		}
	}
	if checkFile(filepath.Join(from, one.hash), one.hash, one.bytes) != nil {
		return 0, errSoundLost
	}
	if err := copyFile(ctx, filepath.Join(from, one.hash), kept); err != nil {
		return 0, err
	}
	return one.bytes, checkFile(kept, one.hash, one.bytes)
}

// copyFile copies to a new file and waits for the disk.
func copyFile(ctx context.Context, from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, in.Close()) }()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, contextReader{ctx, in})
	return errors.Join(err, out.Sync(), out.Close())
}
