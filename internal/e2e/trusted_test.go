package e2e

import (
	"errors"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestPhoneTrustsTheNotebook meets a notebook on the local network as a phone
// does: without its certificate the browser refuses the page; with it, taken
// from the page in the clear and put into a fresh profile, the page opens by
// HTTPS without a word of the browser's, is held by its service worker and may
// use the microphone (bars.md, U11).
func TestPhoneTrustsTheNotebook(t *testing.T) {
	t.Parallel()
	certutil, err := exec.LookPath("certutil")
	if err != nil {
		t.Skip("no certutil here, which makes a browser's profile trust a certificate: install Debian's package libnss3-tools")
	}
	plain, secure := serveLAN(t)
	home := t.TempDir()
	wary := openBrowser(t, chromedp.Env("HOME="+home))
	wary.fails = true // it is to fail
	if _, err := chromedp.Run(wary.ctx, chromedp.Navigate(secure)); err == nil {
		t.Error("the page opens in a browser that knows nothing of the certificate")
	}
	home = t.TempDir()
	trust(t, certutil, home, plain+"/trust/ca.crt")
	b := openBrowser(t, chromedp.Env("HOME="+home))
	b.fails = true // who is not logged in is answered 401
	b.size(390, 844)
	b.open(secure)
	b.see("Log in")
	b.do("a context that browsers trust", waitFor("isSecureContext && !!navigator.mediaDevices?.getUserMedia"))
	b.do("the service worker holds the page", waitFor("navigator.serviceWorker.controller"))
	b.do("reload", chromedp.Reload())
	b.see("Log in")
	b.do("it is held still", waitFor("navigator.serviceWorker.controller"))
	b.shot("trusted")
}

// serveLAN opens a notebook to the loopback network, and gives the addresses in
// the clear and by HTTPS.
func serveLAN(t *testing.T) (plain, secure string) {
	t.Helper()
	path, err := program()
	if errors.Is(err, errNoBundle) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	var said hearsay
	cmd := exec.Command(path, "serve", "--data", t.TempDir(), "--listen", "127.0.0.1:0", "--lan", "--lan-at", "127.0.0.1:0")
	cmd.Stdout, cmd.Stderr = &said, io.MultiWriter(t.Output(), &said)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := cmd.Process.Kill(); err != nil {
			t.Error(err)
		}
		_ = cmd.Wait() // it was killed
	})
	words := regexp.MustCompile(`trust it at (http://\S+)/trust\n(?s:.*)then open (https://\S+/)\n`)
	for range 600 {
		if m := words.FindStringSubmatch(said.String()); m != nil {
			return m[1], m[2]
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("no addresses in:\n%s", said.String())
	return "", ""
}

// trust puts the notebook's own authority among those of a fresh profile.
func trust(t *testing.T, certutil, home, address string) {
	t.Helper()
	answer, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close() //nolint:errcheck // it was read to its end
	authority, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	file, db := filepath.Join(home, "authority.crt"), filepath.Join(home, ".pki", "nssdb")
	if err := errors.Join(os.WriteFile(file, authority, 0o600), os.MkdirAll(db, 0o700)); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"-N", "-d", "sql:" + db, "--empty-password"},
		{"-A", "-d", "sql:" + db, "-t", "C,,", "-n", "the notebook", "-i", file},
	} {
		if out, err := exec.Command(certutil, args...).CombinedOutput(); err != nil {
			t.Fatalf("certutil %v: %v: %s", args, err, out)
		}
	}
}
