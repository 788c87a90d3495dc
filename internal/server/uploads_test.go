package server_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tautline/internal/server"
)

// noise is a sound of so many bytes that no two seeds share.
func noise(n int, seed uint64) []byte {
	out := make([]byte, n)
	_, _ = rand.NewChaCha8([32]byte{byte(seed), byte(seed >> 8)}).Read(out) // never fails
	return out
}

// digestOf is a Repr-Digest field (RFC 9530).
func digestOf(b []byte) string {
	sum := sha256.Sum256(b)
	return "sha-256=:" + base64.StdEncoding.EncodeToString(sum[:]) + ":"
}

func partHeaders(at, whole int, complete string, more ...string) []string {
	return append([]string{"Content-Type", "application/partial-upload", "Upload-Offset", strconv.Itoa(at), "Upload-Length", strconv.Itoa(whole), "Upload-Complete", complete}, more...)
}

func hashOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// An upload in parts, step by step, with all that can go wrong between two.
func TestUploadInParts(t *testing.T) {
	s := open(t)
	one, body := id(), noise(5000, 1)
	path := "/api/v1/recordings/" + one + "/upload"
	s.do("GET", path, nil).want(404)
	s.do("PATCH", path, body[10:20], partHeaders(10, 5000, "?0")...).want(409) // nothing is here to go on from
	s.do("PATCH", path, body[:2000], partHeaders(0, 5000, "?0")...).want(200)
	r := s.do("GET", path, nil).want(200)
	if r.header.Get("Upload-Offset") != "2000" || r.header.Get("Upload-Complete") != "?0" || r.at("bytes") != 2000.0 {
		t.Errorf("%v %s", r.header, r.body)
	}
	for _, at := range []int{0, 1999, 2001} {
		r := s.do("PATCH", path, body[at:at+100], partHeaders(at, 5000, "?0")...).want(409)
		if r.header.Get("Upload-Offset") != "2000" || r.at("code") != "other-offset" {
			t.Errorf("from %d: %v %s", at, r.header, r.body)
		}
	}
	last := partHeaders(2000, 5000, "?1", "Repr-Digest", digestOf(body))
	for range 3 { // an answer that was lost: the same again, and the rest of it is not read
		r = s.do("PATCH", path, body[2000:], last...)
		if r.status == 409 {
			last = partHeaders(5000, 5000, "?1", "Repr-Digest", digestOf(body))
			r = s.do("PATCH", path, []byte{}, last...)
		}
		if r.want(200).at("hash") != hashOf(body) || r.header.Get("Upload-Complete") != "?1" {
			t.Fatalf("%s", r.body)
		}
	}
	if r := s.do("GET", path, nil).want(200); r.at("hash") != hashOf(body) || r.header.Get("Upload-Offset") != "5000" {
		t.Errorf("afterwards: %s", r.body)
	}
	s.do("PUT", "/api/v1/recordings/"+one, obj{"hash": hashOf(body), "media": "audio/wav"}).want(201)
	if back := s.do("GET", "/api/v1/recordings/"+one+"/sound", nil).want(200); !bytes.Equal(back.body, body) {
		t.Error("other bytes came back")
	}
}

// What is not the file that was sent is not kept, nor what is too large, nor
// what was given up.
func TestPartsThatAreNotKept(t *testing.T) {
	s := open(t, limited)
	body := noise(6000, 2)
	for _, row := range []struct {
		why     string
		status  int
		field   string
		whole   int
		digest  string
		part    any
		already []byte
	}{
		{"another hash", 422, "", 6000, digestOf(body[1:]), body[3000:], body[:3000]},
		{"a hash that is none", 422, "Repr-Digest", 6000, "sha-256=:x:", body[3000:], body[:3000]},
		{"larger than is taken, by its own word", 413, "", 10_001, "", body[3000:], body[:3000]},
		{"larger than is taken, unsaid", 413, "", 0, "", noise(7001, 3), body[:3000]},
		{"larger than is taken, and nobody says how large", 413, "", 0, "", io.MultiReader(bytes.NewReader(noise(7001, 3))), body[:3000]},
		{"nothing at all", 422, "", 0, "", []byte{}, nil},
	} {
		path := "/api/v1/recordings/" + id() + "/upload"
		if row.already != nil {
			s.do("PATCH", path, row.already, partHeaders(0, 0, "?0")...).want(200)
		}
		r := s.do("PATCH", path, row.part, partHeaders(len(row.already), row.whole, "?1", "Repr-Digest", row.digest)...).want(row.status)
		if row.field != "" && r.at("field") != row.field {
			t.Errorf("%s: %s", row.why, r.body)
		}
		if row.field != "" {
			s.do("DELETE", path, nil).want(204) // said in time: what was here stays, and can go on
		}
		if n := s.files(); n != 0 {
			t.Errorf("%s: %d files are left", row.why, n)
		}
		s.do("GET", path, nil).want(404)
	}
}

