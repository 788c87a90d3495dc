package cli

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// spoken is what a command said so far, read while it runs.
type spoken struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *spoken) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *spoken) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// find waits for a line with the address.
func (s *spoken) find(t *testing.T, pattern string) string {
	t.Helper()
	for range 600 {
		if m := regexp.MustCompile(pattern).FindStringSubmatch(s.String()); m != nil {
			return m[1]
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("%s was not said:\n%s", pattern, s.String())
	return ""
}

func asked(t *testing.T, client *http.Client, url string) (int, []byte, error) {
	t.Helper()
	res, err := client.Get(url)
	if err != nil {
		return 0, nil, err
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	return res.StatusCode, body, err
}

// TestServeLAN opens a notebook to the (loopback) network as a phone meets it:
// the page in the clear gives the certificate, and with it, only with it, the
// notebook opens by HTTPS.
func TestServeLAN(t *testing.T) {
	said, dir := &spoken{}, t.TempDir()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	c := serveCmd{place: place{Data: dir}, Listen: "127.0.0.1:0", Lan: true, LanAt: "127.0.0.1:0"}
	go func() { ended <- c.Run(ctx, &terminal{err: said, out: said}) }()
	plain, secure := said.find(t, `trust it at (http://\S+)/trust\n`), said.find(t, `then open (https://\S+/)\n`)

	status, der, err := asked(t, http.DefaultClient, plain+"/trust/ca.crt")
	if err != nil || status != 200 {
		t.Fatalf("the certificate in the clear: %d %v", status, err)
	}
	authority, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	if status, _, _ := asked(t, http.DefaultClient, plain+"/api/v1/bows"); status != 404 {
		t.Errorf("the plain port answers for the notebook: %d", status)
	}
	if _, _, err := asked(t, http.DefaultClient, secure); err == nil || !strings.Contains(err.Error(), "certificate") {
		t.Errorf("a phone that trusts nothing got in: %v", err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(authority)
	phone := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}}
	for path, want := range map[string]int{"": 200, "trust": 200, "api/v1/health": 200, "api/v1/bows": 401} {
		if status, body, err := asked(t, phone, secure+path); err != nil || status != want {
			t.Errorf("%s: %d %v, want %d: %.200s", path, status, err, want, body)
		}
	}
	phone.CloseIdleConnections()
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	info, err := os.Stat(filepath.Join(dir, "https", "authority.pem"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key's file: %v %v", info, err)
	}
}

func TestServeLANRefusals(t *testing.T) {
	for _, c := range []struct {
		change func(*serveCmd)
		want   string
	}{
		{func(c *serveCmd) { c.LanAt = "192.168.1.20" }, "belongs to --lan"},
		{func(c *serveCmd) { c.Lan, c.Cert, c.Key = true, "a", "b" }, "own certificate"},
		{func(c *serveCmd) { c.Lan, c.LanAt = true, "203.0.113.9" }, "local network"},
		{func(c *serveCmd) { c.Lan, c.LanAt = true, "127.0.0.1:high" }, "port"},
		{func(c *serveCmd) { c.Lan, c.LanAt, c.Host = true, "127.0.0.1:0", []string{"bows.example.org"} }, "--cert"},
		{func(c *serveCmd) { c.Lan, c.Listen = true, "0.0.0.0:0" }, "leave out --cert, --key, --proxied and --listen"},
		{func(c *serveCmd) { c.Listen = "8421" }, "127.0.0.1:8421"},
	} {
		cmd := serveCmd{place: place{Data: t.TempDir()}, Listen: "127.0.0.1:0"}
		c.change(&cmd)
		if err := cmd.Run(t.Context(), &terminal{err: io.Discard, out: io.Discard}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}

// Beyond this machine nobody comes in without logging in, and no password goes
// in the clear (bars.md T16, T17).
func TestServeBeyondThisMachine(t *testing.T) {
	var refused int
	for _, at := range []string{"0.0.0.0:0", "[::]:0", ":0", "192.0.2.7:0", "bows.example.org:0", "127.0.0.1:0", "[::1]:0", "localhost:0"} {
		here := strings.HasPrefix(at, "127.") || strings.HasPrefix(at, "[::1]") || strings.HasPrefix(at, "localhost")
		for all := range 16 {
			c := serveCmd{place: place{Data: t.TempDir()}, Listen: at, Accounts: all&1 > 0, Proxied: all&4 > 0, ReadOnly: all&8 > 0}
			if all&2 > 0 {
				c.Cert, c.Key = "a.pem", "a.key"
			}
			want := ""
			switch {
			case c.ReadOnly && (c.Accounts || c.Proxied || !here):
				want = "for this machine alone"
			case here:
			case !c.Accounts:
				want = "add --accounts"
			case c.Cert == "":
				want = "in the clear"
			}
			err := c.check()
			if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
				t.Errorf("%s %+v: %v, want %q", at, c, err, want)
			}
			if err != nil {
				refused++
				run := c
				if ran := run.Run(t.Context(), &terminal{err: io.Discard, out: io.Discard}); ran == nil || ran.Error() != err.Error() {
					t.Errorf("%s is started all the same: %v", at, ran)
				}
			}
		}
	}
	if refused < 60 {
		t.Errorf("only %d refused", refused)
	}
}

// A code for a terminal is as wide as its modules and margins, two rows a line.
func TestDrawnCodeIsSquareWithItsMargin(t *testing.T) {
	lines := strings.Split(strings.TrimRight(drawn("http://192.168.1.20:8444/trust"), "\n"), "\n")
	plain := regexp.MustCompile("\x1b\\[[0-9;]*m")
	wide := len([]rune(plain.ReplaceAllString(lines[0], "")))
	if wide < 21+8 || (wide+1)/2 != len(lines) {
		t.Errorf("%d wide, %d lines", wide, len(lines))
	}
	for i, line := range lines {
		text := []rune(plain.ReplaceAllString(line, ""))
		if len(text) != wide || strings.TrimSpace(string(text[:4])) != "" || i < 2 && strings.TrimSpace(string(text)) != "" {
			t.Errorf("line %d has no margin: %q", i, string(text))
		}
	}
}
