package sound

import (
	"errors"
	"io"
	"sync/atomic"
	"time"
)

// source hands a file's bytes to a decoder. It hides every other ability of
// the reader (libraries that find a Seeker walk the whole file first), counts
// bytes, remembers the reader's own failure so that it is not reported as
// damage, and keeps the time spent waiting apart from the time spent decoding.
type source struct {
	r      io.Reader
	left   int64 // bytes allowed
	err    error // the reader's failure, other than the end
	ended  bool
	inRead atomic.Bool
	waited atomic.Int64 // ns spent in the reader
}

var errTooManyBytes = errors.New("file longer than the limit")

func (s *source) Read(p []byte) (int, error) {
	if s.err != nil {
		return 0, s.err
	}
	if s.left <= 0 {
		s.err = errTooManyBytes
		return 0, s.err
	}
	if int64(len(p)) > s.left {
		p = p[:s.left]
	}
	start := time.Now()
	s.inRead.Store(true)
	n, err := s.r.Read(p)
	s.waited.Add(int64(time.Since(start)))
	s.inRead.Store(false)
	s.left -= int64(n)
	switch {
	case errors.Is(err, io.EOF):
		s.ended = true
	case err != nil:
		s.err = err
	}
	return n, err
}

// failure turns a decoder's error into one for people. The reader's own
// failure comes first: a decoder would report it as damage.
func (s *source) failure(format Format, err error) error {
	var fe *FileError
	switch {
	case errors.Is(s.err, errTooManyBytes):
		return overLimit("file", "split the recording", "it is larger than the limit")
	case s.err != nil:
		return &FileError{Code: CodeRead, Field: "file", Reason: "it could not be read to the end", Hint: "try again", Err: s.err}
	case errors.As(err, &fe):
		return err
	case s.ended && !errors.Is(err, errCutShort):
		return damaged(format, errors.Join(errCutShort, err), "it ends too early")
	}
	return damaged(format, err, "%v", err)
}

// errCutShort marks sound that stops before its header said it would.
var errCutShort = errors.New("cut short")
