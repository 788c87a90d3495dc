package cli

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tautline/packaging"
)

// T20: a club whose decoders hang for long is not ready, ends in good order and
// with a failure, by which systemd starts it again. One that comes back in time
// ends nothing, nor does a notebook that a person opened.
func TestHangingDecodersEndAClub(t *testing.T) {
	serves := func(accounts bool, after time.Duration) (said *spoken, ended chan error, hanging *atomic.Bool) {
		said, ended, hanging = &spoken{}, make(chan error, 1), &atomic.Bool{}
		c := serveCmd{place: place{Data: t.TempDir()}, Listen: "127.0.0.1:0", Accounts: accounts, hangs: hangs{hanging.Load, 10 * time.Millisecond, after}}
		ctx, cancel := context.WithCancel(t.Context())
		t.Cleanup(cancel)
		go func() { ended <- c.Run(ctx, &terminal{err: said, out: said}) }()
		return said, ended, hanging
	}
	ready := func(said *spoken) (status int, body []byte) {
		t.Helper()
		status, body, err := asked(t, http.DefaultClient, said.find(t, `is open at (http://\S+/)\n`)+"api/v1/ready")
		if err != nil {
			t.Fatal(err)
		}
		return status, body
	}
	goesOn := func(ended chan error) {
		t.Helper()
		select {
		case err := <-ended:
			t.Fatalf("it ended: %v", err)
		case <-time.After(200 * time.Millisecond):
		}
	}

	said, ended, hanging := serves(true, time.Hour)
	if status, body := ready(said); status != http.StatusOK {
		t.Fatalf("%d %s", status, body)
	}
	hanging.Store(true)
	if status, body := ready(said); status != http.StatusServiceUnavailable || !bytes.Contains(body, []byte("decoders")) {
		t.Errorf("with decoders that hang it is ready: %d %s", status, body)
	}
	goesOn(ended)
	hanging.Store(false)
	if status, body := ready(said); status != http.StatusOK {
		t.Errorf("after they came back: %d %s", status, body)
	}

	_, ended, hanging = serves(true, 50*time.Millisecond)
	hanging.Store(true)
	select {
	case err := <-ended:
		if !errors.Is(err, errHanging) || !strings.Contains(err.Error(), "decoders stuck") {
			t.Errorf("it ended with %v", err)
		}
		var out bytes.Buffer
		if code := conclude(t.Context(), &terminal{err: &out, out: &out}, err); code != exitFailed || !strings.Contains(out.String(), "start it again") {
			t.Errorf("exit code %d: %s", code, &out)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("it goes on with decoders that hang")
	}
	unit, err := packaging.Files.ReadFile("tautline.service")
	if err != nil || !strings.Contains(string(unit), "Restart=on-failure") {
		t.Error("systemd does not start it again")
	}

	said, ended, hanging = serves(false, 50*time.Millisecond)
	hanging.Store(true)
	if status, _ := ready(said); status != http.StatusServiceUnavailable {
		t.Errorf("a person's own: %d", status)
	}
	goesOn(ended)
}
