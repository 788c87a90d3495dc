package store

import (
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"sync"
	"time"

	"tautline/notebook"
)

// Deleting needs room too: SQLite writes every page that a deletion changes
// to its journal first. So a little of the disk is held back in a file, and
// given away piece by piece to deletions and retractions alone when the disk
// is full (docs/decisions/0088-room-for-deleting.md).
const (
	reserveName  = "reserve"
	reserveBytes = 2 << 20   // less on a disk of under 16 MB
	reservePiece = 128 << 10 // a retraction changes about ten pages of 4 kB
)

// reserve is the file. The zero value holds nothing back.
type reserve struct {
	in   *os.Root // the notebook's folder
	mu   sync.Mutex
	want int64
	last time.Time // of the last try to fill it
}

// fill writes what is missing while the disk has plenty; whatever goes wrong,
// the notebook does as well without.
func (r *reserve) fill(now time.Time, space Space) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.in == nil || now.Sub(r.last) < time.Minute {
		return
	}
	r.last = now
	r.want = min(reserveBytes, space.Total/8)
	have := r.size()
	if have >= r.want || space.Free < 4*r.want {
		return
	}
	f, err := r.in.OpenFile(reserveName, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return
	}
	// Noise: some file systems give zeros no room. Any chance will do.
	noise := make([]byte, r.want-have)
	_, _ = rand.NewChaCha8([32]byte{}).Read(noise) // never fails
	_, err = f.Write(noise)
	if err := errors.Join(err, f.Close()); err != nil {
		_ = r.in.Remove(reserveName) // it is tried again
	}
}

func (r *reserve) size() int64 {
	return sizeIn(r.in, reserveName)
}

// give gives a piece of the disk back, and says whether there was any left.
func (r *reserve) give(bytes int64) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	have := r.size()
	if r.in == nil || have == 0 {
		return false
	}
	f, err := r.in.OpenFile(reserveName, os.O_WRONLY, 0)
	if err != nil {
		return errors.Is(err, fs.ErrNotExist)
	}
	return errors.Join(f.Truncate(max(0, have-bytes)), f.Close()) == nil
}

// deleting does what makes something go: on a full disk with as much of the
// reserve as it takes.
func (s *Store) deleting(do func() error) error {
	err := do()
	for piece := int64(reservePiece); notebook.CodeOf(err) == notebook.DiskFull && s.reserve.give(piece); piece *= 2 {
		err = do()
	}
	return err
}

// hold sets room aside where the notebook is a file; a database server has a
// disk of its own.
func (s *Store) hold() {
	if _, ok := s.engine.(lite); ok {
		s.reserve.in = s.files.own
		s.refill()
	}
}

// refill makes the reserve whole again once there is room.
func (s *Store) refill() {
	if s.reserve.short(s.now()) {
		s.reserve.fill(s.now(), s.Space())
	}
}

// short tells whether the reserve may lack something, and it is time to look.
func (r *reserve) short(now time.Time) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.in != nil && now.Sub(r.last) >= time.Minute && (r.want == 0 || r.size() < r.want)
}

// Space is the room on the disk of a notebook's folder.
type Space struct {
	Free  int64 // bytes that a person may still write; −1 if unknown
	Total int64 // bytes of the whole disk
}

// The room below which an owner is told: 500 MB, or 5 % of the disk where that
// is more, up to 5 GB: a twentieth of a very large disk is no news.
const (
	lowSpace     = 500 << 20
	mostLowSpace = 5 << 30
)

// Low says that there is so little room that somebody should see to it.
func (s Space) Low() bool {
	return s.Free >= 0 && s.Free < max(lowSpace, min(s.Total/20, mostLowSpace))
}

// Space looks how much room there is.
func (s *Store) Space() Space { return spaceOf(s.dir) }
