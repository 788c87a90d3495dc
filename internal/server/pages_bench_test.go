//go:build unix

package server_test

import (
	"math/rand/v2"
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"tautline/internal/drill"
	"tautline/internal/report"
	"tautline/internal/server"
	"tautline/internal/store"
)

// BenchmarkPages asks what the pages ask of a notebook with a million impacts
// and ten thousand readings on five bows (aim: p95 ≤ 30 ms, issue "At the
// range"). Each answer is measured on its own; p95-ms is over them.
func BenchmarkPages(b *testing.B) {
	dir := b.TempDir()
	archers, err := drill.FillClub(b.Context(), dir, "", drill.Size{Archers: 5, Impacts: 1_000_000, Readings: 10_000}, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		b.Fatal(err)
	}
	st, err := store.Open(b.Context(), dir, store.Options{})
	if err != nil {
		b.Fatal(err)
	}
	h, err := server.New(server.Config{Notebook: st, Sheets: report.Maker{Notebook: st}, RefitAfter: -1})
	if err != nil {
		b.Fatal(err)
	}
	srv := httptest.NewServer(h)
	b.Cleanup(func() {
		srv.Close()
		h.Close()
		if err := st.Close(); err != nil {
			b.Error(err)
		}
	})
	s := &site{t: b, url: srv.URL, store: st, started: time.Now().UTC()}
	a := archers[2]
	bow, setup, session := string(a.Bow), string(a.SetUp), string(a.Sessions[len(a.Sessions)-1])
	trial := id()
	s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": obj{"turns_per_step": 3}}).want(201)
	api := "/api/v1"
	for _, page := range []struct {
		name, method, path string
		body               any
	}{
		{"bench", "GET", api + "/bows", nil},
		{"bow", "GET", api + "/bows/" + bow, nil},
		{"bow readings", "GET", api + "/readings?limit=500&bow=" + bow, nil},
		{"setups", "GET", api + "/bows/" + bow + "/setups", nil},
		{"sessions", "GET", api + "/sessions?bow=" + bow, nil},
		{"session", "GET", api + "/sessions/" + session, nil},
		{"ends of a session", "GET", api + "/ends?session=" + session, nil},
		{"first ends of a bow", "GET", api + "/ends?bow=" + bow, nil},
		{"group of a session", "POST", api + "/groups/describe", obj{"session": session}},
		{"trial", "GET", api + "/trials/" + trial, nil},
		{"trials", "GET", api + "/trials?bow=" + bow, nil},
		{"note a reading", "PUT", "", nil},
		{"group of a set-up", "POST", api + "/groups/describe", obj{"setup": setup}},
		{"observed", "GET", api + "/bows/" + bow + "/observed", nil},
		{"upkeep", "GET", api + "/bows/" + bow + "/upkeep", nil},
	} {
		b.Run(page.name, func(b *testing.B) {
			took := make([]time.Duration, 0, b.N)
			for b.Loop() {
				path, body := page.path, page.body
				if path == "" {
					path, body = api+"/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "nocking_point", "text": "10 mm"}
				}
				begun := time.Now()
				if r := s.do(page.method, path, body); r.status > 201 {
					b.Fatalf("%d %s", r.status, r.body)
				}
				took = append(took, time.Since(begun))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}
