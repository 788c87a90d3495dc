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
	"path/filepath"

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
	return s.verify(ctx, s.read, filepath.Join(s.dir, recordingsDir))
}

func (s *Store) verify(ctx context.Context, db *sql.DB, sounds string) (Report, error) {
	r := Report{Counts: map[string]int{}, Problems: []string{}}
	if err := s.verifyEngine(ctx, db, &r); err != nil {
		return r, err
	}
	sum := sha256.New()
	hashes := map[string]bool{}
	for _, k := range s.shelves() {
		err := k.dump(ctx, db, func(raw json.RawMessage) error {
			r.Counts[k.kind()]++
			if _, err := sum.Write(raw); err != nil {
				return err
			}
			rec, err := k.read(raw)
			if err != nil {
				r.Problems = append(r.Problems, fmt.Sprintf("%s %d: %v", k.kind(), r.Counts[k.kind()], err))
			}
			if sound, ok := rec.(notebook.Recording); ok {
				hashes[sound.Hash] = true
			}
			return nil
		})
		if err != nil {
			return r, err
		}
	}
	for hash := range hashes {
		r.Recordings++
		if err := checkFile(filepath.Join(sounds, hash), hash); err != nil {
			r.Problems = append(r.Problems, fmt.Sprintf("recording %s: %v", hash[:12], err))
		}
	}
	r.Digest = hex.EncodeToString(sum.Sum(nil))
	return r, nil
}

// verifyEngine asks the database about itself.
func (s *Store) verifyEngine(ctx context.Context, db *sql.DB, r *Report) (err error) {
	var answer string
	if err := db.QueryRowContext(ctx, "PRAGMA integrity_check").Scan(&answer); err != nil {
		return translate(err, "the notebook's file cannot be checked")
	}
	if answer != "ok" {
		r.Problems = append(r.Problems, "the database is damaged: "+answer)
	}
	rows, err := db.QueryContext(ctx, "PRAGMA foreign_key_check")
	if err != nil {
		return translate(err, "the notebook's references cannot be checked")
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		r.Problems = append(r.Problems, "a record names another that is missing")
	}
	return rows.Err()
}

// checkFile holds a file's bytes against its hash.
func checkFile(path, hash string) (err error) {
	f, err := os.Open(path)
	if err != nil {
		return errors.New("its sound file is missing")
	}
	defer func() { err = joined(err, f.Close()) }()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return fmt.Errorf("its sound file cannot be read: %w", err)
	}
	if hex.EncodeToString(sum.Sum(nil)) != hash {
		return errors.New("its sound file has changed")
	}
	return nil
}
