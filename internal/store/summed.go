package store

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"hash"
	"os"
	"sync"
	"time"
)

// writtenAtOnce is gathered in memory, syncedAtOnce handed to the disk; bytes.
const (
	writtenAtOnce = 128 << 10
	syncedAtOnce  = 32 << 20
)

// summed is a new file, summed as it is written.
type summed struct {
	*bufio.Writer
	on *partly
}

// newSummed makes a file that must not be there yet, for the owner alone.
func newSummed(in *os.Root, name string) (summed, error) {
	f, err := in.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return summed{}, err
	}
	on := &partly{file: f, sum: sha256.New()}
	return summed{bufio.NewWriterSize(on, writtenAtOnce), on}, nil
}

// end waits for the disk, closes the file and says what was written.
func (s summed) end() (FileSum, error) {
	err := errors.Join(s.Flush(), s.on.file.Sync(), s.on.file.Close())
	return FileSum{s.on.bytes, hex.EncodeToString(s.on.sum.Sum(nil))}, err
}

// partly brings a file to the disk in small parts: whoever waits for the same
// disk meanwhile, such as a commit, waits for one of them and not for all.
type partly struct {
	file  *os.File
	sum   hash.Hash
	bytes int64
	dirty int
}

func (p *partly) Write(b []byte) (n int, err error) {
	n, err = p.file.Write(b)
	p.sum.Write(b[:n]) // never fails (package hash)
	p.bytes += int64(n)
	if p.dirty += n; err == nil && p.dirty >= syncedAtOnce {
		p.dirty, err = 0, p.file.Sync()
	}
	return n, err
}

// syncedEvery is how often a file that somebody else writes goes to the disk.
const syncedEvery = 100 * time.Millisecond

// syncedMeanwhile brings a file to the disk in small parts while something
// writes it, for the same reason. What was written last is left to the writer,
// who has closed the file when it returns: a process that closes a file lets go
// of every lock that it has on it (POSIX, fcntl).
func syncedMeanwhile(in *os.Root, name string, write func() error) (err error) {
	f, err := in.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return fileError(err)
	}
	defer func() { err = joined(err, f.Close()) }()
	written := make(chan struct{})
	var syncing sync.WaitGroup
	var failed error
	syncing.Go(func() {
		for failed == nil {
			select {
			case <-written:
				return
			case <-time.After(syncedEvery):
				failed = f.Sync()
			}
		}
	})
	err = write()
	close(written)
	syncing.Wait()
	return errors.Join(err, fileError(failed))
}
