package server_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"sync/atomic"
	"testing"

	"tautline/internal/store"
	"tautline/internal/store/pgtest"
)

// A change must say which version it starts from (428), and an old one is
// answered with the present value and a field-by-field difference (412) (U7).
func TestVersions(t *testing.T) {
	s := open(t)
	me := s.do("GET", "/api/v1/me", nil).want(200)
	body := obj{"name": "Robin", "hand": "left", "units": "metric", "decimal_comma": true}
	missing := s.do("PUT", "/api/v1/me", body).want(428)
	if missing.header.Get("ETag") != me.header.Get("ETag") {
		t.Errorf("428 names version %q, the person has %q", missing.header.Get("ETag"), me.header.Get("ETag"))
	}
	first := s.do("PUT", "/api/v1/me", body, "If-Match", me.header.Get("ETag")).want(200)
	body["name"], body["theme"] = "Kim", "sun"
	stale := s.do("PUT", "/api/v1/me", body, "If-Match", me.header.Get("ETag")).want(412)
	if stale.at("stored/name") != "Robin" || stale.at("sent/name") != "Kim" || stale.header.Get("ETag") != first.header.Get("ETag") {
		t.Errorf("412 does not show both: %s", stale.body)
	}
	var fields []string
	for _, d := range stale.at("differences").([]any) {
		fields = append(fields, d.(obj)["field"].(string))
	}
	if fmt.Sprint(fields) != "[/name /theme]" {
		t.Errorf("differences in %v, want /name and /theme", fields)
	}
	s.do("PUT", "/api/v1/me", body, "If-Match", stale.header.Get("ETag")).want(200)
	if got := s.do("GET", "/api/v1/me", nil).at("person/name"); got != "Kim" {
		t.Errorf("name is %v", got)
	}
	if got := s.do("GET", "/api/v1/me", nil).at("unit_symbols/force"); got != "N" {
		t.Errorf("metric force is %v", got)
	}
}

// If-Match: * is true of whatever is stored, and false of nothing (RFC 9110,
// 13.1.1): a change takes it, a create with it creates nothing. A create that
// is sent again may have it.
func TestIfMatchAny(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	s.do("PUT", "/api/v1/bows/"+bow+"/about", obj{"name": "Blue", "style": "recurve"}, "If-Match", "*").want(200)
	s.do("PUT", "/api/v1/bows/"+id()+"/about", obj{"name": "Blue", "style": "recurve"}, "If-Match", "*").want(404)
	s.do("PUT", "/api/v1/me", obj{"name": "Robin", "hand": "left", "units": "metric"}, "If-Match", `"7-nothing", *`).want(200)
	path := "/api/v1/readings/" + id()
	reading := obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22.1 cm"}
	for _, tag := range []string{"*", `"1-9f51c0de9f51c0de"`} {
		if r := s.do("PUT", path, reading, "If-Match", tag).want(412); r.at("code") != "outdated" {
			t.Errorf("code %v", r.at("code"))
		}
	}
	s.do("GET", path, nil).want(404)
	s.do("PUT", path, reading).want(201)
	s.do("PUT", path, reading, "If-Match", "*").want(200)
	s.do("PUT", path, reading, "If-Match", `"1-9f51c0de9f51c0de"`).want(412) // it has no versions
	other := "/api/v1/bows/" + id()
	s.do("PUT", other, obj{"name": "Red", "style": "recurve"}, "If-Match", "*").want(412)
	tag := s.do("PUT", other, obj{"name": "Red", "style": "recurve"}).want(201).header.Get("ETag")
	s.do("PUT", other, obj{"name": "Red", "style": "recurve"}, "If-Match", tag).want(200)
}