// An upload is its sender's alone: under the same id another has another one.
func TestPartsAreTheSendersOwn(t *testing.T) {
	c := openClub(t)
	one, hers, his := id(), noise(900, 4), noise(800, 5)
	path := "/api/v1/recordings/" + one + "/upload"
	c.as["ann"].do("PATCH", path, hers[:500], partHeaders(0, 900, "?0")...).want(200)
	for _, who := range []string{"ben", "coach", "viewer", "owner", "other coach"} {
		c.as[who].do("GET", path, nil).want(404)
		c.as[who].do("DELETE", path, nil).want(204)
	}
	c.as["ben"].do("PATCH", path, his[500:], partHeaders(500, 800, "?1")...).want(409)
	c.as["ben"].do("PATCH", path, his, partHeaders(0, 800, "?1")...).want(200)
	c.as["viewer"].do("PATCH", path, his, partHeaders(0, 800, "?1")...).want(403)
	c.as["nobody"].do("PATCH", path, his, partHeaders(0, 800, "?1")...).want(401)
	if r := c.as["ann"].do("PATCH", path, hers[500:], partHeaders(500, 900, "?1", "Repr-Digest", digestOf(hers))...).want(200); r.at("hash") != hashOf(hers) {
		t.Errorf("%s", r.body)
	}
}

// What is here of an upload goes with the person it was of.
func TestErasureTakesParts(t *testing.T) {
	c := openClub(t)
	left := func() (n int) {
		names, err := filepath.Glob(filepath.Join(c.site.store.Dir(), "recordings", "incoming-*"))
		if err != nil {
			t.Fatal(err)
		}
		return len(names)
	}
	for _, who := range []string{"ann", "ben"} {
		c.as[who].do("PATCH", "/api/v1/recordings/"+id()+"/upload", noise(300, 6), partHeaders(0, 900, "?0")...).want(200)
		c.as[who].do("PATCH", "/api/v1/recordings/"+id()+"/upload", noise(300, 7), partHeaders(0, 300, "?1")...).want(200)
	}
	before := left()
	c.as["ben"].do("POST", "/api/v1/account/confirm", obj{"password": goodPassword}).want(200)
	c.as["ben"].do("POST", "/api/v1/people/"+c.ids["ben"]+"/erasure", obj{"name": "Ben"}).want(200)
	if before != 4 || left() != 2 {
		t.Errorf("%d files before, %d after", before, left())
	}
}

// badLine passes bytes on to the server until it breaks, which it does at a
// byte that is drawn anew for each connection.
type badLine struct {
	net.Listener
	to   string
	sent atomic.Int64 // bytes that went up
}

// openBadLine asks before each connection how many bytes it lets through; 0: it
// holds.
func openBadLine(t *testing.T, to string, left func() int64) *badLine {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b := &badLine{Listener: l, to: to}
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return // the test is over
			}
			go b.pass(c, left())
		}
	}()
	return b
}

func (b *badLine) pass(from net.Conn, left int64) {
	defer from.Close()
	to, err := net.Dial("tcp", b.to)
	if err != nil {
		return
	}
	defer to.Close()
	go func() {
		_, _ = io.Copy(from, to) // both ends find out by themselves
		_ = from.Close()
	}()
	var up io.Reader = from
	if left > 0 {
		up = io.LimitReader(from, left)
	}
	n, _ := io.Copy(to, up)
	b.sent.Add(n)
}

// goesOn sends a recording in parts over a line that breaks, as a phone does:
// it asks how much is here and sends the rest, until the whole is here.
type goesOn struct {
	t     *testing.T
	url   string
	http  *http.Client
	body  []byte
	part  int
	tries int
}

func (g *goesOn) send(one string) (hash string) {
	g.t.Helper()
	path := g.url + "/api/v1/recordings/" + one + "/upload"
	at, known := 0, true
	for g.tries = 0; g.tries < 500; g.tries++ {
		if !known {
			r, err := g.ask("GET", path, nil)
			if err != nil || r.status != 200 && r.status != 404 {
				continue
			}
			if at, known = 0, true; r.status == 200 {
				at = int(r.at("bytes").(float64))
			}
		}
		end := min(at+g.part, len(g.body))
		headers := partHeaders(at, len(g.body), "?0")
		if end == len(g.body) {
			headers = partHeaders(at, len(g.body), "?1", "Repr-Digest", digestOf(g.body))
		}
		r, err := g.ask("PATCH", path, g.body[at:end], headers...)
		switch {
		case err != nil || r.status == 409 || r.status == 408 || r.status == 503 && r.at("code") == "not-received": // 503: the line broke behind the last byte
			known = false
		case r.status != 200:
			g.t.Fatalf("from %d: %d %s", at, r.status, r.body)
		case r.header.Get("Upload-Complete") == "?1":
			return fmt.Sprint(r.at("hash"))
		default:
			at = end
		}
	}
	g.t.Fatal("never arrived")
	return ""
}

