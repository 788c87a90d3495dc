// Tautline is the bench instrument and notebook of a recurve archer, or coach,
// who sets up and tunes bows. The program is one call into internal/cli.
package main

import (
	"os"

	"tautline/internal/cli"
)

func main() { os.Exit(cli.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
