package store

import (
	"errors"
	"io/fs"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
)

// Kept is a backup in a folder of backups.
type Kept struct {
	Dir      string   `json:"folder"`
	Manifest Manifest `json:"backup"`
}

// backupTime names an automatic backup by when it was made, in UTC; names sort
// by age.
const backupTime = "2006-01-02T150405Z"

var backupDir = regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d{6}Z(-\d+)?$`)

// begun marks the folder of a backup that is being made; whose stands behind it.
const begun = "unfinished-"

// Backups lists the automatic backups in a folder, oldest first: those of the
// notebook in dir, and those of others, which may be kept in the same folder. A
// folder that is not there holds none. What cannot be read as a backup is passed
// over, unless it could not be looked at now.
func Backups(in, dir string, o Options) (own, others []Kept, err error) {
	whose, err := ownershipOf(dir, o.Database != "")
	if err != nil {
		return nil, nil, err
	}
	return whose.backups(in)
}

// backups lists those of an open notebook as Backups does.
func (s *Store) backups(in string) (own, others []Kept, err error) {
	whose, err := s.ownership()
	if err != nil {
		return nil, nil, err
	}
	return whose.backups(in)
}

func (o ownership) backups(in string) (own, others []Kept, err error) {
	root, err := openFolder(in)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, fileError(err)
	}
	entries, err := listed(root)
	if err := errors.Join(err, root.Close()); err != nil {
		return nil, nil, fileError(err)
	}
	for _, e := range entries {
		if !backupDir.MatchString(e.Name()) {
			continue
		}
		dir := filepath.Join(in, e.Name())
		switch m, err := readManifest(dir); {
		case isAny(err, errsOpen):
			return nil, nil, err // it may be the newest
		case err != nil:
		case o.of(m):
			own = append(own, Kept{dir, m})
		default:
			others = append(others, Kept{dir, m})
		}
	}
	own, unnamed := o.apart(own)
	others = append(others, unnamed...)
	slices.SortFunc(others, func(a, b Kept) int { return strings.Compare(a.Dir, b.Dir) })
	return own, others, nil
}

// How many backups are kept: the newest of each of as many days, weeks and
// months that have any. It counts backups, not time, so that a clock that
// jumps removes none.
const (
	keepDays   = 7
	keepWeeks  = 4
	keepMonths = 12
)

// surplus lists the backups that are not kept, of a list with the oldest first.
func surplus(all []Kept) (out []Kept) {
	kept := map[string]bool{}
	for _, rule := range []struct {
		most int
		name func(time.Time) string
	}{
		{keepDays, func(t time.Time) string { return t.Format(time.DateOnly) }},
		{keepWeeks, func(t time.Time) string {
			y, w := t.ISOWeek()
			return time.Date(y, 1, w, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
		}},
		{keepMonths, func(t time.Time) string { return t.Format("2006-01") }},
	} {
		seen := map[string]bool{}
		for _, b := range slices.Backward(all) {
			if period := rule.name(b.Manifest.Made); !seen[period] && len(seen) < rule.most {
				seen[period] = true
				kept[b.Dir] = true
			}
		}
	}
	for _, b := range all {
		if !kept[b.Dir] {
			out = append(out, b)
		}
	}
	return out
}

// rotate removes the notebook's backups that are not kept, and what it began and
// never finished. A backup loses its manifest first, so that a stop in between
// leaves none that looks whole.
func (s *Store) rotate(in string) error {
	own, _, err := s.backups(in)
	if err != nil {
		return err
	}
	for _, b := range surplus(own) {
		if err := b.remove(); err != nil {
			return err
		}
	}
	return s.removeBegun(in)
}

func (b Kept) remove() (err error) {
	beside, err := openFolder(filepath.Dir(b.Dir))
	if err != nil {
		return fileError(err)
	}
	defer func() { err = fileError(joined(err, beside.Close())) }()
	name := filepath.Base(b.Dir)
	if err := beside.Remove(path.Join(name, backupName)); err != nil {
		return err
	}
	return beside.RemoveAll(name)
}

func (s *Store) removeBegun(in string) (err error) {
	whose, err := s.ownership()
	if err != nil {
		return err
	}
	files, err := openFolder(in)
	if err != nil {
		return fileError(err)
	}
	defer func() { err = fileError(joined(err, files.Close())) }()
	entries, err := listed(files)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if whose.isBegun(e.Name()) || backupDir.MatchString(e.Name()) && isNot(files, path.Join(e.Name(), backupName)) {
			if err := files.RemoveAll(e.Name()); err != nil {
				return err
			}
		}
	}
	return nil
}
