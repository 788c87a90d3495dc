package server_test

import (
	"context"
	"errors"
	"io"
	"strings"
	"sync/atomic"
	"testing"

	"tautline/internal/server"
	"tautline/notebook"
)

// deafBook is a notebook of which recordings cannot be opened for a reason, but
// for the next few.
type deafBook struct {
	notebook.Store
	d *deaf
}

type deaf struct {
	why atomic.Pointer[error]
	but atomic.Int64
}

type deafBlobs struct {
	notebook.Blobs
	d *deaf
}

func (b deafBook) Blobs() notebook.Blobs { return deafBlobs{b.Store.Blobs(), b.d} }

func (b deafBlobs) Open(ctx context.Context, hash string) (io.ReadSeekCloser, error) {
	if why := b.d.why.Load(); why != nil && b.d.but.Add(-1) < 0 {
		return nil, *why
	}
	return b.Blobs.Open(ctx, hash)
}

// No verdict is given, or kept, without a recording that cannot be opened just
// now; without one that is damaged, which it names, it is.
func TestNoVerdictWithoutWhatMayBeHeardLater(t *testing.T) {
	var d deaf
	s := open(t, func(c *server.Config) { c.Notebook = deafBook{c.Notebook, &d} })
	bow, setup := s.bowWithSetUp()
	trial := s.heightTrial(bow, setup)
	verdict, seed := "/api/v1/trials/"+trial+"/verdict", uint64(0)
	cannot := func(err error) {
		t.Helper()
		d.but.Store(1) // as its record is kept it is looked at
		d.why.Store(&err)
		seed++
		s.send(recording(t, 216, seed), obj{"bow": bow, "trial": trial, "stop": int(seed)})
	}
	for _, code := range []notebook.Code{notebook.Unavailable, notebook.Busy} {
		cannot(&notebook.Error{Code: code, Message: "it cannot be opened", Hint: "try again"})
		s.do("POST", verdict, obj{}).want(503)
		s.do("PUT", "/api/v1/trials/"+trial+"/verdicts/"+id(), obj{}).want(503)
		s.do("GET", "/api/v1/bows/"+bow+"/signature", nil).want(503)
		d.why.Store(nil)
		if told := s.do("POST", verdict, obj{}).want(200); strings.Contains(string(told.body), "listened to") {
			t.Errorf("later it is without still: %v", told.at("warnings"))
		}
	}
	for n, err := range []error{
		&notebook.Error{Code: notebook.Damaged, Message: "it is damaged"}, &notebook.Error{Code: notebook.ReadOnly, Message: "the disk does not give it"},
		&notebook.Error{Code: notebook.NotFound, Message: "it is gone"}, errors.New("it is none of the notebook's"),
	} {
		cannot(err)
		if told := s.do("POST", verdict, obj{}).want(200); strings.Count(string(told.body), "listened to") != n+1 {
			t.Errorf("%v: it is not told: %v", err, told.at("warnings"))
		}
	}
}
