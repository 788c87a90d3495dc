// Command build bundles the pages of web/src into web/dist with esbuild, so
// that one Go tool does it and npm only brings the packages. Run it from the
// project's root: go run ./web/build
package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

func main() {
	if err := build("web/src", "web/dist"); err != nil {
		fmt.Fprintln(os.Stderr, "web/build:", err)
		os.Exit(1)
	}
}

// build bundles the pages of src into dist, which must be there.
func build(src, dist string) error {
	if _, err := os.Stat(filepath.Join(src, "main.tsx")); err != nil {
		return fmt.Errorf("run it from the project's root, where %s is: %w", src, err)
	}
	files, err := bundle(src, dist)
	if err != nil {
		return err
	}
	if err := addStatic(files, filepath.Join(src, "static")); err != nil {
		return err
	}
	if files["parts.json"], err = partsOf(files); err != nil {
		return err
	}
	if err := pack(files); err != nil {
		return err
	}
	for name, data := range files {
		if err := replace(filepath.Join(dist, name), data, filepath.Dir(dist)); err != nil {
			return err
		}
	}
	return sweep(dist, files)
}

// bundle makes app.js and app.css; the service worker, the microphone's audio
// worklet and the worker that reads HEIC are entries of their own. What
// the pages import only when they need it (the plots) becomes a part of its
// own, so that the first page stays small on a slow phone. The result is kept
// in memory until all of it is there.
func bundle(src, dist string) (map[string][]byte, error) {
	entries := []api.EntryPoint{{InputPath: filepath.Join(src, "main.tsx"), OutputPath: "app"}}
	for _, name := range []string{"worker", "microphone", "heic"} {
		if path := filepath.Join(src, name+".ts"); exists(path) {
			entries = append(entries, api.EntryPoint{InputPath: path, OutputPath: name})
		}
	}
	heif, err := heifWasm()
	if err != nil {
		return nil, err
	}
	result := api.Build(api.BuildOptions{
		EntryPointsAdvanced: entries,
		Outdir:              dist,
		Bundle:              true,
		Splitting:           true,
		ChunkNames:          "part-[hash]",
		AssetNames:          "part-[hash]",
		Alias:               map[string]string{"heif.wasm.gz": heif},
		Loader:              map[string]api.Loader{".gz": api.LoaderFile},
		Plugins:             []api.Plugin{manualPages},
		MinifySyntax:        true,
		MinifyWhitespace:    true,
		MinifyIdentifiers:   true,
		Target:              api.ES2022,
		Format:              api.FormatESModule,
		JSX:                 api.JSXAutomatic,
		JSXImportSource:     "preact",
		LegalComments:       api.LegalCommentsEndOfFile,
		LogLevel:            api.LogLevelWarning,
	})
	if len(result.Errors) > 0 {
		return nil, errors.New(result.Errors[0].Text)
	}
	files := map[string][]byte{}
	for _, f := range result.OutputFiles {
		files[filepath.Base(f.Path)] = f.Contents
	}
	return files, nil
}

// partsOf lists the parts, so that a browser can keep all of them before they
// are needed.
func partsOf(files map[string][]byte) ([]byte, error) {
	list := []string{}
	for name := range files {
		if strings.HasPrefix(name, "part-") {
			list = append(list, "/"+name)
		}
	}
	slices.Sort(list)
	return json.Marshal(list)
}

// packFrom is the size from which a script is put into the program compressed:
// those with the manual's text, which the program holds once more for terminals.
const packFrom = 100_000

// pack compresses large scripts; the server unpacks what ends in .js.gz.
func pack(files map[string][]byte) error {
	for name, body := range files {
		if !strings.HasSuffix(name, ".js") || len(body) < packFrom {
			continue
		}
		var small bytes.Buffer
		z, err := gzip.NewWriterLevel(&small, gzip.BestCompression)
		if err != nil {
			return err
		}
		if _, err := z.Write(body); err != nil {
			return err
		}
		if err := z.Close(); err != nil {
			return err
		}
		delete(files, name)
		files[name+".gz"] = small.Bytes()
	}
	return nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// addStatic takes index.html, icons and the manifest as they are.
func addStatic(files map[string][]byte, from string) error {
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		files[rel], err = os.ReadFile(path)
		return err
	})
}

// replace puts a file in place of an older one at once, so that a build of the
// program that runs at the same time never finds half of the pages. It is
// written in the folder beside first, which nothing embeds.
func replace(path string, data []byte, beside string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	fresh, err := os.CreateTemp(beside, ".fresh-*")
	if err != nil {
		return err
	}
	_, err = fresh.Write(data)
	if err := errors.Join(err, fresh.Chmod(0o644), fresh.Close()); err != nil {
		return errors.Join(err, os.Remove(fresh.Name()))
	}
	return os.Rename(fresh.Name(), path)
}

// sweep removes what this build did not make, so that no old file is embedded.
func sweep(dir string, files map[string][]byte) error {
	return filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == ".gitkeep" {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		if _, made := files[rel]; made {
			return nil
		}
		return os.Remove(path)
	})
}
