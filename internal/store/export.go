package store

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"sort"
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
// the checksums of all of it. Equal notebooks give equal bytes. Bows that are
// set apart (Options.Apart) are left out.
func (s *Store) Export(ctx context.Context, w io.Writer) error {
	z := zip.NewWriter(w)
	e := &exporter{sums: map[string]string{}, create: func(name string) (io.Writer, error) {
		h := &zip.FileHeader{Name: name, Method: zip.Deflate, Modified: zipTime}
		if strings.HasPrefix(name, recordingsDir) {
			// sound hardly shrinks, but silence shrinks so much that an import
			// would take it for a zip bomb
			h.Method = zip.Store
		}
		return z.CreateHeader(h)
	}}
	if err := s.export(ctx, e); err != nil {
		return err
	}
	return z.Close()
}

// export writes all files from one state of the notebook, whoever writes
// meanwhile.
func (s *Store) export(ctx context.Context, e *exporter) (err error) {
	tx, err := s.read.BeginTx(ctx, s.engine.snapshot())
	if err != nil {
		return translate(err, "the notebook could not be read")
	}
	defer func() { err = joined(err, ignoreDone(tx.Rollback())) }()
	invented, err := s.on(ctx, tx, s.apart)
	if err != nil {
		return translate(err, "the notebook could not be read")
	}
	from := apart{tx, invented}
	if err := e.file(recordsName, func(w io.Writer) error { return s.writeRecords(ctx, from, w) }); err != nil {
		return err
	}
	if err := e.file(schemaName, s.writeSchema); err != nil {
		return err
	}
	for _, k := range s.shelves() {
		if err := e.file(tableDir+"/"+k.table()+".csv", func(w io.Writer) error { return s.writeTable(ctx, from, k, w) }); err != nil {
			return err
		}
	}
	if err := s.exportRecordings(ctx, from, e); err != nil {
		return err
	}
	return e.file(sumsName, func(w io.Writer) error { return writeSums(w, e.sums) })
}

// writeRecords writes a JSON array with one record a line, so that a problem
// in it has a line number.
func (s *Store) writeRecords(ctx context.Context, from asker, w io.Writer) error {
	if _, err := io.WriteString(w, "[\n"); err != nil {
		return err
	}
	separator := ""
	for _, k := range s.shelves() {
		err := k.dump(ctx, from, func(raw json.RawMessage) error {
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

func (s *Store) exportRecordings(ctx context.Context, from asker, e *exporter) error {
	hashes := map[string]bool{}
	err := typed[notebook.Recording]{&s.recordings, notebook.RecordingNoun}.dump(ctx, from, func(raw json.RawMessage) error {
		var r notebook.Recording
		err := json.Unmarshal(raw, &r)
		hashes[r.Hash] = true
		return err
	})
	if err != nil {
		return err
	}
	for _, hash := range sorted(hashes) {
		if err := e.file(recordingsDir+"/"+hash, func(w io.Writer) error { return copyTo(w, s.files.sounds, hash) }); err != nil {
			return err
		}
	}
	return nil
}

func copyTo(w io.Writer, sounds *os.Root, hash string) (err error) {
	f, err := openIn(sounds, hash)
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

// cannotMake says why an export's file or folder could not be made.
func cannotMake(path string, err error) error {
	e := &notebook.Error{Code: notebook.Invalid, Field: "file", Message: path + " cannot be made", Hint: "name a file in a folder that you can write in", Cause: err}
	switch {
	case errors.Is(err, fs.ErrExist):
		e.Message, e.Hint = path+" exists already; an export never overwrites", "name a new file ending in .zip"
	case errors.Is(err, fs.ErrNotExist):
		e.Message, e.Hint = "the folder for "+path+" does not exist", "make it first, or name another"
	}
	return e
}

// ExportFile writes the export to a new file; one that exists is left alone.
func (s *Store) ExportFile(ctx context.Context, path string) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return cannotMake(path, err)
	}
	defer func() {
		if err != nil {
			err = joined(fileError(err), os.Remove(path))
		}
	}()
	out := bufio.NewWriterSize(f, 1<<16)
	err = s.Export(ctx, out)
	return joined(joined(joined(err, out.Flush()), f.Sync()), f.Close())
}

// ExportFolder writes the export's files into a new folder.
func (s *Store) ExportFolder(ctx context.Context, dir string) (err error) {
	if err := os.Mkdir(dir, 0o700); err != nil {
		return &notebook.Error{Code: notebook.Invalid, Field: "folder", Message: dir + " cannot be made; an export never overwrites", Hint: "name a new folder", Cause: err}
	}
	files, err := openFolder(dir)
	if err != nil {
		return fileError(err)
	}
	var open *os.File
	done := func() error {
		if open == nil {
			return nil
		}
		return errors.Join(open.Sync(), open.Close())
	}
	defer func() {
		if err = errors.Join(err, done(), files.Close()); err != nil {
			err = joined(fileError(err), os.RemoveAll(dir))
		}
	}()
	return s.export(ctx, &exporter{sums: map[string]string{}, create: func(name string) (io.Writer, error) {
		if err := errors.Join(done(), files.MkdirAll(path.Dir(name), 0o700)); err != nil {
			return nil, err
		}
		open, err = files.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		return open, err
	}})
}
