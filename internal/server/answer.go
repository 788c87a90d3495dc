package server

import (
	"bytes"
	"compress/gzip"
	"net/http"
	"strconv"
	"strings"
	"sync"
)

// gzipFrom is the size from which an answer is worth compressing.
const gzipFrom = 1400

// answer holds an answer back until its handler has returned, so that a
// handler that fails halfway can still be answered with a problem, and so that
// the whole can be compressed. Large files call stream and are not held.
type answer struct {
	http.ResponseWriter
	status    int
	body      bytes.Buffer
	streaming bool
	settled   bool // what is still written is not part of it
}

// heldBelow is the answer that a handler's writer writes to, nil for none.
func heldBelow(w http.ResponseWriter) *answer {
	for {
		switch x := w.(type) {
		case *answer:
			return x
		case interface{ Unwrap() http.ResponseWriter }:
			w = x.Unwrap()
		default:
			return nil
		}
	}
}

// Unwrap lets http.ResponseController reach the connection.
func (a *answer) Unwrap() http.ResponseWriter { return a.ResponseWriter }

func (a *answer) WriteHeader(status int) {
	switch {
	case a.streaming:
		a.ResponseWriter.WriteHeader(status)
	case a.status == 0:
		a.status = status
	}
}

func (a *answer) Write(b []byte) (int, error) {
	switch {
	case a.settled:
		return len(b), nil
	case a.streaming:
		return a.ResponseWriter.Write(b)
	}
	return a.body.Write(b)
}

// stream gives the connection itself; what follows is sent as it is written.
func (a *answer) stream() http.ResponseWriter {
	a.streaming = true
	return a.ResponseWriter
}

// streamed gives the connection below what holds an answer back.
func streamed(w http.ResponseWriter) http.ResponseWriter {
	if a := heldBelow(w); a != nil {
		return a.stream()
	}
	return w
}

// discard forgets what was held and reports whether nothing was sent yet.
func (a *answer) discard() bool {
	a.status, a.settled = 0, false
	a.body.Reset()
	return !a.streaming
}

// send lets the held answer go, compressed where the client takes it.
func (a *answer) send(r *http.Request) error {
	if a.streaming {
		return nil
	}
	if a.status == 0 {
		a.status = http.StatusOK
	}
	body, h := a.body.Bytes(), a.Header()
	if h.Get("Vary") == "" {
		h.Set("Vary", "Accept-Encoding")
	}
	if len(body) >= gzipFrom && h.Get("Content-Encoding") == "" && takesGzip(r) && compressible(h.Get("Content-Type")) {
		packed, err := packed(body)
		if err != nil {
			return err
		}
		h.Set("Content-Encoding", "gzip")
		body = packed
	}
	if bodyAllowed(a.status) {
		h.Set("Content-Length", strconv.Itoa(len(body)))
	}
	a.ResponseWriter.WriteHeader(a.status)
	if !bodyAllowed(a.status) {
		return nil
	}
	_, err := a.ResponseWriter.Write(body)
	return err
}

func bodyAllowed(status int) bool {
	return status >= 200 && status != http.StatusNoContent && status != http.StatusNotModified
}

// takesGzip reads Accept-Encoding; "gzip;q=0" refuses it.
func takesGzip(r *http.Request) bool {
	for _, part := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		name, quality, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.EqualFold(strings.TrimSpace(name), "gzip") {
			q := strings.ReplaceAll(quality, " ", "")
			return q != "q=0" && q != "q=0.0" && q != "q=0.00" && q != "q=0.000"
		}
	}
	return false
}

func compressible(contentType string) bool {
	kind, _, _ := strings.Cut(contentType, ";")
	return strings.HasPrefix(kind, "text/") || strings.HasSuffix(kind, "json") ||
		strings.HasSuffix(kind, "javascript") || kind == "image/svg+xml"
}

var packers = sync.Pool{New: func() any { return gzip.NewWriter(nil) }}

// packed compresses b.
func packed(b []byte) ([]byte, error) {
	var out bytes.Buffer
	z := packers.Get().(*gzip.Writer)
	defer packers.Put(z)
	z.Reset(&out)
	if _, err := z.Write(b); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
