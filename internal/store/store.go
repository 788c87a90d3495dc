// Package store keeps a notebook in SQLite or PostgreSQL: the contract of
// package notebook on database/sql, one SQL text. sqlite.go and postgres.go
// hold what is particular to an engine.
//
// What Put has acknowledged is on the disk (SQLite: WAL with synchronous=FULL;
// PostgreSQL: fsync and synchronous_commit; asserted at start). One connection
// writes; a second program on the same notebook is told that it is open.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"tautline/notebook"
)

// Names inside the notebook's folder.
const (
	databaseName  = "notebook.db"
	recordingsDir = "recordings"
	copiesDir     = "copies"
)

// Store is an open notebook.
type Store struct {
	dir    string
	files  folders
	engine engine
	write  *sql.DB // one connection, BEGIN IMMEDIATE
	read   *sql.DB
	lock   *lock
	now    func() time.Time
	// program is this program's version, for copies that say who made them.
	program string
	apart   []notebook.ID
	reserve reserve
	undone  error                          // see Undone
	parting sync.Mutex                     // held while somebody is erased, or an erasing is gone on with
	broken  atomic.Pointer[notebook.Error] // why nothing is written any more

	people      table[notebook.Person]
	bows        table[notebook.Bow]
	setups      table[notebook.SetUp]
	sessions    table[notebook.Session]
	recordings  table[notebook.Recording]
	readings    table[notebook.Reading]
	trials      table[notebook.Trial]
	events      table[notebook.TrialEvent]
	verdicts    table[notebook.Verdict]
	ends        table[notebook.End]
	onsets      table[notebook.Onsets]
	fits        table[notebook.Fit]
	forecasts   table[notebook.Forecast]
	rulings     table[notebook.Ruling]
	shares      table[notebook.Share]
	retractions table[notebook.Retraction]
	blobs       blobs
}

var _ notebook.Store = (*Store)(nil)

// Options says how a notebook is opened. The zero value is right for use.
type Options struct {
	// Now gives the server's time; default time.Now.
	Now func() time.Time
	// Database is the address of a PostgreSQL database, postgres://…; empty
	// for a SQLite file in the folder. Recordings are in the folder either way.
	Database string
	// AnyVersion lets Look read what a newer program wrote.
	AnyVersion bool
	// Program is this program's version, written into backups.
	Program string
	// Apart are bows that are left out of exports: the invented ones of the
	// demo, where they stand beside somebody's own.
	Apart []notebook.ID
}

// engine gives the engine that keeps the notebook of a folder.
func (o Options) engine(dir string) (engine, error) {
	if o.Database == "" {
		return lite{filepath.Join(dir, databaseName)}, nil
	}
	return parsePostgres(o.Database)
}

