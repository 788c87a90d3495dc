package trust

import (
	"bytes"
	"crypto/x509"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var day = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)

func opened(t *testing.T, dir string, now time.Time) *Authority {
	t.Helper()
	a, err := Open(dir, now)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func leafOf(t *testing.T, a *Authority, now *time.Time, names ...string) (*Leaf, *x509.Certificate) {
	t.Helper()
	l, err := a.Leaf(names, func() time.Time { return *now })
	if err != nil {
		t.Fatal(err)
	}
	return l, l.current.Leaf
}

// The rules are those that phones apply to a server's certificate: a chain to
// a trusted root, serverAuth, the address among the alternative names, and at
// most 398 days (CA/Browser Forum baseline requirements 6.3.2, read).
func TestChainVerifiesWithTheAuthorityOnly(t *testing.T) {
	now := day
	a, other := opened(t, t.TempDir(), now), opened(t, t.TempDir(), now)
	_, leaf := leafOf(t, a, &now, "192.168.1.20", "bench.local")
	for _, c := range []struct {
		root *Authority
		name string
		at   time.Time
		ok   bool
	}{
		{a, "192.168.1.20", now, true},
		{a, "bench.local", now.Add(396 * 24 * time.Hour), true},
		{a, "192.168.1.21", now, false},
		{a, "192.168.1.20", now.Add(398 * 24 * time.Hour), false},
		{other, "192.168.1.20", now, false},
		{nil, "192.168.1.20", now, false},
	} {
		roots := x509.NewCertPool()
		if c.root != nil {
			roots.AddCert(c.root.cert)
		}
		_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: c.name, CurrentTime: c.at, KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}})
		if (err == nil) != c.ok {
			t.Errorf("%s at %s: %v", c.name, c.at, err)
		}
	}
	if life := leaf.NotAfter.Sub(leaf.NotBefore); life > 398*24*time.Hour {
		t.Errorf("lasts %s", life)
	}
}

// Whoever has the key still cannot pose as a site of the open internet.
func TestAuthorityIsForLocalAddressesOnly(t *testing.T) {
	now := day
	a := opened(t, t.TempDir(), now)
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	for _, name := range []string{"bank.example.com", "203.0.113.9", "local.example.com", "2001:db8::1"} {
		if _, err := a.Leaf([]string{name}, time.Now); err == nil || !strings.Contains(err.Error(), "--cert") {
			t.Errorf("%s: %v", name, err)
		}
		stolen := &Leaf{authority: a, names: []string{name}, now: func() time.Time { return now }}
		made, err := stolen.make(now)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := made.Leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: now}); err == nil {
			t.Errorf("a certificate for %s was believed", name)
		}
	}
}

func TestLeafIsRenewedInTime(t *testing.T) {
	now := day
	l, first := leafOf(t, opened(t, t.TempDir(), now), &now, "10.0.0.7")
	for _, c := range []struct {
		days    int
		renewed bool
	}{{100, false}, {280, true}} {
		now = day.Add(time.Duration(c.days) * 24 * time.Hour)
		next, err := l.certificate()
		if err != nil {
			t.Fatal(err)
		}
		if (next.Leaf.SerialNumber.Cmp(first.SerialNumber) != 0) != c.renewed {
			t.Errorf("after %d days: renewed %v", c.days, !c.renewed)
		}
	}
}

func TestSecondStartKeepsTheAuthority(t *testing.T) {
	dir := t.TempDir()
	first := opened(t, dir, day)
	second := opened(t, dir, day.Add(1000*24*time.Hour))
	if !bytes.Equal(first.DER(), second.DER()) || !first.Made || second.Made {
		t.Error("the second start made another authority")
	}
	if last := opened(t, dir, day.Add(authorityTime-24*time.Hour)); !last.Made {
		t.Error("an authority that ends before its server's certificate was kept")
	}
	path := filepath.Join(dir, File)
	for name, want := range map[string]os.FileMode{path: 0o600, filepath.Dir(path): 0o700} {
		info, err := os.Stat(name)
		if err != nil || info.Mode().Perm() != want {
			t.Errorf("%s has mode %v, %v", name, info.Mode(), err)
		}
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir, day); err == nil || !strings.Contains(err.Error(), "chmod 600") {
		t.Errorf("a key that others can read was used: %v", err)
	}
	if err := os.WriteFile(path, first.DER(), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir, day); err == nil || !strings.Contains(err.Error(), "move it away") {
		t.Errorf("a damaged file: %v", err)
	}
}

// What goes in the clear is the page, its style and the certificate.
func TestPlainDoorServesNothingButThePage(t *testing.T) {
	a := opened(t, t.TempDir(), day)
	page, err := a.Page("https://192.168.1.20:8443/")
	if err != nil {
		t.Fatal(err)
	}
	door := Door(page)
	for _, c := range []struct {
		method, path string
		status       int
		kind         string
	}{
		{"GET", "/trust", 200, "text/html; charset=utf-8"},
		{"GET", "/trust/page.css", 200, "text/css; charset=utf-8"},
		{"GET", "/trust/ca.crt", 200, "application/x-x509-ca-cert"},
		{"GET", "/", 303, ""},
		{"GET", "/api/v1/bows", 404, ""},
		{"GET", "/bows/1/round", 404, ""},
		{"GET", "/join", 404, ""},
		{"GET", "/trust/authority.pem", 404, ""},
		{"POST", "/api/v1/login", 404, ""},
		{"POST", "/trust", 405, ""},
	} {
		w := httptest.NewRecorder()
		door.ServeHTTP(w, httptest.NewRequest(c.method, "http://192.168.1.20:8444"+c.path+"?secret=1", nil))
		if w.Code != c.status || c.kind != "" && w.Header().Get("Content-Type") != c.kind {
			t.Errorf("%s %s: %d %s", c.method, c.path, w.Code, w.Header().Get("Content-Type"))
		}
		if to := w.Header().Get("Location"); w.Code == http.StatusSeeOther && to != PagePath {
			t.Errorf("led to %s", to)
		}
		switch body := w.Body.Bytes(); c.path {
		case CertPath:
			if !bytes.Equal(body, a.DER()) {
				t.Error("another certificate is served than the authority's")
			}
		case PagePath:
			if c.method == "GET" && (!bytes.Contains(body, []byte(a.Fingerprint())) || !bytes.Contains(body, []byte("https://192.168.1.20:8443/")) || bytes.Contains(body, []byte("<script"))) {
				t.Errorf("the page lacks its parts:\n%s", body)
			}
		}
	}
}
