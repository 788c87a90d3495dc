package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
)

// heifModule brings libheif and libde265 as one WebAssembly file, packed by
// gzip. That file goes into the pages as it is, a file of its own; the module's
// Go code, which would rather load the machine's own library, goes nowhere.
const heifModule = "github.com/gen2brain/heic"

// heifWasm gives the file's place among the downloaded modules, where go.sum
// vouches for it.
func heifWasm() (string, error) {
	var fault bytes.Buffer
	cmd := exec.Command("go", "mod", "download", "-json", heifModule)
	cmd.Stderr = &fault
	out, err := cmd.Output()
	var module struct{ Dir, Error string }
	if err := errors.Join(err, json.Unmarshal(out, &module)); err != nil || module.Error != "" {
		return "", fmt.Errorf("%s: %w: %s %s", heifModule, err, module.Error, fault.String())
	}
	return filepath.Join(module.Dir, "lib", "heif.wasm.gz"), nil
}
