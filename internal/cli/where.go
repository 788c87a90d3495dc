package cli

import (
	"fmt"
	"runtime/debug"

	"tautline/internal/store"
)

// whereCmd prints the notebook's folder.
type whereCmd struct {
	Data string `help:"The notebook's folder, if not the usual one." placeholder:"DIR"`
}

// Run prints it.
func (c whereCmd) Run(t *terminal) error {
	dir, err := dataDir(c.Data)
	if err != nil {
		return err
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
type versionCmd struct{}

// Run prints it.
func (versionCmd) Run(t *terminal) error {
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
