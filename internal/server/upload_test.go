package server_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tautline/internal/server"
)

// files counts what lies in the notebook's folder for recordings.
func (s *site) files() int {
	s.t.Helper()
	entries, err := os.ReadDir(filepath.Join(s.store.Dir(), "recordings"))
	if err != nil {
		s.t.Fatal(err)
	}
	return len(entries)
}

func limited(c *server.Config) { c.Limits.RecordingBytes = 10_000 }

// A recording of exactly the limit is kept; one byte more is refused and
// nothing of it stays (T19).
func TestUploadLimit(t *testing.T) {
	s := open(t, limited)
	body := bytes.Repeat([]byte{7}, 10_001)
	s.do("PUT", "/api/v1/recordings/"+id()+"/sound", body, "Content-Type", "audio/wav").want(413)
	if n := s.files(); n != 0 {
		t.Fatalf("%d files left after a refused upload", n)
	}
	r := s.do("PUT", "/api/v1/recordings/"+id()+"/sound", body[:10_000], "Content-Type", "audio/wav").want(200)
	sum := sha256.Sum256(body[:10_000])
	if r.at("hash") != hex.EncodeToString(sum[:]) || r.at("bytes") != 10_000.0 || s.files() != 1 {
		t.Errorf("kept %s in %d files", r.body, s.files())
	}
	s.do("PUT", "/api/v1/recordings/"+id()+"/sound", []byte{}, "Content-Type", "audio/wav").want(422)
}

// Without a length said beforehand the limit holds as well.
func TestUploadLimitHoldsForChunks(t *testing.T) {
	s := open(t, limited)
	r, err := http.NewRequest("PUT", s.url+"/api/v1/recordings/"+id()+"/sound", io.MultiReader(bytes.NewReader(make([]byte, 6000)), bytes.NewReader(make([]byte, 6000))))
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	got, err := read(t, answer)
	if err != nil {
		t.Fatal(err)
	}
	got.want(413)
	if n := s.files(); n != 0 {
		t.Errorf("%d files left", n)
	}
}

// An upload that breaks off, or stops coming, leaves nothing.
func TestBrokenUploadLeavesNothing(t *testing.T) {
	s := open(t, func(c *server.Config) { c.Limits.UploadIdle = 100 * time.Millisecond })
	host := strings.TrimPrefix(s.url, "http://")
	for _, hangUp := range []bool{true, false} {
		c, err := net.Dial("tcp", host)
		if err != nil {
			t.Fatal(err)
		}
		text := "PUT /api/v1/recordings/" + id() + "/sound HTTP/1.1\r\nHost: " + host + "\r\nContent-Length: 5000\r\n\r\n" + strings.Repeat("x", 2000)
		if _, err := c.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
		if !hangUp {
			// The server gives up after its pause and says so.
			head := make([]byte, 12)
			if _, err := io.ReadFull(c, head); err != nil || string(head) != "HTTP/1.1 408" {
				t.Errorf("a stalled upload is answered %q, %v; want 408", head, err)
			}
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		left := 1
		for range 100 {
			if left = s.files(); left == 0 {
				break
			}
			time.Sleep(10 * time.Millisecond)
		}
		if left != 0 {
			t.Errorf("%d files left after a broken upload", left)
		}
	}
}

// A slow upload that keeps coming is taken, however long each pause below the
// limit adds up to.
func TestSlowUploadSucceeds(t *testing.T) {
	s := open(t, func(c *server.Config) { c.Limits.UploadIdle = 300 * time.Millisecond })
	in, out := io.Pipe()
	go func() {
		for range 8 {
			time.Sleep(100 * time.Millisecond)
			if _, err := out.Write(bytes.Repeat([]byte{1}, 1000)); err != nil {
				return
			}
		}
		out.Close()
	}()
	r, err := http.NewRequest("PUT", s.url+"/api/v1/recordings/"+id()+"/sound", in)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	got, err := read(t, answer)
	if err != nil {
		t.Fatal(err)
	}
	if got.want(200).at("bytes") != 8000.0 {
		t.Errorf("%s", got.body)
	}
}

// Playback gives the bytes as sent, parts of them by Range, and never as a
// page of ours (T18).
func TestPlayback(t *testing.T) {
	s := open(t)
	file := []byte("<html><script>alert(1)</script> not a sound at all")
	one := id()
	hash := s.do("PUT", "/api/v1/recordings/"+one+"/sound", file, "Content-Type", "text/html").want(200).at("hash")
	s.do("PUT", "/api/v1/recordings/"+one, obj{"hash": hash, "media": "text/html", "name": "<b>.wav"}).want(201)
	path := "/api/v1/recordings/" + one + "/sound"
	for _, row := range []struct {
		span   string
		status int
		body   string
	}{
		{"", 200, string(file)}, {"bytes=0-4", 206, string(file[:5])}, {"bytes=-3", 206, string(file[len(file)-3:])},
		{"bytes=1000-", 416, ""}, {"lines=1-2", 416, ""},
	} {
		r := s.do("GET", path, nil, "Range", row.span).want(row.status)
		if row.status < 400 {
			if string(r.body) != row.body {
				t.Errorf("Range %q: %q", row.span, r.body)
			}
			if r.header.Get("Content-Type") != "application/octet-stream" || !strings.HasPrefix(r.header.Get("Content-Disposition"), "attachment") ||
				!strings.HasPrefix(r.header.Get("Content-Security-Policy"), "sandbox") {
				t.Errorf("headers: %v", r.header)
			}
		}
	}
	// Not a sound: listening says so in words, not with a fault.
	s.do("GET", "/api/v1/recordings/"+one+"/listening", nil).want(422)
}

// A record never lacks its file.
func TestRecordingNeedsItsFile(t *testing.T) {
	s := open(t)
	r := s.do("PUT", "/api/v1/recordings/"+id(), obj{"hash": strings.Repeat("a", 64)}).want(422)
	if r.at("field") != "/hash" {
		t.Errorf("%s", r.body)
	}
}

// jsonBody and read help requests that do not go through site.do.
func jsonBody(t *testing.T, body obj) io.Reader {
	t.Helper()
	return bytes.NewReader([]byte(compact(body)))
}

func read(t *testing.T, answer *http.Response) (reply, error) {
	t.Helper()
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	return reply{t: t, status: answer.StatusCode, header: answer.Header, body: body}, err
}
