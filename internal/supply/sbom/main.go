// Command sbom prints the bill of materials of a built program as CycloneDX.
//
//	go run ./internal/supply/sbom tautline > tautline.cdx.json
package main

import (
	"encoding/json"
	"fmt"
	"os"

	"tautline/internal/supply"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage, in the source folder: go run ./internal/supply/sbom PROGRAM")
		os.Exit(2)
	}
	bill, err := supply.BillOf(os.Args[1], ".")
	if err == nil {
		out := json.NewEncoder(os.Stdout)
		out.SetIndent("", " ")
		err = out.Encode(bill)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "sbom:", err)
		os.Exit(1)
	}
}
