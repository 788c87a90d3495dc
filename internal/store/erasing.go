package store

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"iter"
	"maps"
	"slices"
	"strings"

	"tautline/notebook"
)

// erasing is how the file is called that says of whom something is still to be
// removed, and which sound files that are. It is there before the records go,
// and until nothing is left: after a stop in between the next start goes on.
const erasing = "erasing-"

// beginErasing keeps what is to be removed once a person's records are gone.
func (s *Store) beginErasing(person notebook.ID, sounds map[string]bool) error {
	raw, err := json.Marshal(slices.Sorted(maps.Keys(sounds)))
	if err != nil {
		return err
	}
	err = s.blobs.failed(writeSynced(s.files.own, erasing+string(person), raw))
	if notebook.CodeOf(err) == notebook.DiskFull {
		err = &notebook.Error{Code: notebook.DiskFull, Message: "the disk is full; nobody was erased", Hint: "free some space and try again", Cause: err}
	}
	return err
}

// finishErasing removes what the records of a person leave behind, and says how
// many copies from before an update went. Whatever fails of it keeps nothing
// else of it from being done.
func (s *Store) finishErasing(ctx context.Context, person notebook.ID, sounds iter.Seq[string]) (copies int, err error) {
	err = errors.Join(s.dropSounds(ctx, sounds), s.blobs.dropUploads(person))
	if broken := s.Writable(); broken != nil {
		return 0, errors.Join(err, broken)
	}
	copies, kept := s.dropCopies(ctx) // a copy that stays is tried again with every backup
	place := translate(s.engine.overwrite(ctx, s), "the records are gone, but their place on the disk could not be overwritten yet")
	s.noteFailure(place)
	if notebook.CodeOf(place) == notebook.DiskFull {
		place = &notebook.Error{Code: notebook.DiskFull, Message: "the records are gone; there is no room yet to write the database anew without their place", Hint: "free some space; the next backup or start tries again", Cause: place}
	}
	if err = errors.Join(err, place); err == nil {
		err = s.doneErasing(erasing + string(person))
	}
	return copies, errors.Join(err, kept)
}

// doneErasing forgets that something was to be removed.
func (s *Store) doneErasing(name string) error {
	if err := s.files.own.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return s.blobs.failed(err)
	}
	return s.blobs.failed(syncFolder(s.files.own, "."))
}

// resumeErasing goes on where the erasing of a person was stopped. A file of one
// who is still there says that their records stayed: at a start nothing is to be
// done about it; later it may be of one who is just being erased.
func (s *Store) resumeErasing(ctx context.Context, starting bool) error {
	left, err := fs.Glob(s.files.own.FS(), erasing+"*")
	for _, name := range left {
		id := notebook.ID(strings.TrimPrefix(name, erasing))
		p, found, bad := s.people.latest(ctx, s.read, id)
		switch {
		case bad != nil:
			err = errors.Join(err, translate(bad, "it could not be seen who was erased"))
		case found && p.Name == FormerMember:
			err = errors.Join(err, s.goOnErasing(ctx, id))
		case starting:
			err = errors.Join(err, s.doneErasing(name))
		}
	}
	return err
}

func (s *Store) goOnErasing(ctx context.Context, person notebook.ID) error {
	var sounds []string
	raw, err := fs.ReadFile(s.files.own.FS(), erasing+string(person))
	if err == nil {
		err = json.Unmarshal(raw, &sounds)
	}
	if err != nil {
		return fileError(err)
	}
	_, err = s.finishErasing(ctx, person, slices.Values(sounds))
	return err
}

// dropSounds removes the sound files that no row names any more.
func (s *Store) dropSounds(ctx context.Context, hashes iter.Seq[string]) error {
	for hash := range hashes {
		var named bool
		if err := s.write.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM recordings WHERE sha256 = $1)", hash).Scan(&named); err != nil {
			return translate(err, "the recordings could not be checked")
		}
		if named {
			continue
		}
		if err := s.files.sounds.Remove(hash); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return s.blobs.failed(err)
		}
	}
	return s.blobs.failed(syncFolder(s.files.sounds, "."))
}
