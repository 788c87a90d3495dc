//go:build unix

package server_test

import (
	"fmt"
	"math/rand/v2"
	"net/http/httptest"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"tautline/internal/drill"
	"tautline/internal/report"
	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
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
	s := benchSite(b, dir, func(st *store.Store) server.Config {
		return server.Config{Notebook: st, Sheets: report.Maker{Notebook: st}}
	})
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
			p95(b, nil, func() reply {
				path, body := page.path, page.body
				if path == "" {
					path, body = api+"/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "nocking_point", "text": "10 mm"}
				}
				return s.do(page.method, path, body)
			})
		})
	}
}

// p95 measures each answer on its own, after what comes before it unmeasured;
// p95-ms and the fastest are over them, kB is what the last one weighs.
func p95(b *testing.B, before func(), ask func() reply) {
	b.Helper()
	var took []time.Duration
	size := 0
	for b.Loop() {
		if before != nil {
			before()
		}
		begun := time.Now()
		r := ask()
		took = append(took, time.Since(begun))
		if r.status > 201 {
			b.Fatalf("%d %s", r.status, r.body)
		}
		size = len(r.body)
	}
	slices.Sort(took)
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
	b.ReportMetric(ms(took[len(took)*95/100]), "p95-ms")
	b.ReportMetric(ms(took[0]), "fastest-ms")
	b.ReportMetric(float64(size)/1000, "kB")
}

// BenchmarkClubPages is what a coach of thirty and the owner of a club of 30
// and 300 bows ask all evening: the bench, the round's last readings and the
// week, from memory; after one reading was noted; and after a record was taken
// back, which makes every bow's page anew (aim: p95 ≤ 30 ms).
func BenchmarkClubPages(b *testing.B) {
	for _, bows := range []int{30, 300} {
		club := fullClub(b, bows)
		for who, s := range map[string]*site{"owner": club.owner, "coach of 30": club.coach} {
			for _, path := range []string{"/bows", "/round"} {
				ask := func() reply { return s.do("GET", "/api/v1"+path, nil) }
				b.Run(fmt.Sprintf("%d bows/%s/%s", bows, who, path[1:]), func(b *testing.B) { p95(b, nil, ask) })
				b.Run(fmt.Sprintf("%d bows/%s/%s after a reading", bows, who, path[1:]), func(b *testing.B) { p95(b, func() { club.reads() }, ask) })
				b.Run(fmt.Sprintf("%d bows/%s/%s after a taking-back", bows, who, path[1:]), func(b *testing.B) {
					p95(b, func() {
						club.first.do("PUT", "/api/v1/retractions/"+id(), obj{"target": club.reads(), "reason": "slip"}).want(201)
					}, ask)
				})
			}
		}
		b.Run(fmt.Sprintf("%d bows/coach of 30/week", bows), func(b *testing.B) {
			club.coach.judgedWeek()
			b.ResetTimer()
			p95(b, nil, func() reply { return club.coach.do("GET", "/api/v1/week", nil) })
		})
	}
}

// club300 is a full club with three of its people.
type club300 struct {
	owner, coach, first *site // first: the archer whose bow is read
	bow, setup          string
}

// reads notes one reading and gives its id.
func (c club300) reads() string {
	name := id()
	c.first.do("PUT", "/api/v1/readings/"+name, obj{"bow": c.bow, "setup": c.setup, "kind": "tiller", "text": "4 mm"}).want(201)
	return name
}

// fullClub is a club of so many archers with a bow and thirty readings each;
// thirty of them let the second one work on theirs.
func fullClub(b *testing.B, archers int) club300 {
	dir := b.TempDir()
	all, err := drill.FillClub(b.Context(), dir, "", drill.Size{Archers: archers + 1, Impacts: 200 * archers, Readings: 33 * archers}, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		b.Fatal(err)
	}
	coach, shares := all[1], all[2:min(32, len(all))]
	var asked atomic.Int64 // time passes between two questions: nobody is too fast
	now := func() time.Time { return time.Now().Add(time.Duration(asked.Add(1)) * 100 * time.Millisecond) }
	s := benchSite(b, dir, func(st *store.Store) server.Config {
		for _, a := range shares {
			share := notebook.Share{Stamp: notebook.Stamp{ID: notebook.NewID(), By: a.Person, At: time.Now().UTC()}, Archer: a.Person, With: coach.Person, May: notebook.MayWork}
			if _, _, err := st.Shares().Put(b.Context(), a.Person, share); err != nil {
				b.Fatal(err)
			}
		}
		book := notebook.Guarded(st)
		return server.Config{Notebook: book, Accounts: st, Sheets: report.Maker{Notebook: book}, Now: now}
	})
	as := func(a drill.Archer) *site {
		who := *s
		who.token = a.Token
		return &who
	}
	first := all[2]
	return club300{as(all[0]), as(coach), as(first), string(first.Bow), string(first.SetUp)}
}

// benchSite serves the notebook of a folder, without fits of its own.
func benchSite(b *testing.B, dir string, config func(*store.Store) server.Config) *site {
	b.Helper()
	st, err := store.Open(b.Context(), dir, store.Options{})
	if err != nil {
		b.Fatal(err)
	}
	c := config(st)
	c.RefitAfter = -1
	h, err := server.New(c)
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
	return &site{t: b, url: srv.URL, store: st, started: time.Now().UTC()}
}
