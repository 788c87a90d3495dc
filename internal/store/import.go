package store

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
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
	// Warnings do not stop an import: a record names another that is neither
	// in the export nor in the notebook.
	Warnings []ImportLine `json:"warnings"`
	Done     bool         `json:"done"` // false: nothing was changed
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
		root, refused := os.OpenRoot(name) // no link leads out of the folder
		if refused != nil {
			return r, &notebook.Error{Code: notebook.Invalid, Field: "file", Message: name + " cannot be read", Hint: "check its permissions", Cause: refused}
		}
		defer func() { err = joined(err, root.Close()) }()
		return s.Import(ctx, root.FS(), o)
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
	r := ImportReport{Added: map[string]int{}, Problems: []ImportLine{}, Warnings: []ImportLine{}}
	if err := s.Writable(); err != nil {
		return r, err
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return r, translate(err, "the import could not begin")
	}
	i := importer{store: s, tx: tx, from: from, only: o.DryRun, report: &r, shelves: map[string]shelf{}}
	err = i.all(ctx)
	if err != nil || o.DryRun || len(r.Problems) > 0 && !o.KeepGood {
		err = translate(joined(err, ignoreDone(tx.Rollback())), "the import failed; nothing was changed")
	} else if err = translate(tx.Commit(), "the import failed; nothing was changed"); err == nil {
		r.Done = true
	}
	s.noteFailure(err)
	return r, err
}

// importer is one import under way.
type importer struct {
	store   *Store
	tx      *sql.Tx
	from    fs.FS
	only    bool // look, leave no sound file behind
	report  *ImportReport
	shelves map[string]shelf
	added   []addedLine
}

// addedLine is what a new record names, for a look when all are in.
type addedLine struct {
	line   int
	record anyRecord
}

// all goes through the lines. notebook.json must be what was exported, by the
// checksums that came with it, unless they were left out.
func (i *importer) all(ctx context.Context) (err error) {
	f, err := i.from.Open(recordsName)
	if err != nil {
		return &notebook.Error{Code: notebook.Invalid, Field: "file", Message: "the export has no notebook.json that can be read", Hint: "make it anew with: tautline export", Cause: err}
	}
	defer func() { err = joined(err, f.Close()) }()
	for _, k := range i.store.shelves() {
		i.shelves[k.kind()] = k
	}
	sum := sha256.New()
	if err := i.lines(ctx, io.TeeReader(f, sum)); err != nil {
		return err
	}
	if want, ok := i.sums()[recordsName]; ok && want != hex.EncodeToString(sum.Sum(nil)) {
		i.problem(0, "notebook.json is not what was exported: it was changed, or damaged on the way")
	}
	return i.warn(ctx)
}

func (i *importer) problem(line int, message string) {
	i.report.Problems = append(i.report.Problems, ImportLine{line, message})
}

