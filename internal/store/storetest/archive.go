package storetest

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"testing"
)

// Archive is what a notebook's export holds: its records, and the names of all
// its files.
func Archive(t testing.TB, book interface {
	Export(ctx context.Context, w io.Writer) error
}) (records []byte, names []string) {
	t.Helper()
	var zipped bytes.Buffer
	if err := book.Export(t.Context(), &zipped); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(zipped.Bytes()), int64(zipped.Len()))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range z.File {
		names = append(names, file.Name)
	}
	f, err := z.Open("notebook.json")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if records, err = io.ReadAll(f); err != nil {
		t.Fatal(err)
	}
	return records, names
}
