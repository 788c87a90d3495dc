package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"testing"
)

// The pages' SHA-256, which says whether a recording arrived as it was sent, is
// the Go library's at every length about a block's end and about a piece's.
func TestPagesSum(t *testing.T) {
	var lengths []int
	for _, about := range []int{0, 64, 128, 1 << 20} {
		for n := max(0, about-10); n <= about+10; n++ {
			lengths = append(lengths, n)
		}
	}
	text, err := json.Marshal(lengths)
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	inNode(t, "sound/sha256check.ts", nil, &said, string(text))
	for i, n := range lengths {
		bytes := make([]byte, n)
		for k := range bytes {
			bytes[k] = byte(k*7 + k>>8)
		}
		if sum := sha256.Sum256(bytes); said[i] != hex.EncodeToString(sum[:]) {
			t.Errorf("of %d bytes: %s, wanted %x", n, said[i], sum)
		}
	}
}
