package server_test

import (
	"fmt"
	"os"
	"sync"
	"sync/atomic"
	"testing"
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
