package trust

import (
	"crypto/tls"
	"net"
	"testing"
)

// ASVS 11.3.2, 11.3.3, 12.1.1, 12.1.2 (T16): old versions, ciphers without
// integrity of their own (CBC, RC4) and keys that are not agreed on anew (RSA)
// find no common word; what RFC 9325 (4.2, recalled) recommends does, with at
// least 128 bits.
func TestWireIsStrong(t *testing.T) {
	now := day
	l, _ := leafOf(t, opened(t, t.TempDir(), now), &now, "192.168.1.20")
	speak := func(client *tls.Config) (tls.ConnectionState, error) {
		a, b := net.Pipe()
		defer a.Close()
		defer b.Close()
		go func() { _ = tls.Server(a, l.Config()).Handshake() }() // the client's side is looked at
		client.InsecureSkipVerify = true                          // who the server is is another test's
		c := tls.Client(b, client)
		err := c.Handshake()
		return c.ConnectionState(), err
	}
	for _, old := range []uint16{tls.VersionTLS10, tls.VersionTLS11} {
		if _, err := speak(&tls.Config{MinVersion: old, MaxVersion: old}); err == nil {
			t.Errorf("%s is spoken", tls.VersionName(old))
		}
	}
	good := map[uint16]bool{}
	for _, id := range Strong().CipherSuites {
		good[id] = true
	}
	spoken := 0
	for _, suite := range append(tls.CipherSuites(), tls.InsecureCipherSuites()...) {
		if suite.SupportedVersions[0] == tls.VersionTLS13 {
			continue
		}
		state, err := speak(&tls.Config{MaxVersion: tls.VersionTLS12, CipherSuites: []uint16{suite.ID}})
		switch {
		case err == nil && !good[suite.ID]:
			t.Errorf("%s is spoken", suite.Name)
		case err == nil && state.CipherSuite == suite.ID:
			spoken++
		}
	}
	if spoken != 3 { // those for the key of this certificate
		t.Errorf("%d good suites of TLS 1.2 are spoken", spoken)
	}
	if state, err := speak(&tls.Config{}); err != nil || state.Version != tls.VersionTLS13 {
		t.Errorf("a client of today speaks %s, %v", tls.VersionName(state.Version), err)
	}
}