// DefaultDir is where a person's notebook lives unless they say otherwise.
func DefaultDir() (string, error) {
	if base := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(base) {
		return filepath.Join(base, "tautline"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", fmt.Errorf("no home folder to keep the notebook in; name one with --data: %w", err)
	}
	return filepath.Join(dataHome(home), "tautline"), nil
}

// Open opens the notebook in a folder, making it if there is none, and brings
// an older one up to date after copying it.
func Open(ctx context.Context, dir string, o Options) (*Store, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	engine, err := o.engine(dir)
	if err != nil {
		return nil, err
	}
	if IsBackup(dir) {
		return nil, &notebook.Error{Code: notebook.Invalid, Field: "data", Message: dir + " is a backup; working in it would make it worthless as one", Hint: "restore it elsewhere: tautline restore " + dir + " --data NEW; or look into it: tautline serve --read-only --data " + dir}
	}
	files, err := makeFolders(dir, engine)
	if err != nil {
		return nil, err
	}
	held, err := acquire(files.own)
	if err != nil {
		return nil, errors.Join(err, files.close())
	}
	if err := files.finishPlacing(); err != nil {
		return nil, errors.Join(err, held.release(false), files.close())
	}
	s := &Store{dir: dir, files: files, engine: engine, lock: held, now: o.Now, program: o.Program, apart: o.Apart}
	if err := s.open(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func (s *Store) open(ctx context.Context) (err error) {
	if s.write, err = s.engine.open(writer); err != nil {
		return err
	}
	if err = s.engine.assert(ctx, s.write); err != nil {
		return err
	}
	if err = s.checkAfterCrash(ctx); err != nil {
		return err
	}
	if err = s.migrate(ctx, migrations); err != nil {
		return err
	}
	if server, ok := s.engine.(postgres); ok {
		if err = server.keepOutOfStatistics(ctx, s.write); err != nil {
			return translate(err, "the server's statistics could not be set")
		}
	}
	if s.read, err = s.engine.open(reader); err != nil {
		return err
	}
	// The journal's name must last too: SQLite flushes it before the first
	// commit, and does not look whether that worked (unixSync in os_unix.c).
	if err = syncFolder(s.files.own, "."); err != nil {
		return fileError(err)
	}
	s.tables()
	s.blobs = blobs{store: s, files: s.files.sounds}
	if err := s.sweepLeaving(); err != nil {
		return fileError(err)
	}
	erasing := s.resumeErasing(ctx, true)
	_, copies := s.dropCopies(ctx)
	s.undone = errors.Join(erasing, copies, s.blobs.sweep(ctx, sweptAfter))
	s.hold()
	return nil
}

// sweptAfter is how long a sound file waits for the record that names it, or
// for the rest of it.
const sweptAfter = 24 * time.Hour

// checkAfterCrash looks through the database when the program before this one
// did not close it: writing goes on only on a file that is whole.
func (s *Store) checkAfterCrash(ctx context.Context) error {
	if _, ok := s.engine.(lite); !ok || s.lock.left == "" {
		s.lock.unchecked = false // a PostgreSQL server recovers by itself
		return nil
	}
	var answer string
	if err := s.write.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&answer); err != nil {
		return translate(err, "the notebook could not be checked")
	}
	if answer != "ok" {
		return &notebook.Error{Code: notebook.Damaged, Message: "the notebook's file is damaged", Hint: "keep it, and restore the last backup", Cause: errors.New(answer)}
	}
	// A commit that a kill fell into may be in the journal and not yet flushed.
	// It is seen from now on, and answered as kept when it is sent again: so it
	// is flushed first, which a checkpoint begins with (sqlite.org/wal.html).
	var busy, pages, moved int
	if err := s.write.QueryRowContext(ctx, "PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &pages, &moved); err != nil {
		return translate(err, "the notebook could not be flushed")
	}
	s.lock.unchecked = false
	return nil
}

// Undone is what a start could not remove of what was erased, of old copies and
// of files that no record names, or nil; the next start tries again.
func (s *Store) Undone() error { return s.undone }

// Dir is the notebook's folder.
func (s *Store) Dir() string { return s.dir }

// Close lets go of the notebook.
func (s *Store) Close() error {
	var errs []error
	for _, db := range []*sql.DB{s.read, s.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	closed := errors.Join(errs...)
	return errors.Join(closed, s.lock.release(closed == nil && s.Writable() == nil), s.files.close())
}

// Writable is nil, or why nothing is written any more.
func (s *Store) Writable() error {
	if e := s.broken.Load(); e != nil {
		return e
	}
	return nil
}

// People keeps the persons.
func (s *Store) People() notebook.Records[notebook.Person] { return &s.people }

// Bows keeps the bows.
func (s *Store) Bows() notebook.Records[notebook.Bow] { return &s.bows }

// SetUps keeps the set-ups.
func (s *Store) SetUps() notebook.Records[notebook.SetUp] { return &s.setups }

// Sessions keeps the sessions.
func (s *Store) Sessions() notebook.Records[notebook.Session] { return &s.sessions }

// Recordings keeps what is known of the sound files.
func (s *Store) Recordings() notebook.Records[notebook.Recording] { return &s.recordings }

// Readings keeps the readings.
func (s *Store) Readings() notebook.Records[notebook.Reading] { return &s.readings }

// Trials keeps the trials.
func (s *Store) Trials() notebook.Records[notebook.Trial] { return &s.trials }

// Events keeps what happened to the trials.
func (s *Store) Events() notebook.Records[notebook.TrialEvent] { return &s.events }

// Verdicts keeps the verdicts.
func (s *Store) Verdicts() notebook.Records[notebook.Verdict] { return &s.verdicts }

// Ends keeps the arrows on the face.
func (s *Store) Ends() notebook.Records[notebook.End] { return &s.ends }

// Onsets keeps the shots of recordings as corrected by hand.
func (s *Store) Onsets() notebook.Records[notebook.Onsets] { return &s.onsets }

// Fits keeps the fitted models.
func (s *Store) Fits() notebook.Records[notebook.Fit] { return &s.fits }

// Forecasts keeps the sealed predictions.
func (s *Store) Forecasts() notebook.Records[notebook.Forecast] { return &s.forecasts }

// Rulings keeps people's words on what still counts.
func (s *Store) Rulings() notebook.Records[notebook.Ruling] { return &s.rulings }

// Shares keeps who may see or work on whose bows.
func (s *Store) Shares() notebook.Records[notebook.Share] { return &s.shares }

// Retractions keeps what was taken out of sight.
func (s *Store) Retractions() notebook.Records[notebook.Retraction] { return &s.retractions }

// Blobs keeps the sound files.
func (s *Store) Blobs() notebook.Blobs { return s.blobs }
