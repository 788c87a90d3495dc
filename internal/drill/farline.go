//go:build unix

package drill

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"sync"
	"time"
)

// The line of a phone far from its mast (bars.md D10), each way.
const (
	farDelay = 150 * time.Millisecond
	farSway  = 50 * time.Millisecond // either side, evenly
	farLoss  = 2                     // of 100 segments
)

// badLine are netem's words for it.
var badLine = fmt.Sprintf("delay %dms %dms loss %d%%", farDelay.Milliseconds(), farSway.Milliseconds(), farLoss)

// What TCP adds to a segment that is lost: the sender waits for its timer,
// twice as long each time. The timer is the smoothed round trip and four times
// its deviation (RFC 6298, 2.3), and a second as long as nothing is known (2.1).
const (
	resendAfter = 2*farDelay + 4*farSway
	helloAfter  = time.Second
)

// segmentSize is what one packet of an Ethernet carries over IPv4, and window
// how many of them are on their way at most, some 64 kB.
const (
	segmentSize = 1460
	window      = 44
)

// line is the bad line made here, where the kernel makes none: what is sent
// comes late, in the order in which it was sent, and what waits for a lost
// segment waits with it. That is what TCP lets a program see of such a line; it
// leaves out that a sender sends less after a loss, and waits until what is on
// its way was acknowledged, which answers of a few kilobytes do not notice, and
// what the kernel does to its own buffers.
type line struct {
	mu   sync.Mutex
	dice *rand.Rand
}

// late is how long a segment takes.
func (l *line) late(timer time.Duration) (d time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for ; l.dice.IntN(100) < farLoss; timer *= 2 {
		d += timer
	}
	return d + farDelay + time.Duration(l.dice.Int64N(int64(2*farSway))) - farSway
}

// dial opens a connection over the line: it is open when the hello and its
// answer have arrived.
func (l *line) dial(ctx context.Context, network, address string) (net.Conn, error) {
	select {
	case <-time.After(l.late(helloAfter) + l.late(helloAfter)):
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	there, err := (&net.Dialer{}).DialContext(ctx, network, address)
	if err != nil {
		return nil, err
	}
	here, end := net.Pipe()
	go l.carry(there, end)
	go l.carry(end, there)
	return here, nil
}

// segment is what is on its way; it does not overtake the one before.
type segment struct {
	bytes []byte
	due   time.Time
}

// carry brings what one end sends to the other, and the end of it too.
func (l *line) carry(to io.WriteCloser, from io.Reader) {
	way := make(chan segment, window)
	go func() {
		defer close(way)
		for {
			b := make([]byte, segmentSize)
			n, err := from.Read(b)
			way <- segment{b[:n], time.Now().Add(l.late(resendAfter))}
			if err != nil {
				return
			}
		}
	}()
	var err error
	for s := range way {
		if err == nil {
			time.Sleep(time.Until(s.due))
		}
		if err == nil && len(s.bytes) > 0 {
			_, err = to.Write(s.bytes)
		}
		if err != nil {
			_ = to.Close() // it broke: what is still on its way is lost
		}
	}
	_ = to.Close() // that was all
}
