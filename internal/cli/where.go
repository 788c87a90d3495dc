package cli

import (
	"fmt"
	"runtime/debug"

	"tautline/internal/store"
)

// whereCmd prints the notebook's folder.
type whereCmd struct{ book }

// Help shows an example.
func (whereCmd) Help() string {
	return `Example:
  tautline where

Removing the program and this folder removes everything.`
}

// Run prints it.
func (c whereCmd) Run(t *terminal) error {
	dir, err := dataDir(c.Data)
	if err != nil {
		return err
	}
	if c.JSON {
		return t.printJSON(map[string]string{"folder": dir})
	}
	_, err = fmt.Fprintln(t.out, dir)
	return err
}

// dataDir is the folder asked for, or the usual one.
func dataDir(asked string) (string, error) {
	if asked != "" {
		return asked, nil
	}
	return store.DefaultDir()
}

// versionCmd prints the version.
type versionCmd struct {
	JSON bool `name:"json" help:"Print the result for a program."`
}

// Help shows an example.
func (versionCmd) Help() string {
	return `Example:
  tautline version --json`
}

// Run prints it.
func (c versionCmd) Run(t *terminal) error {
	if c.JSON {
		return t.printJSON(map[string]string{"version": version()})
	}
	_, err := fmt.Fprintln(t.out, "tautline", version())
	return err
}

// version is the module's version, or the commit it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	return info.Main.Version
}
