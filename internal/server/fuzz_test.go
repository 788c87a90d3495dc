package server_test

import (
	"bufio"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// FuzzQuery: whatever stands behind the question mark of a list, the answer is
// a list or a problem in our words (T20, U5).
func FuzzQuery(f *testing.F) {
	for _, q := range []string{"limit=3", "limit=-1&after=x", "bow=%00", "after=1'%20OR%201=1--", "limit=1&limit=2", "%zz", "retracted=perhaps", "a=1;b=2", "after=%ff%fe", "unit=furlong"} {
		f.Add(q)
	}
	s := open(f)
	bow, setup := s.bowWithSetUp()
	s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22.1 cm"}).want(201)
	host := strings.TrimPrefix(s.url, "http://")
	f.Fuzz(func(t *testing.T, query string) {
		for _, path := range []string{"/api/v1/readings", "/api/v1/ends.csv"} {
			line := "GET " + path + "?" + query + " HTTP/1.1\r\nHost: " + host + "\r\n\r\n"
			r, err := http.ReadRequest(bufio.NewReader(strings.NewReader(line)))
			if err != nil || r.URL.Path != path || r.Host != host {
				continue // no request, or another one: HTTP's own reader answers
			}
			w := httptest.NewRecorder()
			s.handler.ServeHTTP(w, r)
			switch {
			case w.Code >= 500:
				t.Fatalf("%s?%q: %d %s", path, query, w.Code, w.Body)
			case w.Code >= 400:
				(reply{t: t, status: w.Code, header: w.Header(), body: w.Body.Bytes()}).problem(path)
			}
		}
	})
}

// FuzzSettings: whatever body a set-up, a reading, an end or a trial is sent
// with, the answer is the record, as it can then be read, or a problem in our
// words (T20). BOW and SETUP stand for what there is.
func FuzzSettings(f *testing.F) {
	s := open(f)
	bow, setup := s.bowWithSetUp()
	paths := []string{"/api/v1/setups/", "/api/v1/readings/", "/api/v1/ends/", "/api/v1/trials/"}
	for i := range paths {
		paths[i] += id() // one each: what is taken once is another's answer after that
	}
	paths = append(paths, "/api/v1/bows/"+bow+"/about")
	whole, err := json.Marshal(obj{"bow": "BOW", "parent": "SETUP", "reason": "as bought", "settings": settings()})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(uint8(0), string(whole))
	for _, one := range []struct {
		to   uint8
		body string
	}{
		{0, `{"bow":"BOW","settings":{"brace_height":{"value":"8 3/4 in"},"draw":{"weight":"41#"},"string":{"strands":1e300,"twists":-0}}}`},
		{0, `{"bow":"BOW","settings":{"riser":{"offset":"-1e400 mm"},"limbs":null,"arrow":[],"x":{}}}`},
		{1, `{"bow":"BOW","setup":"SETUP","kind":"brace_height","text":"22,1 cm","doubt":1e-320,"stop":1000}`},
		{1, `{"bow":"BOW","setup":"SETUP","kind":"draw_force","text":"18 lbf","draw_length":"24 in","shaft":{"mass":"0 gr"}}`},
		{2, `{"bow":"BOW","setup":"SETUP","distance":"70 m","face":"122","number":1,"impacts":[{"arrow":"1","x_m":1e308,"y_m":-0.05},{"ring":"M"},{"ring":"X","bare":true}]}`},
		{3, `{"setup":"SETUP","ask":{"what":"two set-ups","setting":"button","rounds":-1,"arrows":0,"arrow_minutes":1e-300}}`},
		{3, `{"setup":"SETUP","ask":{"what":"one setting","levels":["1","2","nan"],"rounds":200,"arrows":24}}`},
		{4, `{"name":"\u0000\ud800","style":"recurve","notes":"` + strings.Repeat("é", 300) + `"}`},
		{1, `{"bow":"BOW","bow":"SETUP"}`}, {0, `[`}, {2, ``}, {4, `{"name":1e999}`},
	} {
		f.Add(one.to, one.body)
	}
	host := strings.TrimPrefix(s.url, "http://")
	ask := func(t *testing.T, method, path, body string) *httptest.ResponseRecorder {
		r := httptest.NewRequestWithContext(t.Context(), method, path, strings.NewReader(body))
		r.Host = host
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("If-Match", "*")
		if method == "PUT" && !strings.HasSuffix(path, "/about") {
			r.Header.Del("If-Match")
		}
		w := httptest.NewRecorder()
		s.handler.ServeHTTP(w, r)
		return w
	}
	f.Fuzz(func(t *testing.T, to uint8, body string) {
		path := paths[int(to)%len(paths)]
		body = strings.NewReplacer("BOW", bow, "SETUP", setup).Replace(body)
		w := ask(t, "PUT", path, body)
		switch {
		case w.Code >= 500:
			t.Fatalf("%s %q: %d %s", path, body, w.Code, w.Body)
		case w.Code >= 400:
			(reply{t: t, status: w.Code, header: w.Header(), body: w.Body.Bytes()}).problem(path)
			return
		case !json.Valid(w.Body.Bytes()):
			t.Fatalf("%s %q: no JSON: %s", path, body, w.Body)
		}
		if r := ask(t, "GET", strings.TrimSuffix(path, "/about"), ""); r.Code != http.StatusOK || !json.Valid(r.Body.Bytes()) {
			t.Fatalf("%s took %q, and gives %d %s", path, body, r.Code, r.Body)
		}
	})
}
