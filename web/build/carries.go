//go:build carries

package main

// The pages carry a file of this module (heif.go). No build has this tag: the
// line keeps `go mod tidy` from dropping what no Go code uses.
import _ "github.com/gen2brain/heic"
