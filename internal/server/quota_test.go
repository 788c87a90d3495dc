package server_test

import (
	"bytes"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"tautline/internal/server"
)

// T19: each person sends so many bytes in a day; one more is refused, whether
// the length is said beforehand or not, and leaves no file. A viewer, who can
// write nothing, sends none.
func TestUploadsOfAPerson(t *testing.T) {
	var k clock
	c := openClub(t, limited, k.set, func(c *server.Config) { c.Limits.PersonPerDay = 15_000 })
	sound := func(n int, first byte) []byte { return append([]byte{first}, make([]byte, n-1)...) }
	send := func(who string, body []byte) reply {
		return c.as[who].do("PUT", "/api/v1/recordings/"+id()+"/sound", body, "Content-Type", "audio/wav")
	}
	send("viewer", sound(10, 1)).want(403)
	send("ann", sound(10_000, 2)).want(200)
	if r := send("ann", sound(5_001, 3)).want(429); r.header.Get("Retry-After") == "" {
		t.Error("more than a day's, and not when to come again")
	}
	if r := chunked(t, c.as["ann"], sound(5_001, 3)); r != http.StatusTooManyRequests {
		t.Errorf("more than a day's without its length: %d", r)
	}
	send("ben", sound(10_001, 3)).want(413) // of which nothing counts
	if n := c.files(); n != 1 {
		t.Errorf("%d files lie there", n)
	}
	send("ann", sound(5_000, 4)).want(200)
	send("ann", sound(1_000, 5)).want(429)
	send("ben", sound(10_000, 6)).want(200)
	send("ben", sound(5_000, 8)).want(200)
	k.wait(2 * time.Hour) // a twelfth of a day's, 1,250 bytes
	send("ann", sound(1_000, 7)).want(200)
	path := "/api/v1/recordings/" + id() + "/upload"
	part := func(body []byte, digest string, status int) {
		t.Helper()
		c.as["coach"].do("PATCH", path, body, partHeaders(0, len(body), "?1", "Repr-Digest", digest)...).want(status)
	}
	part(sound(10_000, 9), digestOf(sound(10_000, 1)), 422) // of which nothing was kept, and nothing counts
	part(sound(10_000, 9), "", 200)
	for range 3 { // it is finished: to ask for another file in its place gives nothing back
		c.as["coach"].do("PATCH", path, []byte{}, partHeaders(10_000, 10_000, "?1", "Repr-Digest", digestOf(sound(10_000, 1)))...).want(409)
	}
	send("coach", sound(5_001, 10)).want(429)
	c.as["ben"].do("PATCH", path, sound(1_000, 9), partHeaders(0, 2_000, "?0")...).want(429)
}

// chunked sends a recording without saying its length.
func chunked(t *testing.T, s *site, body []byte) int {
	t.Helper()
	r, err := http.NewRequest("PUT", s.url+"/api/v1/recordings/"+id()+"/sound", io.MultiReader(bytes.NewReader(body[:1]), bytes.NewReader(body[1:])))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Cookie", s.cookie)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if err := answer.Body.Close(); err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode
}

// T5: a recording that would take what is kept free of the disk is refused
// before it is read, with what to do; readings go on.
func TestUploadsLeaveRoom(t *testing.T) {
	free, total := int64(500_009_999), int64(100_000_000_000)
	s := open(t, limited, func(c *server.Config) {
		c.Space = func() server.SpaceStanding { return server.SpaceStanding{Free: free, Total: total} }
	})
	send := func() reply {
		return s.do("PUT", "/api/v1/recordings/"+id()+"/sound", bytes.Repeat([]byte{7}, 10_000), "Content-Type", "audio/wav")
	}
	if r := send().want(507); r.at("code") != "disk-full" || !strings.Contains(r.at("hint").(string), "free some space") || s.files() != 0 {
		t.Errorf("%s, %d files", r.body, s.files())
	}
	s.do("PUT", "/api/v1/bows/"+id(), obj{"name": "Blue 68", "style": "recurve"}).want(201)
	free++
	send().want(200)
	free, total = 1_000_000, 16_000_000 // a small disk: a twentieth
	send().want(200)
	free = -1 // nobody can tell
	send().want(200)
}
