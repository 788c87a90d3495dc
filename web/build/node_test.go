package main

import (
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/evanw/esbuild/pkg/api"
)

// inNode bundles a script of the pages, runs it in node and reads the JSON it
// prints: the pages' own mathematics, not a copy of it.
func inNode(t *testing.T, script string, stdin io.Reader, into any, args ...string) {
	t.Helper()
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("no node here, which runs the pages' own mathematics: install Debian's package nodejs")
	}
	made := filepath.Join(t.TempDir(), "check.mjs")
	built := api.Build(api.BuildOptions{
		EntryPoints: []string{filepath.Join("../src", script)}, Outfile: made, Bundle: true, Write: true,
		Format: api.FormatESModule, Platform: api.PlatformNode, Target: api.ES2022, Plugins: []api.Plugin{manualPages},
	})
	if len(built.Errors) > 0 {
		t.Fatal(built.Errors[0].Text)
	}
	run := exec.CommandContext(t.Context(), node, append([]string{made}, args...)...)
	run.Stdin, run.Stderr = stdin, os.Stderr
	out, err := run.Output()
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(out, into); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
}
