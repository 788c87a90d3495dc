package server

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
)

// unbuilt is shown by a program that was built without the pages.
const unbuilt = `<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>Tautline: pages not built</title></head>
<body>
<main>
<h1>This program was built without its pages</h1>
<p>The manual is in the program all the same: <code>tautline manual</code>. The notebook works: programs can use it under <a href="/openapi.json">/api/v1</a>, and so can the command line.</p>
<p>To get the pages, build it once more from its source folder, with Go and Node installed:</p>
<pre>make build</pre>
<p>and start it again: <code>./tautline serve</code></p>
</main>
</body>
</html>
`

// asset is one file of the pages, held in memory in the forms it is sent.
type asset struct {
	kind         string
	plain, small []byte // small is gzip, nil where it does not pay
	tag          string
}

// app serves the pages. Addresses that are no file belong to the app's own
// navigation and get index.html.
type app struct{ assets map[string]asset }

// newApp reads the pages once.
func newApp(pages fs.FS) (*app, error) {
	a := &app{assets: map[string]asset{}}
	if pages != nil {
		if err := a.load(pages); err != nil {
			return nil, fmt.Errorf("server: reading the pages: %w", err)
		}
	}
	if _, ok := a.assets["index.html"]; !ok {
		return a, a.add("index.html", []byte(unbuilt))
	}
	return a, nil
}

func (a *app) load(pages fs.FS) error {
	return fs.WalkDir(pages, ".", func(name string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) && name == "." {
			return nil
		}
		if err != nil || d.IsDir() || strings.HasPrefix(path.Base(name), ".") {
			return err
		}
		body, err := fs.ReadFile(pages, name)
		if script, packed := strings.CutSuffix(name, ".gz"); err == nil && packed && strings.HasSuffix(script, ".js") {
			name = script
			body, err = unpacked(body)
		}
		if err != nil {
			return err
		}
		return a.add(name, body)
	})
}

// unpacked is a large script as the browser gets it; the program holds it
// compressed.
func unpacked(small []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(small))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

func (a *app) add(name string, body []byte) error {
	sum := sha256.Sum256(body)
	file := asset{kind: kindOf(name), plain: body, tag: hex.EncodeToString(sum[:12])}
	if compressible(file.kind) && len(body) >= gzipFrom {
		small, err := packed(body)
		if err != nil {
			return err
		}
		file.small = small
	}
	a.assets[name] = file
	return nil
}

// kindOf gives the media type by the name's ending; the system's own table is
// not asked, because it differs from machine to machine.
func kindOf(name string) string {
	switch path.Ext(name) {
	case ".html":
		return "text/html; charset=utf-8"
	case ".js", ".mjs":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".json", ".map":
		return "application/json"
	case ".webmanifest":
		return "application/manifest+json"
	case ".svg":
		return "image/svg+xml"
	case ".gz":
		return "application/gzip"
	case ".woff2":
		return "font/woff2"
	}
	if kind := mime.TypeByExtension(path.Ext(name)); kind != "" {
		return kind
	}
	return "application/octet-stream"
}

// ServeHTTP answers with a file, with index.html for the app's own addresses,
// or with a problem for a file that does not exist.
func (a *app) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	name := strings.TrimPrefix(path.Clean(r.URL.Path), "/")
	file, ok := a.assets[name]
	if !ok && path.Ext(name) != "" {
		writeProblem(w, r, newProblem(http.StatusNotFound, codeNotFound, "There is no such file.", "Start from the first page: /"))
		return
	}
	if !ok {
		file = a.assets["index.html"]
	}
	file.send(w, r)
}

// send answers with the file; the browser asks each time and mostly hears
// "unchanged", so that a new program never meets old pages.
func (f asset) send(w http.ResponseWriter, r *http.Request) {
	body, tag, h := f.plain, `"`+f.tag+`"`, w.Header()
	if f.small != nil && takesGzip(r) {
		body, tag = f.small, `"`+f.tag+`-gz"`
		h.Set("Content-Encoding", "gzip")
	}
	h.Set("Content-Type", f.kind)
	h.Set("ETag", tag)
	h.Set("Cache-Control", "no-cache")
	h.Set("Vary", "Accept-Encoding")
	if match := r.Header.Get("If-None-Match"); match != "" && strings.Contains(match, tag) {
		h.Del("Content-Encoding")
		w.WriteHeader(http.StatusNotModified)
		return
	}
	if _, err := bytes.NewReader(body).WriteTo(w); err != nil {
		return // the client has gone
	}
}
