package store

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"tautline/notebook"
)

// erasing is how the file is called that says of whom something is still to be
// removed, and which sound files that are. It is there before the records go,
// and until nothing is left: after a stop in between the next start goes on.
const erasing = "erasing-"

// beginErasing notes what is to be removed once a person's records are gone,
// beside what an earlier erasing of theirs left undone.
func (s *Store) beginErasing(person notebook.ID, sounds map[string]bool) error {
	all := map[string]bool{}
	maps.Copy(all, sounds)
	if before, err := s.notedSounds(person); err == nil { // else there is none, or nobody knows what it named
		for _, sound := range before {
			all[sound] = true
		}
	}
	raw, err := json.Marshal(slices.Sorted(maps.Keys(all)))
	if err != nil {
		return err
	}
	err = s.blobs.failed(writeSynced(s.files.own, erasing+string(person), raw))
	var e *notebook.Error
	if errors.As(err, &e) && e.Code != notebook.ReadOnly {
		err = &notebook.Error{Code: e.Code, Message: "what is to be removed could not be noted in the notebook's folder; nobody was erased", Hint: "free some space on its disk, then try again", Cause: err}
	}
	return err
}

// notedSounds are the sound files that are noted of a person who is erased.
func (s *Store) notedSounds(person notebook.ID) (sounds []string, err error) {
	raw, err := fs.ReadFile(s.files.own.FS(), erasing+string(person))
	if err != nil {
		return nil, err
	}
	return sounds, json.Unmarshal(raw, &sounds)
}

// finishErasing removes what the records of some people leave behind, and says
// how many copies from before an update went. Whatever fails of it keeps nothing
// else of it from being done; the note of who was not done with stays.
func (s *Store) finishErasing(ctx context.Context, people []notebook.ID) (copies int, err error) {
	var done []notebook.ID
	for _, person := range people {
		if left := s.dropLeft(ctx, person); left != nil {
			err = errors.Join(err, left)
		} else {
			done = append(done, person)
		}
	}
	if broken := s.Writable(); broken != nil {
		return 0, errors.Join(err, broken)
	}
	copies, kept := s.dropCopies(ctx) // a copy that stays is tried again with every backup
	place := s.overwrite(ctx)
	if err = errors.Join(err, kept, place); place != nil {
		return copies, err
	}
	for _, person := range done {
		err = errors.Join(err, s.doneErasing(erasing+string(person)))
	}
	return copies, err
}

// overwrite leaves nothing on the disk of what the database no longer holds.
func (s *Store) overwrite(ctx context.Context) error {
	err := translate(s.engine.overwrite(ctx, s), "the records are gone, but their place on the disk could not be overwritten yet")
	s.noteFailure(err)
	var why string
	switch notebook.CodeOf(err) {
	case notebook.DiskFull:
		why = "there is no room yet to write the database anew without their place"
	case notebook.Busy:
		why = "others are reading, so that their place could not be overwritten yet"
	default:
		return err
	}
	return &notebook.Error{Code: notebook.CodeOf(err), Message: "the records are gone; " + why, Hint: "the next start of the program, or its daily backup, goes on with it", Cause: err}
}

// dropLeft removes the files of a person who is erased.
func (s *Store) dropLeft(ctx context.Context, person notebook.ID) error {
	sounds, err := s.notedSounds(person)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // nothing was left to remove
	}
	if err != nil {
		err = &notebook.Error{Code: notebook.Unavailable, Message: "the note " + pathIn(s.files.own, erasing+string(person)) + " of the recordings to be removed cannot be read", Hint: "a recording that no record names goes a day after it was made; then remove the note", Cause: err}
	}
	return errors.Join(err, s.dropSounds(ctx, sounds), s.blobs.dropUploads(person))
}

// doneErasing forgets that something was to be removed.
func (s *Store) doneErasing(name string) error {
	if err := s.files.own.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return s.blobs.failed(err)
	}
	return s.blobs.failed(syncFolder(s.files.own, "."))
}

// resumeErasing goes on where the erasing of people was stopped. A note of one
// who is still there says that their records stayed: at a start it goes; later it
// may be of one who is just being erased. One of whom nothing is known here may
// stand in another database with the same folder.
func (s *Store) resumeErasing(ctx context.Context, starting bool) error {
	if s.Writable() != nil {
		return nil // whoever writes is told so
	}
	s.parting.Lock()
	defer s.parting.Unlock()
	entries, err := listed(s.files.own)
	if err != nil {
		return fileError(err)
	}
	var gone []notebook.ID
	for _, e := range entries {
		name, isNote := strings.CutPrefix(e.Name(), erasing)
		if !isNote {
			continue
		}
		p, found, bad := s.people.latest(ctx, s.read, notebook.ID(name))
		switch {
		case bad != nil:
			err = errors.Join(err, translate(bad, "it could not be seen who was erased"))
		case found && p.Name == FormerMember && p.Disabled:
			gone = append(gone, p.ID)
		case starting && (found || strings.HasSuffix(name, unwritten)):
			err = errors.Join(err, s.doneErasing(e.Name()))
		}
	}
	if len(gone) == 0 {
		return err
	}
	_, undone := s.finishErasing(ctx, gone)
	return errors.Join(err, undone)
}

// dropSounds removes the sound files that no row names any more.
func (s *Store) dropSounds(ctx context.Context, hashes []string) (err error) {
	for _, hash := range hashes {
		var named bool
		if err := s.write.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM recordings WHERE sha256 = $1)", hash).Scan(&named); err != nil {
			return translate(err, "the recordings could not be checked")
		}
		if named {
			continue
		}
		if bad := s.files.sounds.Remove(hash); bad != nil && !errors.Is(bad, fs.ErrNotExist) {
			err = errors.Join(err, s.blobs.failed(bad))
		}
	}
	return errors.Join(err, s.blobs.failed(syncFolder(s.files.sounds, ".")))
}