func (g *goesOn) ask(method, url string, body []byte, headers ...string) (reply, error) {
	r, err := http.NewRequestWithContext(g.t.Context(), method, url, bytes.NewReader(body))
	if err != nil {
		g.t.Fatal(err)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	answer, err := g.http.Do(r)
	if err != nil {
		return reply{}, err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	return reply{t: g.t, status: answer.StatusCode, header: answer.Header, body: text}, err
}

// U18: an upload goes on from the last byte. Fifty recordings go over a line
// that breaks at random bytes: each arrives as it was sent, and of none is more
// than one part sent twice for each break. TAUTLINE_LONG for two thousand.
func TestUploadsGoOn(t *testing.T) {
	s := open(t)
	rounds := 50
	if os.Getenv("TAUTLINE_LONG") != "" {
		rounds = 2000
	}
	breaks, twice := 0, int64(0)
	for round := range rounds {
		dice := rand.New(rand.NewPCG(uint64(round), 18))
		g := &goesOn{t: t, part: 16 << 10, body: noise(40_000+dice.IntN(120_000), uint64(round)), http: &http.Client{Timeout: 20 * time.Second, Transport: &http.Transport{DisableKeepAlives: true}}}
		var breaking atomic.Int64
		line := openBadLine(t, strings.TrimPrefix(s.url, "http://"), func() int64 {
			if dice.IntN(2) == 0 {
				return 0
			}
			breaking.Add(1)
			return 1 + dice.Int64N(int64(g.part)+1000)
		})
		g.url = "http://" + line.Addr().String()
		one := id()
		if hash := g.send(one); hash != hashOf(g.body) {
			t.Fatalf("round %d: arrived as %s", round, hash)
		}
		s.do("PUT", "/api/v1/recordings/"+one, obj{"hash": hashOf(g.body)}).want(201)
		if back := s.do("GET", "/api/v1/recordings/"+one+"/sound", nil).want(200); !bytes.Equal(back.body, g.body) {
			t.Fatalf("round %d: other bytes", round)
		}
		_ = line.Close()
		broken := int(breaking.Load())
		asked := int64(g.tries+1) * 2 * 600 // heads of requests
		over := line.sent.Load() - int64(len(g.body))
		if most := int64(broken*g.part) + asked; over > most {
			t.Errorf("round %d: %d bytes too many went up over %d breaks, at most %d may", round, over, broken, most)
		}
		breaks, twice = breaks+broken, twice+max(0, over)
	}
	if breaks < rounds {
		t.Errorf("only %d breaks in %d rounds: the line is too good to test anything", breaks, rounds)
	}
	t.Logf("%d recordings, %d breaks, %d bytes more than once or in heads of requests", rounds, breaks, twice)
}

// A request whose line is lost, but not known to be, holds up the next one for
// no longer than it takes to end it.
func TestNewerPartEndsTheOlder(t *testing.T) {
	s := open(t, func(c *server.Config) { c.Limits.UploadIdle = time.Hour })
	host := strings.TrimPrefix(s.url, "http://")
	one, body := id(), noise(5000, 8)
	path := "/api/v1/recordings/" + one + "/upload"
	for _, at := range []int{0, 2000} {
		c, err := net.Dial("tcp", host)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		text := fmt.Sprintf("PATCH %s HTTP/1.1\r\nHost: %s\r\nContent-Length: %d\r\nUpload-Offset: %d\r\nUpload-Complete: ?1\r\n\r\n", path, host, 5000-at, at)
		if _, err := c.Write(append([]byte(text), body[at:at+2000]...)); err != nil {
			t.Fatal(err)
		}
		for began := time.Now(); s.held() < int64(at+2000); time.Sleep(time.Millisecond) {
			if time.Since(began) > 20*time.Second {
				t.Fatal("it never came")
			}
		}
		if r := s.do("GET", path, nil).want(200); r.at("bytes") != float64(at+2000) {
			t.Errorf("%s", r.body)
		}
	}
	s.do("PATCH", path, body[4000:], partHeaders(4000, 5000, "?1", "Repr-Digest", digestOf(body))...).want(200)
}

// held is how many bytes lie here of an unfinished upload.
func (s *site) held() (n int64) {
	s.t.Helper()
	entries, err := os.ReadDir(filepath.Join(s.store.Dir(), "recordings"))
	if err != nil {
		s.t.Fatal(err)
	}
	for _, e := range entries {
		if info, err := e.Info(); err == nil {
			n += info.Size()
		}
	}
	return n
}
