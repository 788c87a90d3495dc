package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"slices"

	"tautline/notebook"
)

// printJSON writes a result for a program to read.
func (t *terminal) printJSON(v any) error {
	enc := json.NewEncoder(t.out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// bowArgs are the arguments of every command that takes a bow.
type bowArgs struct {
	Bow  string            `arg:"" help:"Bow file (see examples/), or - for standard input."`
	Set  map[string]string `help:"Change a setting for this run, such as brace_height=\"21.5 cm\"." placeholder:"KEY=VALUE" mapsep:"none"`
	JSON bool              `help:"Print numbers for a program; keys end in their unit." name:"json"`
}

// settings reads the bow file and applies --set.
func (a bowArgs) settings(t *terminal) (notebook.Settings, error) {
	raw, err := readInput(t, a.Bow)
	if err != nil {
		return notebook.Settings{}, err
	}
	s, err := notebook.ReadSettings(raw)
	if err != nil {
		return s, fmt.Errorf("%s: %w", a.Bow, err)
	}
	for _, key := range sortedKeys(a.Set) {
		if s, err = s.With(key, a.Set[key]); err != nil {
			return s, usageError{fmt.Errorf("--set %s=%s: %w", key, a.Set[key], err)}
		}
	}
	return s, nil
}

// maxBowFile bounds a bow file: the examples have about 1 kB.
const maxBowFile = 1 << 20

func readInput(t *terminal, path string) ([]byte, error) {
	if path == "-" {
		return io.ReadAll(io.LimitReader(t.in, maxBowFile))
	}
	f, err := openFile(path)
	if err != nil {
		return nil, err
	}
	raw, err := io.ReadAll(io.LimitReader(f, maxBowFile+1))
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if len(raw) > maxBowFile {
		return nil, fmt.Errorf("%s: larger than a bow file can be; give a file like those in examples/", path)
	}
	return raw, nil
}

// openFile opens a file to read; a folder is no file.
func openFile(path string) (*os.File, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, openError(path, err)
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, errors.Join(fmt.Errorf("%s is a folder; name a file in it", path), f.Close())
	}
	return f, nil
}

// writeFile makes a file anew; one that was begun and failed is taken away.
func writeFile(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, errors.Unwrap(err))
	}
	if err := errors.Join(write(f), f.Close()); err != nil {
		return errors.Join(fmt.Errorf("%s: %w", path, err), os.Remove(path))
	}
	return nil
}

func openError(path string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: there is no such file; check the name", path)
	}
	return fmt.Errorf("%s cannot be opened: %w", path, errors.Unwrap(err))
}

func sortedKeys(m map[string]string) []string { return slices.Sorted(maps.Keys(m)) }

// progress reports the share done on stderr when a person is watching, at
// most ten times.
func (t *terminal) progress(doing string) func(float64) {
	shown := 0
	return func(done float64) {
		if tenth := int(done * 10); t.watched && tenth > shown {
			shown = tenth
			fmt.Fprintf(t.err, "\r%s: %d %%", doing, 10*tenth) // progress: whoever does not see it waits without
			if tenth == 10 {
				fmt.Fprintln(t.err) // the same
			}
		}
	}
}
