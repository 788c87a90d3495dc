package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// BackupsDir is where automatic backups are kept unless another folder is named.
func BackupsDir(dir string) string { return filepath.Join(dir, "backups") }

// BackupStanding is how the automatic backups stand.
type BackupStanding struct {
	Last   time.Time     // when the newest proved one was made; zero: there is none
	Took   time.Duration // how long it took; zero if it was made before this start
	Failed error         // why the last try since then failed
	Lost   int           // recordings that the notebook itself has lost
}

// Keeper makes a proved backup whenever the newest is older than Every, and
// keeps 7 daily, 4 weekly and 12 monthly ones.
type Keeper struct {
	Store *Store
	In    string        // the folder of backups
	Every time.Duration // default 24 h
	// Tell hears of each try, also of those that worked.
	Tell func(BackupStanding)

	mu     sync.Mutex
	state  BackupStanding
	unsure bool // the newest says nothing of whose it is: it may be another's
}

// Times of the keeper.
const (
	firstBackup = 20 * time.Second // after a start, so that opening a page does not wait
	backupRetry = 15 * time.Minute // after a failure, and how often the age is looked at
)

// Standing says how the backups stand.
func (k *Keeper) Standing() BackupStanding {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.state
}

// Look reads which backups of this notebook there are, and says how many of
// others are in the same folder.
func (k *Keeper) Look() (others int, err error) {
	if _, err := k.Store.id(); err != nil { // so that none of another's passes for its own
		return 0, err
	}
	all, foreign, err := k.Store.backups(k.In)
	if err != nil {
		return 0, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if n := len(all); n > 0 {
		newest := all[n-1].Manifest
		k.state.Last, k.state.Lost, k.unsure = newest.Made, len(newest.Lost), newest.Notebook == ""
	}
	return len(foreign), nil
}

// Run keeps backups until ctx ends. A backup that is being made then is given
// up and removed.
func (k *Keeper) Run(ctx context.Context) {
	every := k.Every
	if every <= 0 {
		every = 24 * time.Hour
	}
	for wait := min(firstBackup, every); ; wait = min(backupRetry, every) {
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
		if k.due(every) {
			k.try(ctx)
		}
	}
}

// due reports whether a backup is to be made now: where the newest is old, or the
// clock has jumped back, or there is none that is certainly this notebook's.
func (k *Keeper) due(every time.Duration) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	age := k.Store.now().Sub(k.state.Last)
	return k.unsure || age >= every || age < -every
}

func (k *Keeper) try(ctx context.Context) {
	began := time.Now()
	m, err := k.Store.AutoBackup(ctx, k.In, "daily")
	if ctx.Err() != nil {
		return
	}
	k.mu.Lock()
	if !m.Made.IsZero() { // there is one, whatever came after
		k.state, k.unsure = BackupStanding{Last: m.Made, Took: time.Since(began), Lost: len(m.Lost)}, false
	}
	k.state.Failed = err
	now := k.state
	k.mu.Unlock()
	if k.Tell != nil {
		k.Tell(now)
	}
}

// AutoBackup makes a proved backup in a folder of backups, named by the time,
// then removes those that are no longer kept, and what is left of uploads that
// nobody went on with. An error with a manifest says that the backup is there
// and proved, and something of the rest could not be removed. It takes one
// processor: people are served meanwhile.
func (s *Store) AutoBackup(ctx context.Context, in, why string) (Manifest, error) {
	m, err := s.autoBackup(ctx, in, why)
	if err != nil {
		return Manifest{}, err
	}
	return m, errors.Join(s.rotate(in), s.forget(ctx, in), s.blobs.sweepUploads(sweptAfter))
}

func (s *Store) autoBackup(ctx context.Context, in, why string) (m Manifest, err error) {
	if err := os.MkdirAll(in, 0o700); err != nil {
		return m, fileError(err)
	}
	id, err := s.id()
	if err != nil {
		return m, err
	}
	if err := s.removeBegun(in); err != nil {
		return m, err
	}
	all, _, err := s.backups(in)
	if err != nil {
		return m, err
	}
	o := BackupOptions{Why: why}
	if n := len(all); n > 0 {
		o.Beside = all[n-1].Dir
	}
	name := s.now().UTC().Format(backupTime)
	making := begun + string(id) + "-" + name
	if m, err = s.Backup(unhurried(ctx), filepath.Join(in, making), o); err != nil {
		return m, err
	}
	files, err := openFolder(in)
	if err != nil {
		return m, fileError(err)
	}
	defer func() { err = joined(err, files.Close()) }()
	if err := fileError(errors.Join(files.Rename(making, unusedName(files, name)), syncFolder(files, "."))); err != nil {
		return m, errors.Join(err, files.RemoveAll(making))
	}
	return m, nil
}
