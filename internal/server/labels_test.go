package server

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"tautline/internal/report"
	"tautline/internal/store"
)

// A label leads to where phones find the notebook; where that is this machine
// only, its sheet says so.
func TestLabelsLeadToWherePhonesFindTheNotebook(t *testing.T) {
	const first, second = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c9d5e", "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c9d6e"
	book, err := store.Open(t.Context(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	for _, c := range []struct{ public, asked, base, says string }{
		{"", "127.0.0.1:8421", "http://127.0.0.1:8421", "this computer only"},
		{"", "bench.local", "http://bench.local", ""},
		{"https://192.168.1.20:8443/", "127.0.0.1:8421", "https://192.168.1.20:8443", ""},
	} {
		h, err := New(Config{Notebook: book, Sheets: report.Maker{Notebook: book}, Public: c.public, Hosts: []string{"127.0.0.1", "bench.local"}})
		if err != nil {
			t.Fatal(err)
		}
		ask := func(method, path, body string) string {
			r := httptest.NewRequest(method, "http://"+c.asked+path, strings.NewReader(body))
			r.Header.Set("Content-Type", "application/json")
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			if w.Code >= 300 {
				t.Fatalf("%s %s: %d %s", method, path, w.Code, w.Body)
			}
			return w.Body.String()
		}
		for id, name := range map[string]string{first: "Kestrel 68", second: "Dipper 66"} {
			ask(http.MethodPut, "/api/v1/bows/"+id, `{"name": "`+name+`", "style": "recurve", "at": "2026-05-04T09:30:00Z"}`)
		}
		for _, address := range []string{"/sheets/label/" + first + ".txt", "/api/v1/sheets/label/" + first} {
			got := ask(http.MethodGet, address+"?also="+second, "")
			for _, want := range []string{"Kestrel 68", "Dipper 66", c.base + "/bows/" + first + "/round", c.base + "/bows/" + second + "/round", c.says} {
				if !strings.Contains(got, want) {
					t.Errorf("%s at %s lacks %q:\n%s", address, c.asked, want, got)
				}
			}
			if c.says == "" && strings.Contains(got, "this computer only") {
				t.Errorf("%s at %s doubts its address", address, c.asked)
			}
		}
	}
}
