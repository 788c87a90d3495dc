package server_test

import (
	"context"
	"io"
	"net/http"
	"strings"
	"testing"

	"tautline/internal/server"
	"tautline/notebook"
)

// halfRead is a notebook whose readings cannot be read beyond some pages; there
// is always one more.
type halfRead struct {
	notebook.Store
	pages *int
}

func (b halfRead) Readings() notebook.Records[notebook.Reading] {
	return halfReadings{b.Store.Readings(), b.pages}
}

type halfReadings struct {
	notebook.Records[notebook.Reading]
	pages *int
}

func (r halfReadings) List(ctx context.Context, actor notebook.ID, q notebook.Query) (notebook.Page[notebook.Reading], error) {
	if q.Correcting {
		return r.Records.List(ctx, actor, q)
	}
	if *r.pages == 0 {
		return notebook.Page[notebook.Reading]{}, &notebook.Error{Code: notebook.Busy, Message: "the storage is busy", Hint: "try again"}
	}
	*r.pages--
	q.After = ""
	p, err := r.Records.List(ctx, actor, q)
	p.Next = "more"
	return p, err
}

// A file for saving that cannot be begun is refused in words; one that fails in
// its middle is broken off, so that nobody takes half of it for the whole.
func TestHalfAFile(t *testing.T) {
	pages := 0
	s := open(t, func(c *server.Config) { c.Notebook = halfRead{c.Notebook, &pages} })
	bow, setup := s.bowWithSetUp()
	s.reading(bow, setup, obj{"kind": "brace_height", "text": "22.1 cm"})
	r := s.do("GET", "/api/v1/readings.csv?bow="+bow, nil).want(503)
	if kind := r.header.Get("Content-Type"); !strings.HasPrefix(kind, "application/problem+json") || r.header.Get("Content-Disposition") != "" || r.at("code") != "busy" {
		t.Errorf("%v, %s", r.header, r.body)
	}
	pages = 2
	answer, err := http.Get(s.url + "/api/v1/readings.csv?bow=" + bow)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if rows := strings.Count(string(body), "\n"); answer.StatusCode != 200 || rows != 3 || err == nil {
		t.Errorf("status %d, %d rows, and then %v", answer.StatusCode, rows, err)
	}
}
