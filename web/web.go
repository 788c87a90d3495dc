// Package web carries the built pages. The bundle in dist is made by
// `go run ./web/build` and never committed; a program built without it still
// works, and says on its page how to build the pages.
package web

import (
	"embed"
	"io/fs"
)

//go:embed all:dist
var dist embed.FS

// Dist gives the built pages: index.html, app.js, app.css and their company.
// Without a bundle it holds no index.html; see Built.
func Dist() fs.FS {
	sub, err := fs.Sub(dist, "dist")
	if err != nil {
		return dist // cannot happen: dist is embedded, with .gitkeep in it at least
	}
	return sub
}

// Built reports whether the pages were bundled into this program.
func Built() bool {
	_, err := fs.Stat(Dist(), "index.html")
	return err == nil
}
