package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"tautline/notebook"
)

// Report is what a check of a notebook found.
type Report struct {
	Counts     map[string]int `json:"counts"`     // records by kind, all versions
	Recordings int            `json:"recordings"` // sound files
	Digest     string         `json:"digest"`     // SHA-256 over every record and sound file
	Problems   []string       `json:"problems"`   // none: the notebook is whole
}

// Verify checks the notebook: the database's own integrity, references between
// records, that every record can be read, and every recording's bytes against
// its hash.
func (s *Store) Verify(ctx context.Context) (Report, error) {
	return s.verify(ctx, s.engine, s.read, s.files.sounds)
}

// verify checks a database; a kind whose table an older program did not have
// yet is passed over.
func (s *Store) verify(ctx context.Context, engine engine, db *sql.DB, sounds *os.Root) (Report, error) {
	r := Report{Counts: map[string]int{}, Problems: []string{}}
	tables, err := engine.tables(ctx, db)
	if err != nil {
		return r, err
	}
	shelves := slices.DeleteFunc(s.shelves(), func(k shelf) bool { return !slices.Contains(tables, k.table()) })
	own := Report{Counts: map[string]int{}}
	err = together(ctx,
		func(ctx context.Context) error { return engine.examine(ctx, db, &r) },
		func(ctx context.Context) error { return own.read(ctx, db, shelves, sounds) })
	for _, problem := range own.Problems {
		r.add("%s", problem)
	}
	r.Counts, r.Recordings, r.Digest = own.Counts, own.Recordings, own.Digest
	return r, err
}

// read reads every record and every sound file.
func (r *Report) read(ctx context.Context, db *sql.DB, shelves []shelf, sounds *os.Root) error {
	sum := sha256.New()
	c := checker{Report: r, refs: referee{db: db, shelves: shelves, there: map[notebook.Reference]bool{}}, sizes: map[string]int64{}}
	for _, k := range shelves {
		err := handOn(ctx,
			func(ctx context.Context, on func([]json.RawMessage) error) error { return dumpPieces(ctx, db, k, on) },
			func(ctx context.Context, piece []json.RawMessage) error {
				for _, raw := range piece {
					sum.Write(raw) // never fails (package hash)
					if err := c.check(ctx, k, raw); err != nil {
						return err
					}
				}
				return nil
			})
		if err != nil {
			return err
		}
	}
	r.Digest = hex.EncodeToString(sum.Sum(nil))
	for _, hash := range sorted(c.sizes) {
		if err := ctx.Err(); err != nil {
			return err
		}
		r.Recordings++
		err := checkFile(sounds, hash, c.sizes[hash])
		if isAny(err, errsOpen) {
			return err
		}
		if err != nil {
			r.add("recording %.12s: %v", hash, err)
		}
	}
	return nil
}

// dumpPieces hands on the records of a shelf, many at once.
func dumpPieces(ctx context.Context, db asker, k shelf, on func([]json.RawMessage) error) error {
	var piece []json.RawMessage
	err := k.dump(ctx, db, func(raw json.RawMessage) error {
		if piece = append(piece, raw); len(piece) < rowsAtOnce {
			return nil
		}
		full := piece
		piece = nil
		return on(full)
	})
	if err != nil || len(piece) == 0 {
		return err
	}
	return on(piece)
}

// checker checks record after record.
type checker struct {
	*Report
	refs  referee
	sizes map[string]int64 // of sound files, as the records say
}

func (c checker) check(ctx context.Context, k shelf, raw json.RawMessage) error {
	c.Counts[k.kind()]++
	rec, err := k.read(raw)
	if err != nil {
		c.add("%s %d: %v", k.kind(), c.Counts[k.kind()], err)
		return nil
	}
	if sound, ok := rec.(notebook.Recording); ok {
		c.sizes[sound.Hash] = sound.Bytes
	}
	missing, err := c.refs.missing(ctx, rec)
	for _, m := range missing {
		c.add("%s %s: %s names %s, which is not in the notebook", k.kind(), rec.Stamped().ID, m.Field, m.ID)
	}
	return err
}

// mostProblems keeps the report of a ruined notebook short enough to read.
const mostProblems = 200

func (r *Report) add(format string, args ...any) {
	switch {
	case len(r.Problems) < mostProblems:
		r.Problems = append(r.Problems, fmt.Sprintf(format, args...))
	case len(r.Problems) == mostProblems:
		r.Problems = append(r.Problems, "and more")
	}
}

// referee looks up the records that others name, and remembers those it found.
type referee struct {
	db      asker
	shelves []shelf
	there   map[notebook.Reference]bool
}

// missing lists the references of a record that lead nowhere.
func (f *referee) missing(ctx context.Context, rec anyRecord) (out []notebook.Reference, err error) {
	for _, ref := range rec.Refers() {
		key := notebook.Reference{Noun: ref.Noun, ID: ref.ID}
		if f.there[key] {
			continue
		}
		found, err := f.exists(ctx, ref)
		switch {
		case err != nil:
			return nil, err
		case found:
			f.there[key] = true
		default:
			out = append(out, ref)
		}
	}
	return out, nil
}

func (f *referee) exists(ctx context.Context, ref notebook.Reference) (found bool, err error) {
	for _, k := range f.shelves {
		if ref.Noun != notebook.AnyNoun && string(ref.Noun) != k.kind() {
			continue
		}
		err := f.db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM "+k.table()+" WHERE id = $1)", string(ref.ID)).Scan(&found)
		if err != nil {
			return false, translate(err, "the notebook's references cannot be checked")
		}
		if found {
			return true, nil
		}
	}
	return false, nil
}

// checkFile holds a file's bytes against its hash, and its size against what
// its record says, if it says.
func checkFile(sounds *os.Root, hash string, size int64) (err error) {
	if !isHash(hash) {
		return errors.New("no sound file is called like that")
	}
	f, err := openIn(sounds, hash)
	switch {
	case isAny(err, errsOpen):
		return fileError(err) // which says nothing of it
	case err != nil:
		return errors.New("its sound file is missing")
	}
	defer func() { err = joined(err, f.Close()) }()
	sum := sha256.New()
	n, err := io.Copy(sum, f)
	switch {
	case err != nil:
		return errors.New("its sound file cannot be read")
	case hex.EncodeToString(sum.Sum(nil)) != hash:
		return errors.New("its sound file has changed")
	case size != 0 && n != size:
		return fmt.Errorf("its sound file holds %d bytes, the record says %d", n, size)
	}
	return nil
}
