package store

import (
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
	"strings"

	"tautline/notebook"
)

// Limits of an export that is read in.
const (
	mostEntries  = 10_000
	mostRatio    = 100
	longestLine  = 16 << 20
	maxRecording = 200_000_000
)

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
	i := importer{store: s, tx: tx, from: from, only: o.DryRun, as: o.As, report: &r, shelves: map[string]shelf{}}
	if err = tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM accounts)").Scan(&i.accounts); err == nil {
		err = i.all(ctx)
	}
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
	store *Store
	tx    *sql.Tx
	from  fs.FS
	only  bool // look, leave no sound file behind
	// as takes over what is whose, the person the export begins with
	as, whose notebook.ID
	accounts  bool // this notebook has some
	report    *ImportReport
	shelves   map[string]shelf
	added     []addedLine
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
	sums, err := i.sums()
	if err != nil {
		return err
	}
	if want, ok := sums[recordsName]; ok && want != hex.EncodeToString(sum.Sum(nil)) {
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
			if notebook.OfStorage(err) {
				return err
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
	e, here, err := i.adopted(ctx, e)
	if err != nil || here {
		return err
	}
	record, err := k.read(e.Record)
	if err != nil {
		return err
	}
	forms := i.letIn(record)
	for form, r := range forms { // it may be here as it came, or as it was let in
		outcome, err := k.known(ctx, i.tx, r)
		switch err = translate(err, "the record could not be compared"); {
		case err != nil && (notebook.OfStorage(err) || form == len(forms)-1):
			return err
		case err == nil && outcome == notebook.Already:
			i.report.Already++
			return nil
		}
	}
	record = forms[len(forms)-1]
	if sound, ok := record.(notebook.Recording); ok {
		if err := i.sound(ctx, sound); err != nil {
			return err
		}
	}
	if err := saved(ctx, i.tx, func() error { return k.insert(ctx, i.tx, record) }); err != nil {
		return translate(err, "the record could not be stored")
	}
	i.newcomer(n, record)
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
func (i *importer) sums() (map[string]string, error) {
	out := map[string]string{}
	f, err := i.from.Open(sumsName)
	if isAny(err, errsOpen) {
		return nil, fileError(err)
	}
	if err != nil {
		return out, nil
	}
	defer f.Close() // only read
	for lines := bufio.NewScanner(io.LimitReader(f, 4<<20)); lines.Scan(); {
		if sum, name, ok := strings.Cut(lines.Text(), "  "); ok {
			out[name] = sum
		}
	}
	return out, nil
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
