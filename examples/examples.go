// Package examples holds invented bow files, to try the commands on and to
// fill the demo notebook with. The folder damaged has one file for each
// failure that the manual shows.
package examples

import "embed"

// Bows are the bow files, by their names.
//
//go:embed *.json
var Bows embed.FS

// Files are all of them: bow files and tables.
//
//go:embed *.json *.csv
var Files embed.FS