// lines reads record by record; what cannot be read is named by its line.
func (i *importer) lines(ctx context.Context, from io.Reader) error {
	lines := bufio.NewScanner(from)
	lines.Buffer(nil, longestLine)
	n, ended := 0, false
	for lines.Scan() {
		n++
		text := bytes.TrimSpace(bytes.TrimPrefix(lines.Bytes(), []byte("\ufeff")))
		text = bytes.TrimSuffix(text, []byte(","))
		if s := string(text); s == "[" || s == "]" || s == "" {
			ended = ended || s == "]"
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := i.line(ctx, n, text); err != nil {
			if notebook.CodeOf(err) == notebook.DiskFull || notebook.CodeOf(err) == notebook.ReadOnly {
				return err // about this disk, not about the line
			}
			i.problem(n, err.Error())
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		i.problem(n+1, "the line is longer than any record; the rest was not read")
	case err != nil:
		i.problem(n+1, "the file cannot be read from here on: it is damaged or cut off")
	case !ended:
		i.problem(n, "notebook.json ends without its last line, a closing bracket: it was cut off")
	}
	return nil
}

func (i *importer) line(ctx context.Context, n int, text []byte) error {
	var e envelope
	if err := json.Unmarshal(text, &e); err != nil {
		return fmt.Errorf("this line is not a record: %w", err)
	}
	k, ok := i.shelves[e.Kind]
	if !ok {
		return fmt.Errorf("there is no kind of record called %.40q", e.Kind)
	}
	record, err := k.read(e.Record)
	if err != nil {
		return err
	}
	switch outcome, err := k.known(ctx, i.tx, record); {
	case err != nil:
		return translate(err, "the record could not be compared")
	case outcome == notebook.Already:
		i.report.Already++
		return nil
	}
	if sound, ok := record.(notebook.Recording); ok {
		if err := i.sound(ctx, sound); err != nil {
			return err
		}
	}
	if err := saved(ctx, i.tx, func() error { return k.insert(ctx, i.tx, record) }); err != nil {
		return translate(err, "the record could not be stored")
	}
	i.report.Added[k.kind()]++
	i.added = append(i.added, addedLine{n, record})
	return nil
}

// warn names the new records that lead nowhere, now that all are in.
func (i *importer) warn(ctx context.Context) error {
	refs := referee{db: i.tx, shelves: i.store.shelves(), there: map[notebook.Reference]bool{}}
	for _, a := range i.added {
		missing, err := refs.missing(ctx, a.record)
		if err != nil {
			return err
		}
		for _, m := range missing {
			i.report.Warnings = append(i.report.Warnings, ImportLine{a.line, fmt.Sprintf("%s names %s, which is neither in the export nor here", strings.TrimPrefix(m.Field, "/"), m.ID)})
		}
	}
	return nil
}

// sums reads the export's checksums; none if they were left out.
func (i *importer) sums() map[string]string {
	out := map[string]string{}
	f, err := i.from.Open(sumsName)
	if err != nil {
		return out
	}
	defer f.Close() // only read
	for lines := bufio.NewScanner(io.LimitReader(f, 4<<20)); lines.Scan(); {
		if sum, name, ok := strings.Cut(lines.Text(), "  "); ok {
			out[name] = sum
		}
	}
	return out
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

// sound brings a recording's bytes in, if they are not there, and holds them
// against their name first.
func (i *importer) sound(ctx context.Context, r notebook.Recording) error {
	if f, err := i.store.blobs.Open(ctx, r.Hash); err == nil {
		return f.Close()
	}
	got, err := i.hashOf(ctx, r.Hash)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("its sound file recordings/%s… is not in the export", r.Hash[:12])
	case err != nil:
		return fmt.Errorf("its sound file recordings/%s… cannot be read: it is damaged", r.Hash[:12])
	case got != r.Hash:
		return fmt.Errorf("its sound file recordings/%s… has changed", r.Hash[:12])
	case i.only:
		return nil
	}
	f, err := i.from.Open(path.Join(recordingsDir, r.Hash))
	if err != nil {
		return err
	}
	_, _, err = i.store.blobs.Add(ctx, f, maxRecording)
	return joined(err, f.Close())
}

func (i *importer) hashOf(ctx context.Context, name string) (hash string, err error) {
	f, err := i.from.Open(path.Join(recordingsDir, name))
	if err != nil {
		return "", err
	}
	defer func() { err = joined(err, f.Close()) }()
	sum := sha256.New()
	_, err = io.Copy(sum, contextReader{ctx, io.LimitReader(f, maxRecording+1)})
	return hex.EncodeToString(sum.Sum(nil)), err
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
		fmt.Fprintf(&b, "  %s: %s\n", p.where(), p.Message)
	}
	for _, p := range r.Warnings {
		fmt.Fprintf(&b, "  %s, no reason to stop: %s\n", p.where(), p.Message)
	}
	return b.String()
}

func (l ImportLine) where() string {
	if l.Line == 0 {
		return "the export"
	}
	return fmt.Sprintf("line %d", l.Line)
}
