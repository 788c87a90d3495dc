package store

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"time"

	"tautline/notebook"
)

// Names inside an export; docs/manual/notebook-format.md describes them.
const (
	recordsName = "notebook.json"
	schemaName  = "notebook.schema.json"
	sumsName    = "SHA256SUMS"
	tableDir    = "tables"
)

// zipTime stands on every entry, so that equal notebooks give equal bytes.
var zipTime = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// exporter writes named files and remembers their sums.
type exporter struct {
	create func(name string) (io.Writer, error)
	sums   map[string]string
}

func (e *exporter) file(name string, write func(io.Writer) error) error {
	out, err := e.create(name)
	if err != nil {
		return fmt.Errorf("export: %s: %w", name, err)
	}
	sum := sha256.New()
	if err := write(io.MultiWriter(out, sum)); err != nil {
		return fmt.Errorf("export: %s: %w", name, err)
	}
	e.sums[name] = hex.EncodeToString(sum.Sum(nil))
	return nil
}

// Export writes the whole notebook as one zip: every record in one JSON file,
// one table a kind with units in the headers, the recordings as they came, and
// the checksums of all of it. Equal notebooks give equal bytes.
func (s *Store) Export(ctx context.Context, w io.Writer) error {
	z := zip.NewWriter(w)
	e := &exporter{sums: map[string]string{}, create: func(name string) (io.Writer, error) {
		h := &zip.FileHeader{Name: name, Method: zip.Deflate, Modified: zipTime}
		return z.CreateHeader(h)
	}}
	if err := s.export(ctx, e); err != nil {
		return err
	}
	return z.Close()
}

func (s *Store) export(ctx context.Context, e *exporter) error {
	if err := e.file(recordsName, func(w io.Writer) error { return s.writeRecords(ctx, w) }); err != nil {
		return err
	}
	if err := e.file(schemaName, func(w io.Writer) error { return s.writeSchema(w) }); err != nil {
		return err
	}
	if err := e.file(tableDir+"/readings.csv", func(w io.Writer) error { return s.writeReadings(ctx, w) }); err != nil {
		return err
	}
	if err := e.file(tableDir+"/setups.csv", func(w io.Writer) error { return s.writeSetUps(ctx, w) }); err != nil {
		return err
	}
	if err := s.exportRecordings(ctx, e); err != nil {
		return err
	}
	return e.file(sumsName, func(w io.Writer) error { return writeSums(w, e.sums) })
}

// writeRecords writes a JSON array with one record a line, so that a problem
// in it has a line number.
func (s *Store) writeRecords(ctx context.Context, w io.Writer) error {
	if _, err := io.WriteString(w, "[\n"); err != nil {
		return err
	}
	separator := ""
	for _, k := range s.shelves() {
		err := k.dump(ctx, s.read, func(raw json.RawMessage) error {
			line, err := json.Marshal(envelope{k.kind(), raw})
			if err == nil {
				_, err = fmt.Fprintf(w, "%s%s", separator, line)
			}
			separator = ",\n"
			return err
		})
		if err != nil {
			return err
		}
	}
	_, err := io.WriteString(w, "\n]\n")
	return err
}

// envelope is one line of notebook.json.
type envelope struct {
	Kind   string          `json:"kind"`
	Record json.RawMessage `json:"record"`
}

func (s *Store) exportRecordings(ctx context.Context, e *exporter) error {
	hashes := map[string]bool{}
	err := typed[notebook.Recording]{&s.recordings, ""}.dump(ctx, s.read, func(raw json.RawMessage) error {
		var r notebook.Recording
		err := json.Unmarshal(raw, &r)
		hashes[r.Hash] = true
		return err
	})
	if err != nil {
		return err
	}
	for _, hash := range sorted(hashes) {
		if err := e.file(recordingsDir+"/"+hash, func(w io.Writer) error { return copyTo(w, filepath.Join(s.dir, recordingsDir, hash)) }); err != nil {
			return err
		}
	}
	return nil
}

func copyTo(w io.Writer, path string) (err error) {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, f.Close()) }()
	_, err = io.Copy(w, f)
	return err
}

func writeSums(w io.Writer, sums map[string]string) error {
	for _, name := range sorted(sums) {
		if _, err := fmt.Fprintf(w, "%s  %s\n", sums[name], name); err != nil {
			return err
		}
	}
	return nil
}

func sorted[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// writeReadings writes the readings for a spreadsheet (RFC 4180). Values are
// SI; the unit of value_si is in its own column, since kinds differ.
func (s *Store) writeReadings(ctx context.Context, w io.Writer) error {
	out := newSheet(w, "id", "kind", "value_si", "unit_si", "as_typed", "bow", "setup", "trial", "stop", "edge", "repeat", "at_utc", "corrects", "note")
	err := typed[notebook.Reading]{&s.readings, ""}.dump(ctx, s.read, func(raw json.RawMessage) error {
		var r notebook.Reading
		if err := json.Unmarshal(raw, &r); err != nil {
			return err
		}
		info, _ := r.Kind.Info()
		stop := ""
		if r.Stop != nil {
			stop = strconv.Itoa(*r.Stop)
		}
		return out.row(string(r.ID), string(r.Kind), strconv.FormatFloat(r.Value, 'f', -1, 64), info.SI, r.Text, string(r.Bow), string(r.SetUp),
			string(r.Trial), stop, string(r.Edge), strconv.Itoa(r.Repeat), r.At.UTC().Format(time.RFC3339), string(r.Corrects), r.Note)
	})
	return joined(err, out.flush())
}

// writeSetUps writes one row an entry: settings are many and mostly empty.
func (s *Store) writeSetUps(ctx context.Context, w io.Writer) error {
	out := newSheet(w, "setup", "bow", "at_utc", "reason", "setting", "as_typed_with_unit")
	err := typed[notebook.SetUp]{&s.setups, ""}.dump(ctx, s.read, func(raw json.RawMessage) error {
		var r notebook.SetUp
		if err := json.Unmarshal(raw, &r); err != nil {
			return err
		}
		entries, err := notebook.Diff(notebook.Settings{}, r.Settings)
		for _, e := range entries {
			err = joined(err, out.row(string(r.ID), string(r.Bow), r.At.UTC().Format(time.RFC3339), r.Reason, e.Key, e.After))
		}
		return err
	})
	return joined(err, out.flush())
}

// sheet writes CSV that no spreadsheet runs as a formula.
type sheet struct{ w *csv.Writer }

func newSheet(w io.Writer, header ...string) sheet {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	s := sheet{out}
	_ = s.row(header...) // a csv.Writer keeps its first error for flush
	return s
}

func (s sheet) row(cells ...string) error {
	for i, c := range cells {
		_, number := strconv.ParseFloat(c, 64)
		if c != "" && strings.ContainsRune("=+-@\t\r", rune(c[0])) && number != nil {
			cells[i] = "'" + c
		}
	}
	return s.w.Write(cells)
}

func (s sheet) flush() error {
	s.w.Flush()
	return s.w.Error()
}

// ExportFile writes the export to a new file; one that exists is left alone.
func (s *Store) ExportFile(ctx context.Context, path string) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return &notebook.Error{Code: notebook.Invalid, Field: "file", Message: path + " cannot be made; an export never overwrites", Hint: "name a new file ending in .zip", Cause: err}
	}
	defer func() {
		if err != nil {
			err = joined(err, os.Remove(path))
		}
	}()
	err = s.Export(ctx, f)
	return joined(joined(err, f.Sync()), f.Close())
}
