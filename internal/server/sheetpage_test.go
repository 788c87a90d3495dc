package server

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"

	"tautline/internal/store"
)

// A sheet's page has the same address with and without an ending: with one it
// is a file, without it is a page that can be reloaded and sent on.
func TestSheetPageCanBeReloaded(t *testing.T) {
	book, err := store.Open(t.Context(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	h, err := New(Config{Notebook: book, App: fstest.MapFS{"index.html": {Data: []byte("<title>the pages</title>")}}})
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		"/sheets/trial/019d33ad-2b00-732f-ab47-7c0162602a38":     "the pages",
		"/sheets/trial/019d33ad-2b00-732f-ab47-7c0162602a38.pdf": "application/problem+json",
	} {
		r := httptest.NewRequest(http.MethodGet, "http://127.0.0.1"+path, nil)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if got := w.Header().Get("Content-Type") + w.Body.String(); !strings.Contains(got, want) {
			t.Errorf("%s gave %d %.120s, want %s", path, w.Code, got, want)
		}
	}
}
