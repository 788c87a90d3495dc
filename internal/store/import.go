package store

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"regexp"
	"strings"

	"tautline/notebook"
)

// ImportOptions says how an export is read in.
type ImportOptions struct {
	// KeepGood imports the good records although others are bad. Otherwise
	// one bad record stops the import and nothing is changed.
	KeepGood bool
	// DryRun only reports.
	DryRun bool
}

// ImportReport says what an import did, or would do.
type ImportReport struct {
	Added    map[string]int `json:"added"`   // records by kind
	Already  int            `json:"already"` // were there before, unchanged
	Problems []ImportLine   `json:"problems"`
	Done     bool           `json:"done"` // false: nothing was changed
}

// ImportLine is one bad line of notebook.json.
type ImportLine struct {
	Line    int    `json:"line"` // from 1; 0: the export as a whole
	Message string `json:"message"`
}

// Limits of an export that is read in.
const (
	mostEntries  = 10_000
	mostRatio    = 100
	mostRecords  = 1 << 30
	longestLine  = 16 << 20
	maxRecording = 200_000_000
)

// nameAllowed are the only names inside an export.
var nameAllowed = regexp.MustCompile(`^(notebook\.json|notebook\.schema\.json|SHA256SUMS|tables/[a-z_]+\.csv|recordings/[0-9a-f]{64})$`)

// ImportPath reads an exported zip, or the folder it was unpacked into.
func (s *Store) ImportPath(ctx context.Context, name string, o ImportOptions) (r ImportReport, err error) {
	info, err := os.Stat(name)
	if err != nil {
		return r, &notebook.Error{Code: notebook.NotFound, Field: "file", Message: "there is no " + name, Hint: "name an export: a .zip file or the folder it was unpacked into", Cause: err}
	}
	if info.IsDir() {
		return s.Import(ctx, os.DirFS(name), o)
	}
	z, err := zip.OpenReader(name)
	if err != nil {
		return r, &notebook.Error{Code: notebook.Invalid, Field: "file", Message: name + " is not a zip that can be read", Hint: "copy the export again", Cause: err}
	}
	defer func() { err = joined(err, z.Close()) }()
	if err := checkZip(&z.Reader); err != nil {
		return r, err
	}
	return s.Import(ctx, z, o)
}

// checkZip refuses what no export contains: too many entries, strange names,
// links, and sizes that unpack to far more than they are.
func checkZip(z *zip.Reader) error {
	if len(z.File) > mostEntries {
		return badZip(fmt.Sprintf("it holds %d files, more than any export", len(z.File)))
	}
	for _, f := range z.File {
		switch {
		case !nameAllowed.MatchString(f.Name) || f.Mode()&fs.ModeType != 0:
			return badZip(fmt.Sprintf("it holds %.60q, which no export does", f.Name))
		case f.UncompressedSize64 > 4096 && f.UncompressedSize64 > mostRatio*f.CompressedSize64:
			return badZip(fmt.Sprintf("%s unpacks to more than %d times its size", f.Name, mostRatio))
		}
	}
	return nil
}

func badZip(why string) error {
	return &notebook.Error{Code: notebook.Invalid, Field: "file", Message: "this is not an export: " + why, Hint: "make it anew with: tautline export"}
}

// Import reads an export. Nothing is ever overwritten: a record that is there
// already is counted, one that differs from what is there is a problem. All
// records go in together or, with KeepGood, all good ones.
func (s *Store) Import(ctx context.Context, from fs.FS, o ImportOptions) (ImportReport, error) {
	r := ImportReport{Added: map[string]int{}, Problems: []ImportLine{}}
	raw, err := readAll(from, recordsName, mostRecords)
	if err != nil {
		return r, &notebook.Error{Code: notebook.Invalid, Field: "file", Message: "the export has no notebook.json that can be read", Hint: "make it anew with: tautline export", Cause: err}
	}
	if err := s.Writable(); err != nil {
		return r, err
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return r, translate(err, "the import could not begin")
	}
	err = s.importAll(ctx, tx, from, raw, &r)
	if err != nil || o.DryRun || len(r.Problems) > 0 && !o.KeepGood {
		return r, joined(translate(err, "the import failed; nothing was changed"), ignoreDone(tx.Rollback()))
	}
	if err := tx.Commit(); err != nil {
		return r, translate(err, "the import failed; nothing was changed")
	}
	r.Done = true
	return r, nil
}

