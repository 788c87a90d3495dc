// Package packaging holds what a machine's own service manager needs to run
// the program, so that whoever has the program alone can have it printed.
package packaging

import "embed"

// Files are the unit for systemd.
//
//go:embed *.service
var Files embed.FS
