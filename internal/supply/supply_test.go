package supply_test

import (
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/hex"
	"encoding/json"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"tautline/internal/supply"
)

var update = flag.Bool("update", false, "write docs/licences.md anew")

const (
	root = "../.."
	page = "../../docs/licences.md"
)

// needsPages: the licence files of the pages' packages come with npm.
func needsPages(t *testing.T) {
	t.Helper()
	if _, err := os.Stat(filepath.Join(root, "web", "node_modules", "preact")); err != nil {
		t.Skip("web/node_modules is not there: make web")
	}
}

// T25: every package's licence is known and fits, and the page that says so is
// the one of these very packages.
func TestGoldenLicences(t *testing.T) {
	needsPages(t)
	modules, err := supply.Modules(root)
	if err != nil {
		t.Fatal(err)
	}
	pages, err := supply.Pages(root)
	if err != nil {
		t.Fatal(err)
	}
	carried, err := supply.Carried(root)
	if err != nil {
		t.Fatal(err)
	}
	list := slices.Concat(modules, pages, carried)
	for _, c := range list {
		if !c.Fit() {
			t.Errorf("%s %s is under %v, which does not fit Apache-2.0", c.Name, c.Version, c.Licences)
		}
	}
	want := supply.Table(list)
	if *update {
		if err := os.WriteFile(page, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if have, err := os.ReadFile(page); err != nil || string(have) != want {
		t.Errorf("docs/licences.md is not of the packages used now (%v): go test ./internal/supply -run Golden -update", err)
	}
}

// What does not fit is refused; the licences' first words are recalled.
func TestClassify(t *testing.T) {
	for _, row := range []struct {
		text, id string
		fits     bool
	}{
		{"MIT License\n\nPermission is hereby granted, free of\ncharge, to any person obtaining a copy", "MIT", true},
		{"GNU GENERAL PUBLIC LICENSE\n Version 3, 29 June 2007", "GPL-3.0-only", false},
		{"GNU AFFERO GENERAL PUBLIC LICENSE Version 3", "AGPL-3.0-only", false},
		{"GNU LESSER GENERAL PUBLIC LICENSE Version 3", "LGPL-3.0-only", false},
		{"Redistribution and use in source and binary forms, with or without modification", "BSD-2-Clause", true},
		{"All rights reserved. For evaluation only.", "", false},
	} {
		if id := supply.Classify(row.text); id != row.id || supply.Fits([]string{id}, false) != row.fits {
			t.Errorf("%.40q is %q, fits %v; want %q, %v", row.text, id, supply.Fits([]string{id}, false), row.id, row.fits)
		}
	}
}

// T25: the bill of materials names what the built program says it holds, all of
// it and nothing else, and the program's own hash.
func TestBillIsOfTheBinary(t *testing.T) {
	needsPages(t)
	file := filepath.Join(t.TempDir(), "tautline")
	if out, err := exec.Command("go", "build", "-o", file, root).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	bill, err := supply.BillOf(file, root)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(raw)
	if got := bill.Metadata.Component.Hashes[0].Content; got != hex.EncodeToString(sum[:]) {
		t.Errorf("the hash is %s", got)
	}
	info, err := buildinfo.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"pkg:golang/stdlib@" + strings.TrimPrefix(info.GoVersion, "go")}
	for _, m := range info.Deps {
		want = append(want, "pkg:golang/"+m.Path+"@"+m.Version)
	}
	var have []string
	for _, c := range bill.Components {
		if len(c.Licences) == 0 {
			t.Errorf("%s has no licence", c.Name)
		}
		if strings.HasPrefix(c.PURL, "pkg:golang/") {
			have = append(have, c.PURL)
		}
	}
	slices.Sort(want)
	slices.Sort(have)
	if !slices.Equal(have, want) || len(want) < 20 {
		t.Errorf("the bill has\n%v\nthe program has\n%v", have, want)
	}
	text, err := json.Marshal(bill)
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"pkg:npm/preact@", "pkg:github/strukturag/libheif@v", "pkg:github/strukturag/libde265@v"} {
		if !strings.Contains(string(text), `"purl":"`+part) {
			t.Errorf("%s is missing", part)
		}
	}
}
