package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"syscall"
	"time"
)

// DefaultListen is where the server listens unless told otherwise: this
// machine only.
const DefaultListen = "127.0.0.1:8421"

// Limits of a connection (bars.md T23). The first two are variables for their
// test alone, which does not wait a minute.
var (
	headerTime = 5 * time.Second
	idleTime   = 60 * time.Second
)

const (
	shutdownTime = 10 * time.Second
	headerBytes  = 64 << 10
)

// Listen opens the address, with a plain sentence when it is taken. An empty
// address is DefaultListen.
func Listen(address string) (net.Listener, error) {
	if address == "" {
		address = DefaultListen
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		if errors.Is(err, syscall.EADDRINUSE) {
			return nil, fmt.Errorf("cannot listen on %s: the port is taken; is another Tautline running there? try --listen 127.0.0.1:0: %w", address, err)
		}
		return nil, fmt.Errorf("cannot listen on %s; write it like 127.0.0.1:8421: %w", address, err)
	}
	return l, nil
}

// Run serves h on l until ctx ends, then lets running requests finish for up
// to ten seconds. It returns nil after an orderly end. The listener is closed.
func Run(ctx context.Context, l net.Listener, h http.Handler, log *slog.Logger) error {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	server := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: headerTime,
		IdleTimeout:       idleTime,
		MaxHeaderBytes:    headerBytes,
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelDebug),
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(l) }()
	select {
	case err := <-served:
		return err
	case <-ctx.Done():
	}
	return errors.Join(stop(server), ended(<-served))
}

// stop takes no new requests and waits for the running ones.
func stop(server *http.Server) error {
	ctx, cancel := context.WithTimeout(context.Background(), shutdownTime)
	defer cancel()
	if err := server.Shutdown(ctx); err != nil {
		return errors.Join(server.Close(), fmt.Errorf("server: %d seconds were not enough to finish: %w", int(shutdownTime.Seconds()), err))
	}
	return nil
}

// ended forgives the error that only says we asked for it.
func ended(err error) error {
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}
