//go:build unix

package drill

import (
	"bytes"
	"io"
	"math/rand/v2"
	"net"
	"slices"
	"testing"
	"time"
)

// A segment takes what netem would make of it: 150 ± 50 ms, evenly; two of a
// hundred are lost and come a timer later (tc-netem(8); RFC 6298).
func TestTheBadLinesTimes(t *testing.T) {
	l := &line{dice: rand.New(rand.NewPCG(1, 2))}
	const n = 100_000
	var at [n]time.Duration
	lost := 0
	for i := range at {
		if at[i] = l.late(resendAfter); at[i] > farDelay+farSway {
			lost++
		}
	}
	slices.Sort(at[:])
	if lost < 1800 || lost > 2200 { // 2000 ± 44, four and a half times that
		t.Errorf("%d of %d were lost", lost, n)
	}
	if at[0] < 100*time.Millisecond || at[n/4] < 124*time.Millisecond || at[n/4] > 127*time.Millisecond || at[n-1] < 600*time.Millisecond {
		t.Errorf("least %v, a quarter below %v, most %v", at[0], at[n/4], at[n-1])
	}
	for i := range at {
		var answer time.Duration
		for range 8 {
			answer = max(answer, l.late(resendAfter))
		}
		at[i] = l.late(resendAfter) + answer
	}
	slices.Sort(at[:])
	for _, q := range []struct{ got, stated time.Duration }{{at[n*99/100], farTakes}, {at[n*999/1000], farTakes9}} {
		if q.got > q.stated || q.got < q.stated-100*time.Millisecond {
			t.Errorf("a request and its answer take %v, not just below %v", q.got, q.stated)
		}
	}
}

// What is sent arrives whole, in order and late, both ways; and an end arrives too.
func TestTheBadLineCarries(t *testing.T) {
	server, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer server.Close()
	sent := make([]byte, 100_000)
	for i := range sent {
		sent[i] = byte(rand.Uint32())
	}
	got := make(chan []byte, 1)
	go func() {
		defer close(got)
		c, err := server.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		b := make([]byte, len(sent))
		n, _ := io.ReadFull(c, b)
		got <- b[:n]
		_, _ = c.Write([]byte("thanks"))
	}()
	begun := time.Now()
	c, err := (&line{dice: rand.New(rand.NewPCG(1, 2))}).dial(t.Context(), "tcp", server.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Write(sent); err != nil {
		t.Fatal(err)
	}
	if b := <-got; !bytes.Equal(b, sent) {
		t.Errorf("%d of %d bytes arrived, or others", len(b), len(sent))
	}
	if answer, err := io.ReadAll(c); string(answer) != "thanks" || err != nil {
		t.Errorf("the answer was %q, %v", answer, err)
	}
	if took := time.Since(begun); took < 4*(farDelay-farSway) {
		t.Errorf("hello, request and answer took %v", took)
	}
}
