package store

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"testing"
	"testing/fstest"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// fuzzed is a notebook with a record of each kind, its export, and a check
// that trying an import on it changes nothing and ends in words of ours.
func fuzzed(f *testing.F) (records []byte, try func(t *testing.T, do func(*Store) (ImportReport, error))) {
	f.Helper()
	s, err := Open(context.Background(), f.TempDir(), Options{})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() {
		if err := s.Close(); err != nil {
			f.Error(err)
		}
	})
	storetest.PutAll(f, s, storetest.New())
	var out bytes.Buffer
	if err := s.writeRecords(context.Background(), s.read, &out); err != nil {
		f.Fatal(err)
	}
	return out.Bytes(), func(t *testing.T, do func(*Store) (ImportReport, error)) {
		r, err := do(s)
		var known *notebook.Error
		if err != nil && !errors.As(err, &known) {
			t.Fatalf("not in our words: %v", err)
		}
		if r.Done || s.Writable() != nil {
			t.Fatalf("a trial stored something, or stopped writing: %+v, %v", r, s.Writable())
		}
	}
}

// FuzzImportRecords: whatever stands in an export's records (T20).
func FuzzImportRecords(f *testing.F) {
	records, try := fuzzed(f)
	f.Add(records)
	for _, line := range bytes.Split(records, []byte("\n")) {
		f.Add(append(append([]byte("[\n"), line...), "\n]\n"...))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		try(t, func(s *Store) (ImportReport, error) {
			return s.Import(context.Background(), fstest.MapFS{recordsName: {Data: text}}, ImportOptions{DryRun: true})
		})
	})
}

// FuzzImportZip: whatever bytes are said to be a zip (T20, T21).
func FuzzImportZip(f *testing.F) {
	records, try := fuzzed(f)
	var z bytes.Buffer
	w := zip.NewWriter(&z)
	out, err := w.Create(recordsName)
	if err == nil {
		_, err = out.Write(records)
	}
	if err := errors.Join(err, w.Close()); err != nil {
		f.Fatal(err)
	}
	f.Add(z.Bytes())
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
		if err != nil || checkZip(z) != nil {
			return
		}
		try(t, func(s *Store) (ImportReport, error) {
			return s.Import(context.Background(), z, ImportOptions{DryRun: true})
		})
	})
}
