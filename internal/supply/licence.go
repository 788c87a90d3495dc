package supply

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// mark tells a licence by phrases that only its text holds.
type mark struct {
	id      string   // SPDX
	phrases []string // all of them, in lower case, blanks folded
}

// marks, the more special before the more general.
var marks = []mark{
	{"MPL-2.0", []string{"mozilla public license version 2.0"}}, // names the others as what it may be combined with
	{"OFL-1.1", []string{"sil open font license", "version 1.1"}},
	{"CC-BY-4.0", []string{"creative commons attribution 4.0"}},
	{"FTL OR GPL-2.0-or-later", []string{"your choice of exactly one of the following two licenses", "freetype license", "gnu general public license"}},
	{"AGPL-3.0-only", []string{"gnu affero general public license"}},
	{"LGPL-3.0-only", []string{"gnu lesser general public license"}},
	{"GPL-3.0-only", []string{"gnu general public license", "version 3"}},
	{"GPL-2.0-only", []string{"gnu general public license", "version 2"}},
	{"Apache-2.0", []string{"apache license", "version 2.0"}},
	{"Unlicense", []string{"this is free and unencumbered software released into the public domain"}},
	{"blessing", []string{"dedicated to the public domain", "sqlite"}},
	{"BSD-3-Clause", []string{"redistribution and use in source and binary forms", "may be used to endorse or promote"}},
	{"BSD-2-Clause", []string{"redistribution and use in source and binary forms"}},
	{"ISC", []string{"permission to use, copy, modify, and/or distribute this software for any purpose"}},
	{"MIT", []string{"permission is hereby granted, free of charge, to any person obtaining a copy"}},
}

// fitting licences may be part of a program under Apache-2.0 that is given
// away as a binary with the notices beside it. Of FreeType's two the first is
// taken.
var fitting = []string{"MIT", "BSD-2-Clause", "BSD-3-Clause", "ISC", "Apache-2.0", "Unlicense", "blessing", "OFL-1.1", "CC-BY-4.0", "FTL OR GPL-2.0-or-later"}

// forTools may also be under these: they check or build, and no part of them is
// in the program.
var forTools = append([]string{"MPL-2.0"}, fitting...)

// forFiles: a file of its own in the pages, unchanged, may also be under the
// LGPL. Whoever has the program can exchange it (LGPL 3, section 4 d 0: the
// program's source and what builds it are open), and the licence's words go
// along in the bill of materials.
var forFiles = append([]string{"LGPL-3.0-only"}, fitting...)

// Fit reports whether a component may be where it is.
func (c Component) Fit() bool {
	if c.File {
		return allIn(forFiles, c.Licences)
	}
	return Fits(c.Licences, c.Tool)
}

func allIn(list, licences []string) bool {
	return len(licences) > 0 && !slices.ContainsFunc(licences, func(l string) bool { return !slices.Contains(list, l) })
}

// Fits reports whether code under those licences may be in the program, or,
// for a tool, may help to build and test it.
func Fits(licences []string, tool bool) bool {
	list := fitting
	if tool {
		list = forTools
	}
	return allIn(list, licences)
}

// Classify gives the SPDX id of a licence's text, empty if it is none we know.
func Classify(text string) string {
	text = strings.ToLower(strings.Join(strings.Fields(text), " "))
	for _, m := range marks {
		if !slices.ContainsFunc(m.phrases, func(p string) bool { return !strings.Contains(text, p) }) {
			return m.id
		}
	}
	return ""
}

// notLicences are files that are called like one and were read: a picture's
// source, a link, and collections of notices of what the package itself was
// made from (each of them permissive, or musl's and the C library's MIT).
var notLicences = []string{"LICENSE-LOGO", "LICENSE-link.txt", "LICENSE-3RD-PARTY.md"}

// licencesIn reads a package's licence files. A file of that name that is no
// licence known here is an error: somebody has to read it.
func licencesIn(dir string) (ids []string, text string, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, "", err
	}
	var all strings.Builder
	for _, e := range entries {
		name := strings.ToUpper(e.Name())
		if e.IsDir() || !strings.HasPrefix(name, "LICEN") && !strings.HasPrefix(name, "COPYING") && !strings.HasPrefix(name, "UNLICEN") {
			continue
		}
		raw, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return nil, "", err
		}
		fmt.Fprintf(&all, "%s\n\n%s\n", e.Name(), strings.TrimSpace(string(raw)))
		if slices.Contains(notLicences, e.Name()) {
			continue
		}
		id := Classify(string(raw))
		if id == "" {
			return nil, "", fmt.Errorf("%s: a licence that this program does not know; read it, then add it to licence.go", filepath.Join(filepath.Base(dir), e.Name()))
		}
		if !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	if len(ids) == 0 {
		return nil, "", errors.New(filepath.Base(dir) + ": no licence file")
	}
	slices.Sort(ids)
	return ids, all.String(), nil
}
