package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"time"

	"tautline/notebook"
)

// GoBack puts the database as it was before the last update in the place of
// the present one, so that the program of that time works on it again. What was
// written since is kept in the folder copies. The copy is checked first; a
// damaged one changes nothing.
func GoBack(ctx context.Context, dir string, o Options) (r Restored, err error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Database == "" && !Exists(dir) && !unfinishedPlacing(dir) {
		return r, &notebook.Error{Code: notebook.NotFound, Field: "data", Message: "there is no notebook in " + dir, Hint: "check the name; tautline where prints the usual folder"}
	}
	p, err := prepare(dir, o)
	if err != nil {
		return r, err
	}
	defer func() { err = p.end(err, r) }()
	if e, ok := p.engine.(postgres); ok {
		return p.goBackPostgres(ctx, e)
	}
	if r.From, r.Manifest, err = p.before(ctx); err != nil {
		return r, err
	}
	from, err := p.files.copies.OpenRoot(filepath.Base(r.From))
	if err != nil {
		return r, fileError(err)
	}
	defer func() { err = joined(err, from.Close()) }()
	if err := r.Manifest.checkDatabase(ctx, from); err != nil {
		return r, err
	}
	if err := p.keep(ctx, &r, "before-going-back"); err != nil {
		return r, err
	}
	if err := p.stage(ctx, from, goingBack, &r); err != nil {
		return r, err
	}
	return r, p.swap(r)
}

func nothingBefore() error {
	return &notebook.Error{Code: notebook.NotFound, Message: "no copy from before an update is here", Hint: "restore a backup instead: tautline restore lists them"}
}

// before finds the newest copy of an older version than the present one.
func (p placing) before(ctx context.Context) (string, Manifest, error) {
	db, err := openSQLite(pathIn(p.files.own, databaseName), reader)
	if err != nil {
		return "", Manifest{}, err
	}
	have, err := schemaVersion(ctx, db)
	if err = errors.Join(err, db.Close()); err != nil {
		return "", Manifest{}, err
	}
	copies, err := fs.Glob(p.files.copies.FS(), "before-version-*")
	if err != nil {
		return "", Manifest{}, err
	}
	var found Manifest
	from := ""
	for _, name := range copies {
		m, err := manifestIn(p.files.copies, name)
		if isAny(err, errsOpen) {
			return "", Manifest{}, err // it may be the newest
		}
		if err == nil && m.Version < have && m.Made.After(found.Made) {
			from, found = pathIn(p.files.copies, name), m
		}
	}
	if from == "" {
		return "", found, nothingBefore()
	}
	return from, found, nil
}

// goBackPostgres exchanges the schemas in one transaction: the present tables
// go into a schema of their own, those from before take their place.
func (p placing) goBackPostgres(ctx context.Context, e postgres) (r Restored, err error) {
	db, err := e.open(writer)
	if err != nil {
		return r, err
	}
	defer func() { err = joined(err, db.Close()) }()
	if err := e.assert(ctx, db); err != nil {
		return r, err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return r, translate(err, "the database cannot be reached")
	}
	defer func() { err = joined(err, ignoreDone(tx.Rollback())) }()
	if err := e.mustOwn(ctx, tx, "going back"); err != nil {
		return r, err
	}
	roles, err := e.serving(ctx, tx)
	if err != nil {
		return r, err
	}
	if r.From, err = lastBefore(ctx, tx); err != nil {
		return r, err
	}
	r.Kept = "after_" + r.From[len("before_"):] + "_left_" + p.now().UTC().Format(schemaTime)
	if err := exchange(ctx, tx, r.From, r.Kept); err != nil {
		return r, translate(err, "the tables from before could not be put back; nothing was changed")
	}
	if err := letServeAgain(ctx, tx, roles); err != nil {
		return r, translate(err, "the role that serves the notebook could not be let in again; nothing was changed")
	}
	tables, err := e.tables(ctx, tx)
	if err != nil {
		return r, err
	}
	if r.LoggedIn, err = dropAccess(ctx, tx, tables); err != nil {
		return r, err
	}
	r.Manifest.Made, _ = time.Parse(schemaTime, r.From[max(0, len(r.From)-len(schemaTime)):]) // the zero time is told as such
	if err := p.log(ctx, tx, tables, goingBack, &r); err != nil {
		return r, err
	}
	r.Kept, r.Whole = "the schema "+r.Kept, true
	r.From = "the schema " + r.From
	if r.Manifest.Version, err = schemaVersion(ctx, tx); err != nil {
		return r, err
	}
	return r, translate(tx.Commit(), "the tables from before could not be put back; nothing was changed")
}

// lastBefore names the newest schema with what was before an update.
func lastBefore(ctx context.Context, tx *sql.Tx) (string, error) {
	found, err := names(ctx, tx, "SELECT nspname FROM pg_namespace WHERE nspname LIKE '"+`before\_version\_%`+"'")
	if err != nil || len(found) == 0 {
		return "", joined(err, nothingBefore())
	}
	stamp := func(name string) string { return name[max(0, len(name)-len(schemaTime)):] }
	return slices.MaxFunc(found, func(a, b string) int {
		if stamp(a) < stamp(b) {
			return -1
		}
		return 1
	}), nil
}

// exchange moves the present tables into a new schema and those of another
// into their place, and removes that one.
func exchange(ctx context.Context, tx *sql.Tx, from, kept string) error {
	now, err := allTables(ctx, tx)
	if err != nil {
		return err
	}
	then, err := names(ctx, tx, "SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = '"+from+"'")
	if err != nil {
		return err
	}
	if !slices.Contains(then, gooseTable) {
		return fmt.Errorf("store: the schema %s holds no notebook", from)
	}
	place, err := names(ctx, tx, "SELECT quote_ident(current_schema())")
	if err != nil {
		return err
	}
	const moved = "SELECT format('ALTER FUNCTION %s SET SCHEMA %I', p.oid::regprocedure, "
	functions, err := names(ctx, tx, moved+"'"+kept+"') FROM pg_proc p WHERE "+ownFunctions)
	if err != nil {
		return err
	}
	back, err := names(ctx, tx, moved+"current_schema()) FROM pg_proc p WHERE p.pronamespace = (SELECT oid FROM pg_namespace WHERE nspname = '"+from+"')")
	if err != nil {
		return err
	}
	steps := []string{"CREATE SCHEMA " + kept}
	for _, t := range now {
		steps = append(steps, "ALTER TABLE "+t+" SET SCHEMA "+kept)
	}
	steps = append(steps, functions...)
	steps = append(steps, back...)
	for _, t := range then {
		steps = append(steps, "ALTER TABLE "+from+"."+t+" SET SCHEMA "+place[0])
	}
	return inTurn(ctx, tx, append(steps, "DROP SCHEMA "+from))
}
