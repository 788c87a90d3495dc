package server_test

import (
	"context"
	"fmt"
	"net/http/httptest"
	"testing"

	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// BenchmarkBench is the first page of a notebook with a bow of 10,000 readings
// on its present set-up (aim: p95 ≤ 30 ms, issue "At the range").
func BenchmarkBench(b *testing.B) {
	s := open(b)
	bow, setup := s.bowWithSetUp()
	me := notebook.ID(s.do("GET", "/api/v1/me", nil).at("person/id").(string))
	for i := range 10_000 {
		r := notebook.Reading{
			Bow: notebook.ID(bow), SetUp: notebook.ID(setup), Kind: notebook.ReadBrace, Value: 0.22, Text: "22 cm", Unit: "cm",
			Note: fmt.Sprint("reading ", i),
		}
		r.ID, r.By = notebook.NewID(), me
		r.At = s.started
		if _, _, err := s.store.Readings().Put(context.Background(), me, r); err != nil {
			b.Fatal(err)
		}
	}
	b.ResetTimer()
	for range b.N {
		s.do("GET", "/api/v1/bows", nil).want(200)
	}
}

// BenchmarkReading is noting one reading, answer included.
func BenchmarkReading(b *testing.B) {
	s := open(b)
	bow, setup := s.bowWithSetUp()
	body := obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22.1 cm"}
	b.ResetTimer()
	for range b.N {
		s.do("PUT", "/api/v1/readings/"+id(), body).want(201)
	}
}

// BenchmarkPredict is a prediction of a set-up that was asked before.
func BenchmarkPredict(b *testing.B) {
	s := open(b)
	_, setup := s.bowWithSetUp()
	b.ResetTimer()
	for range b.N {
		s.do("POST", "/api/v1/predict", obj{"setup": setup}).want(200)
	}
}

// BenchmarkStart is building the handler, which a start waits for (U1: from
// start to page 0.5 s), and the API's description, which is made when it is
// first asked for.
func BenchmarkStart(b *testing.B) {
	st, err := store.Open(b.Context(), b.TempDir(), store.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer st.Close()
	for _, path := range []string{"", "/openapi.json"} {
		b.Run("handler"+path, func(b *testing.B) {
			size := 0
			for b.Loop() {
				h, err := server.New(server.Config{Notebook: st})
				if err != nil {
					b.Fatal(err)
				}
				if path != "" {
					w := httptest.NewRecorder()
					h.ServeHTTP(w, httptest.NewRequest("GET", "http://localhost"+path, nil))
					size = w.Body.Len()
				}
				h.Close()
			}
			b.ReportMetric(float64(size), "bytes")
		})
	}
}