// importAll goes through the lines; a savepoint a record keeps a refused one
// from spoiling the rest.
func (s *Store) importAll(ctx context.Context, tx *sql.Tx, from fs.FS, raw []byte, r *ImportReport) error {
	shelves := map[string]shelf{}
	for _, k := range s.shelves() {
		shelves[k.kind()] = k
	}
	lines := bufio.NewScanner(bytes.NewReader(raw))
	lines.Buffer(nil, longestLine)
	n := 0
	for lines.Scan() {
		n++
		text := bytes.TrimSuffix(bytes.TrimSpace(lines.Bytes()), []byte(","))
		if s := string(text); s == "[" || s == "]" || s == "" {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := s.importLine(ctx, tx, from, shelves, text, r); err != nil {
			r.Problems = append(r.Problems, ImportLine{n, err.Error()})
		}
	}
	if err := lines.Err(); err != nil {
		r.Problems = append(r.Problems, ImportLine{n + 1, "the line is too long: " + err.Error()})
	}
	return nil
}

func (s *Store) importLine(ctx context.Context, tx *sql.Tx, from fs.FS, shelves map[string]shelf, text []byte, r *ImportReport) error {
	var e envelope
	if err := json.Unmarshal(text, &e); err != nil {
		return fmt.Errorf("this line is not a record: %w", err)
	}
	k, ok := shelves[e.Kind]
	if !ok {
		return fmt.Errorf("there is no kind of record called %.40q", e.Kind)
	}
	record, err := k.read(e.Record)
	if err != nil {
		return err
	}
	switch outcome, err := k.known(ctx, tx, record); {
	case err != nil:
		return err
	case outcome == notebook.Already:
		r.Already++
		return nil
	}
	if sound, ok := record.(notebook.Recording); ok {
		if err := s.importSound(ctx, from, sound.Hash); err != nil {
			return err
		}
	}
	if err := saved(ctx, tx, func() error { return k.put1(ctx, tx, record) }); err != nil {
		return translate(err, "the record could not be stored")
	}
	r.Added[k.kind()]++
	return nil
}

// saved runs one statement so that its failure leaves the transaction usable.
func saved(ctx context.Context, tx *sql.Tx, do func() error) error {
	if _, err := tx.ExecContext(ctx, "SAVEPOINT line"); err != nil {
		return err
	}
	if err := do(); err != nil {
		_, undo := tx.ExecContext(ctx, "ROLLBACK TO line")
		return errors.Join(err, undo)
	}
	_, err := tx.ExecContext(ctx, "RELEASE line")
	return err
}

// importSound brings a recording's bytes in, if they are not there, and holds
// them against their name.
func (s *Store) importSound(ctx context.Context, from fs.FS, hash string) (err error) {
	if f, err := s.blobs.Open(ctx, hash); err == nil {
		return f.Close()
	}
	f, err := from.Open(path.Join(recordingsDir, hash))
	if err != nil {
		return fmt.Errorf("its sound file recordings/%s… is not in the export", hash[:12])
	}
	defer func() { err = joined(err, f.Close()) }()
	got, _, err := s.blobs.Add(ctx, f, maxRecording)
	if err == nil && got != hash {
		err = fmt.Errorf("its sound file recordings/%s… has changed", hash[:12])
	}
	return err
}

func readAll(from fs.FS, name string, limit int64) (raw []byte, err error) {
	f, err := from.Open(name)
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, f.Close()) }()
	raw, err = io.ReadAll(io.LimitReader(f, limit+1))
	if err == nil && int64(len(raw)) > limit {
		err = errors.New("the file is too large")
	}
	return raw, err
}

// Text is the report in a person's words.
func (r ImportReport) Text() string {
	var b strings.Builder
	for _, kind := range sorted(r.Added) {
		fmt.Fprintf(&b, "  %d × %s\n", r.Added[kind], kind)
	}
	if r.Already > 0 {
		fmt.Fprintf(&b, "  %d were there already, unchanged\n", r.Already)
	}
	for _, p := range r.Problems {
		fmt.Fprintf(&b, "  line %d: %s\n", p.Line, p.Message)
	}
	return b.String()
}
