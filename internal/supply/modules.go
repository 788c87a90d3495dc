// Package supply lists what the program is made of besides our own code: Go
// modules and npm packages, their licences, and a bill of materials
// (CycloneDX 1.6, an open standard) read from the built program itself.
package supply

import (
	"bytes"
	"debug/buildinfo"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Component is one package of somebody else.
type Component struct {
	Kind     string // "golang", "npm" or "github", as in a package URL
	Name     string
	Version  string
	Sum      string   // go.sum's h1 hash, or npm's integrity
	Licences []string // SPDX ids, all of which apply
	Text     string   // the licences' own words
	Tool     bool     // builds or tests the program; not in it
	File     bool     // in the pages, as a file of its own
}

// URL is the package URL (purl) by which other programs know it.
func (c Component) URL() string {
	return "pkg:" + c.Kind + "/" + c.Name + "@" + strings.ReplaceAll(c.Version, "+", "%2B")
}

// InBinary lists the Go modules that a built program says it holds.
func InBinary(file string) ([]Component, *buildinfo.BuildInfo, error) {
	info, err := buildinfo.ReadFile(file)
	if err != nil {
		return nil, nil, fmt.Errorf("%s is no Go program with its build information: %w", path.Base(file), err)
	}
	var list []Component
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		list = append(list, Component{Kind: "golang", Name: m.Path, Version: m.Version, Sum: m.Sum})
	}
	return list, info, nil
}

// systems are those that the program is built for; some modules are in it on
// one of them only.
var systems = []string{"linux", "darwin", "windows"}

// Modules lists the Go modules of the source folder root: those in the program
// on any system, then those that only build or test it, with their licences.
func Modules(root string) ([]Component, error) {
	inside := map[string]Component{}
	for _, system := range systems {
		if err := listModules(root, inside, false, []string{"GOOS=" + system}, "."); err != nil {
			return nil, err
		}
	}
	all := map[string]Component{}
	if err := listModules(root, all, true, nil, "-test", "./...", "tool"); err != nil {
		return nil, err
	}
	for key, c := range inside {
		all[key] = c
	}
	return sorted(all), nil
}

func listModules(root string, into map[string]Component, tool bool, env []string, what ...string) error {
	args := append([]string{"list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}"}, what...)
	cmd := exec.Command("go", args...)
	cmd.Dir, cmd.Env = root, append(os.Environ(), env...)
	var fault bytes.Buffer
	cmd.Stderr = &fault
	out, err := cmd.Output()
	if err != nil {
		return fmt.Errorf("go list: %w: %s", err, fault.String())
	}
	for line := range strings.Lines(string(out)) {
		f := strings.SplitN(strings.TrimSpace(line), " ", 3)
		if len(f) < 3 || into[f[0]].Name != "" {
			continue
		}
		c := Component{Kind: "golang", Name: f[0], Version: f[1], Tool: tool}
		if c.Licences, c.Text, err = licencesIn(f[2]); err != nil {
			return err
		}
		into[f[0]] = c
	}
	return nil
}

// Pages lists the npm packages of the lock file: those in the page bundle, then
// those that only check it. Packages for one system each of a tool are left
// out; they are the tool itself.
func Pages(root string) ([]Component, error) {
	raw, err := os.ReadFile(filepath.Join(root, "web", "package-lock.json"))
	if err != nil {
		return nil, err
	}
	var lock struct {
		Packages map[string]struct {
			Version, License, Integrity string
			Dev, Optional               bool
		}
	}
	if err := json.Unmarshal(raw, &lock); err != nil {
		return nil, err
	}
	all := map[string]Component{}
	for place, p := range lock.Packages {
		name := strings.TrimPrefix(place, "node_modules/")
		if place == "" || p.Optional {
			continue
		}
		c := Component{Kind: "npm", Name: name, Version: p.Version, Sum: p.Integrity, Tool: p.Dev, Licences: []string{p.License}}
		if _, c.Text, err = licencesIn(filepath.Join(root, "web", place)); err != nil && !p.Dev {
			return nil, err
		}
		all[name] = c
	}
	return sorted(all), nil
}

// Carried lists what the pages carry as a file of its own: the decoder of HEIC
// pictures, made of two libraries and some lines of the module that brings it
// (web/build/heif.go). The module says in its Makefile which versions they are.
func Carried(root string) ([]Component, error) {
	cmd := exec.Command("go", "mod", "download", "-json", "github.com/gen2brain/heic")
	cmd.Dir = root
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go mod download: %w", err)
	}
	var module struct{ Dir, Version, Sum string }
	if err := json.Unmarshal(out, &module); err != nil {
		return nil, err
	}
	recipe, err := os.ReadFile(filepath.Join(module.Dir, "lib", "Makefile"))
	if err != nil {
		return nil, err
	}
	glue := Component{Kind: "github", Name: "gen2brain/heic", Version: module.Version, File: true}
	if glue.Licences, glue.Text, err = licencesIn(module.Dir); err != nil {
		return nil, err
	}
	list := []Component{glue}
	for _, name := range []string{"libde265", "libheif"} {
		_, version, found := strings.Cut(string(recipe), strings.ToUpper(name)+"_VERSION = ")
		text, err := os.ReadFile(filepath.Join(module.Dir, "lib", "LICENSE."+name))
		if err != nil || !found {
			return nil, fmt.Errorf("%s: its version or licence is not where it was: %w", name, err)
		}
		version, _, _ = strings.Cut(version, "\n")
		list = append(list, Component{Kind: "github", Name: "strukturag/" + name, Version: version, Licences: []string{Classify(string(text[:min(len(text), firstWords)]))}, Text: string(text), File: true})
	}
	return list, nil
}

// firstWords is how much of such a licence tells which it is: the GPL, whose
// words follow those of the LGPL, names others yet.
const firstWords = 2000

func sorted(all map[string]Component) (list []Component) {
	for _, c := range all {
		list = append(list, c)
	}
	slices.SortFunc(list, func(a, b Component) int {
		if a.Tool != b.Tool {
			if b.Tool {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	return list
}