// Eight writers edit one bow's notes; every accepted edit is one version, and
// none is lost (U7; its 1,000 edits each are cut to 15 unless TAUTLINE_LONG is
// set).
func TestNoUpdateIsLost(t *testing.T) {
	s := open(t)
	bow, _ := s.bowWithSetUp()
	path := "/api/v1/bows/" + bow
	each := 15
	if os.Getenv("TAUTLINE_LONG") != "" {
		each = 1000
	}
	var accepted, refused atomic.Int64
	var wait sync.WaitGroup
	for w := range 8 {
		wait.Go(func() {
			for i := range each {
				for {
					tag := s.do("GET", path, nil).header.Get("ETag")
					r := s.do("PUT", path+"/about", obj{"name": "Blue", "style": "recurve", "notes": fmt.Sprintf("%d-%d", w, i)}, "If-Match", tag)
					if r.status == 200 {
						accepted.Add(1)
						break
					}
					if r.status != 412 {
						t.Errorf("%d %s", r.status, r.body)
						return
					}
					refused.Add(1)
				}
			}
		})
	}
	wait.Wait()
	if got := s.do("GET", path, nil).at("bow/version"); got != float64(1+accepted.Load()) || accepted.Load() != int64(8*each) {
		t.Errorf("version %v after %d accepted edits", got, accepted.Load())
	}
	t.Logf("%d edits accepted, %d refused as outdated", accepted.Load(), refused.Load())
	if refused.Load() == 0 {
		t.Error("no edit met another: the test does not test")
	}
}

// engines are the places where a notebook can be kept: a file, and PostgreSQL
// where its programs are.
func engines(t *testing.T) map[string]func(testing.TB) store.Options {
	t.Helper()
	all := map[string]func(testing.TB) store.Options{"file": func(testing.TB) store.Options { return store.Options{} }}
	server, err := pgtest.Start()
	if errors.Is(err, pgtest.ErrMissing) {
		t.Log(err)
		return all
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := server.Stop(); err != nil {
			t.Error(err)
		}
	})
	all["PostgreSQL"] = func(t testing.TB) store.Options {
		address, err := server.Database(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return store.Options{Database: address}
	}
	return all
}

// Version numbers come again after an older backup was restored: a change made
// from the version of that number before it is refused, with what is stored
// now and the tag to send instead. A bare number, as tags once were, is too.
func TestVersionsOfTwoNotebooks(t *testing.T) {
	for name, fresh := range engines(t) {
		t.Run(name, func(t *testing.T) {
			lost, kept := openIn(t, fresh(t)), openIn(t, fresh(t))
			bow, first := id(), obj{"name": "Blue", "style": "recurve", "at": "2026-05-04T09:30:00Z"}
			path := "/api/v1/bows/" + bow
			created := lost.do("PUT", path, first).want(201)
			if created.at("tag") != created.header.Get("ETag") || created.header.Get("ETag") != lost.version(bow) || lost.do("GET", path, nil).at("tag") != created.at("tag") {
				t.Errorf("created as %v, read as %s", created.at("tag"), lost.version(bow))
			}
			change := func(s *site, tag, notes string) reply {
				return s.do("PUT", path+"/about", obj{"name": "Blue", "style": "recurve", "notes": notes}, "If-Match", tag)
			}
			before := change(lost, lost.version(bow), "written after the backup").want(200)
			kept.do("PUT", path, first).want(201)
			now := change(kept, kept.version(bow), "written after it was restored").want(200)
			if before.at("version") != now.at("version") || before.at("tag") == now.at("tag") || now.at("tag") != kept.version(bow) {
				t.Fatalf("tags %v and %v of versions %v and %v", before.at("tag"), now.at("tag"), before.at("version"), now.at("version"))
			}
			for _, tag := range []string{fmt.Sprint(before.at("tag")), `"2"`, `"1"`, `W/"2"`, "2"} {
				r := change(kept, tag, "made from the version that is gone").want(412)
				if r.at("stored/notes") != "written after it was restored" || r.at("stored_tag") != now.at("tag") || r.header.Get("ETag") != now.at("tag") || r.at("differences/0/field") != "/notes" {
					t.Errorf("%s: %s", tag, r.body)
				}
			}
			change(kept, `"1-0000000000000000", `+fmt.Sprint(now.at("tag")), "one of several").want(200)
			change(kept, "*", "whatever it is").want(200)
		})
	}
}
