//go:build unix

package drill

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sync"
	"time"
)

// Sent is one write as it was sent; the same is sent again until it is
// answered.
type Sent struct {
	Method, Path string
	Kind         string // of the body; default application/json
	Headers      []string
	Body         []byte

	// ID and Version are the record that it makes; Mark is text in its body
	// that no other has. An upload has a Hash instead.
	ID      string
	Version int
	Mark    string
	Hash    string
	// Parts are where the body is cut when it is sent in parts, nil for whole.
	Parts []int
	Kept  int // bytes of it that were acknowledged

	Tag    string // of what it made, by the answer
	Tries  int
	Began  time.Time
	Acked  bool
	Refuse string // an answer that should not be
}

// key is what the write makes, among all that is kept.
func (s *Sent) key() string {
	if s.Hash != "" {
		return s.Hash
	}
	return fmt.Sprintf("%s/%d", s.ID, s.Version)
}

// Ledger knows what was sent, and what was acknowledged.
type Ledger struct {
	mu   sync.Mutex
	sent map[string]*Sent
}

// NewLedger is an empty ledger.
func NewLedger() *Ledger { return &Ledger{sent: map[string]*Sent{}} }

// Send notes a write that is about to be sent, also each time again.
func (l *Ledger) Send(s *Sent) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if s.Tries == 0 {
		s.Began = time.Now()
		l.sent[s.key()] = s
	}
	s.Tries++
}

// Ack notes that a write was acknowledged.
func (l *Ledger) Ack(s *Sent) {
	l.mu.Lock()
	defer l.mu.Unlock()
	s.Acked = true
}

// Acked are the writes that were acknowledged so far, by what they made.
func (l *Ledger) Acked() map[string]*Sent {
	l.mu.Lock()
	defer l.mu.Unlock()
	out := map[string]*Sent{}
	for k, s := range l.sent {
		if s.Acked {
			out[k] = s
		}
	}
	return out
}

// Counts are the writes sent, acknowledged, and sent more than once.
func (l *Ledger) Counts() (sent, acked, again int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, s := range l.sent {
		sent++
		if s.Acked {
			acked++
		}
		again += s.Tries - 1
	}
	return sent, acked, again
}

// Check holds what a notebook has against what was sent: everything
// acknowledged is there as it was sent, nothing twice, nothing that nobody
// sent, and every recording with its bytes.
func (l *Ledger) Check(c *Contents) []string { return l.CheckAcked(c, l.Acked()) }

// CheckAcked is Check for what had been acknowledged at some moment.
func (l *Ledger) CheckAcked(c *Contents, acked map[string]*Sent) (bad []string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for key, s := range acked {
		switch row, ok := c.Rows[key]; {
		case s.Hash != "":
			if c.Files[s.Hash] != s.Hash {
				bad = append(bad, fmt.Sprintf("acknowledged recording %.12s is lost or changed", s.Hash))
			}
		case !ok:
			bad = append(bad, fmt.Sprintf("acknowledged %s is lost", key))
		case !bytes.Contains(row.Body, []byte(s.Mark)):
			bad = append(bad, fmt.Sprintf("acknowledged %s holds other content: %.200s", key, row.Body))
		}
	}
	marks := map[string]string{}
	for key, row := range c.Rows {
		s, ok := l.sent[key]
		if !ok {
			if !byItself[row.Table] {
				bad = append(bad, fmt.Sprintf("%s %s was never sent", row.Table, key))
			}
			continue
		}
		if s.Mark == "" || !bytes.Contains(row.Body, []byte(s.Mark)) {
			bad = append(bad, fmt.Sprintf("%s %s holds other content than was sent: %.200s", row.Table, key, row.Body))
		}
		if other, twice := marks[s.Mark]; twice {
			bad = append(bad, fmt.Sprintf("the content of %s is there twice, also as %s", key, other))
		}
		marks[s.Mark] = key
	}
	return append(bad, c.Problems...)
}

// byItself are the records that the program makes: whoever writes first
// becomes the owner, a bow is fitted anew after its readings, and what is
// forecast of a new set-up is sealed.
var byItself = map[string]bool{"people": true, "forecasts": true, "fits": true}

// Hash is a recording's name.
func Hash(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
