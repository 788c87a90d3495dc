// Command build bundles the pages of web/src into web/dist with esbuild, so
// that one Go tool does it and npm only brings the packages. Run it from the
// project's root: go run ./web/build
package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/evanw/esbuild/pkg/api"
)

const (
	src  = "web/src"
	dist = "web/dist"
)

func main() {
	if err := build(); err != nil {
		fmt.Fprintln(os.Stderr, "web/build:", err)
		os.Exit(1)
	}
}

func build() error {
	if _, err := os.Stat(filepath.Join(src, "main.tsx")); err != nil {
		return fmt.Errorf("run it from the project's root, where %s is: %w", src, err)
	}
	if err := clear(dist); err != nil {
		return err
	}
	if err := bundle(); err != nil {
		return err
	}
	return copyStatic(filepath.Join(src, "static"), dist)
}

// clear empties the folder but for .gitkeep, so that no old file is embedded.
func clear(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.Name() == ".gitkeep" {
			continue
		}
		if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
			return err
		}
	}
	return nil
}

// bundle makes app.js and app.css; a second entry is the service worker.
func bundle() error {
	entries := []api.EntryPoint{{InputPath: filepath.Join(src, "main.tsx"), OutputPath: "app"}}
	if worker := filepath.Join(src, "worker.ts"); exists(worker) {
		entries = append(entries, api.EntryPoint{InputPath: worker, OutputPath: "worker"})
	}
	result := api.Build(api.BuildOptions{
		EntryPointsAdvanced: entries,
		Outdir:              dist,
		Bundle:              true,
		MinifySyntax:        true,
		MinifyWhitespace:    true,
		MinifyIdentifiers:   true,
		Target:              api.ES2022,
		Format:              api.FormatESModule,
		JSX:                 api.JSXAutomatic,
		JSXImportSource:     "preact",
		LegalComments:       api.LegalCommentsEndOfFile,
		Write:               true,
		LogLevel:            api.LogLevelWarning,
	})
	if len(result.Errors) > 0 {
		return errors.New(result.Errors[0].Text)
	}
	return nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// copyStatic copies index.html, icons and the manifest as they are.
func copyStatic(from, to string) error {
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		target := filepath.Join(to, rel)
		if d.IsDir() {
			return os.MkdirAll(target, 0o755)
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		return os.WriteFile(target, data, 0o644)
	})
}
