package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"slices"
)

// tables lists the tables but that of goose.
func (postgres) tables(ctx context.Context, from asker) ([]string, error) {
	out, err := allTables(ctx, from)
	return slices.DeleteFunc(out, func(name string) bool { return name == gooseTable }), err
}

// gooseTable holds which migrations were applied.
const gooseTable = "goose_db_version"

func allTables(ctx context.Context, from asker) ([]string, error) {
	return names(ctx, from, "SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = current_schema() ORDER BY tablename")
}

// copyBefore copies every table with its keys into a schema of its own, which
// going back puts in place of the present one.
func (postgres) copyBefore(ctx context.Context, s *Store, version int64) (kept string, err error) {
	const doing = "the copy before the update could not be made, so nothing was changed"
	name := fmt.Sprintf("%s%d_%s", pgBefore, version+1, s.now().UTC().Format(schemaTime))
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return "", translate(err, doing)
	}
	defer func() { err = joined(err, ignoreDone(tx.Rollback())) }()
	// of an update that failed within this second
	if _, err := tx.ExecContext(ctx, "DROP SCHEMA IF EXISTS "+name+" CASCADE"); err != nil {
		return "", translate(err, doing)
	}
	if err := copySchema(ctx, tx, name); err != nil {
		return "", translate(err, doing)
	}
	return "the schema " + name, translate(tx.Commit(), doing)
}

// pgBefore begins the name of a schema that holds what was before an update,
// schemaTime in UTC ends it.
const (
	pgBefore   = "before_version_"
	schemaTime = "20060102t150405z"
)

// copySchema copies every table of the current schema into a new one, with
// keys, indexes, numbering and references among the copies.
func copySchema(ctx context.Context, tx *sql.Tx, to string) error {
	tables, err := allTables(ctx, tx)
	if err != nil {
		return err
	}
	// before the path changes, so that the references are written without a schema
	references, err := names(ctx, tx, "SELECT format('ALTER TABLE %I ADD CONSTRAINT %I %s', r.relname, c.conname, pg_get_constraintdef(c.oid)) "+
		"FROM pg_constraint c JOIN pg_class r ON r.oid = c.conrelid JOIN pg_namespace n ON n.oid = r.relnamespace WHERE c.contype = 'f' AND n.nspname = current_schema() ORDER BY 1")
	if err != nil {
		return err
	}
	// pretty (true): named without a schema where the path finds them
	triggers, err := names(ctx, tx, "SELECT pg_get_triggerdef(t.oid, true) FROM pg_trigger t JOIN pg_class r ON r.oid = t.tgrelid JOIN pg_namespace n ON n.oid = r.relnamespace "+
		"WHERE NOT t.tgisinternal AND n.nspname = current_schema() ORDER BY t.tgname")
	if err != nil {
		return err
	}
	functions, err := names(ctx, tx, "SELECT replace(pg_get_functiondef(p.oid), 'FUNCTION ' || quote_ident(current_schema()) || '.', 'FUNCTION "+to+".') FROM pg_proc p WHERE "+ownFunctions)
	if err != nil {
		return err
	}
	numbering, err := names(ctx, tx, "SELECT format('SELECT setval(pg_get_serial_sequence(%L, %L), coalesce(max(%I), 1), max(%I) IS NOT NULL) FROM %I', '"+to+".' || table_name, column_name, column_name, column_name, table_name) "+
		"FROM information_schema.columns WHERE table_schema = current_schema() AND is_identity = 'YES' ORDER BY 1")
	if err != nil {
		return err
	}
	unsampled, err := names(ctx, tx, "SELECT format('ALTER TABLE %I.%I ALTER COLUMN %I SET STATISTICS 0', '"+to+"', table_name, column_name) "+
		"FROM information_schema.columns WHERE table_schema = current_schema() AND column_name IN "+saysWho)
	if err != nil {
		return err
	}
	steps := []string{"CREATE SCHEMA " + to}
	for _, t := range tables {
		steps = append(steps, "CREATE TABLE "+to+"."+t+" (LIKE "+t+" INCLUDING ALL)", "INSERT INTO "+to+"."+t+" OVERRIDING SYSTEM VALUE SELECT * FROM "+t)
	}
	steps = append(steps, unsampled...)
	steps = append(steps, numbering...)
	steps = append(steps, functions...)
	steps = append(steps, "SELECT set_config('tautline.path', current_setting('search_path'), true)", "SELECT set_config('search_path', '"+to+"', true)")
	steps = append(steps, references...)
	steps = append(steps, triggers...)
	return inTurn(ctx, tx, append(steps, "SELECT set_config('search_path', current_setting('tautline.path'), true)"))
}

// ownFunctions tells the schema's functions from those of extensions.
const ownFunctions = "p.pronamespace = (SELECT oid FROM pg_namespace WHERE nspname = current_schema()) AND NOT EXISTS (SELECT 1 FROM pg_depend d WHERE d.objid = p.oid AND d.deptype = 'e')"

// inTurn runs statements one after the other.
func inTurn(ctx context.Context, tx *sql.Tx, steps []string) error {
	for _, step := range steps {
		if _, err := tx.ExecContext(ctx, step); err != nil {
			return err
		}
	}
	return nil
}

// freeze writes every row of one state into a new SQLite file, in order, and
// sums the rows on their way. Indexes are made when all rows are in.
func (p postgres) freeze(ctx context.Context, s *Store, in *os.Root) (copied frozen, err error) {
	to, err := newFile(ctx, in, s)
	if err != nil {
		return copied, err
	}
	defer func() { err = errors.Join(err, to.write.Close(), syncFile(in, databaseName)) }()
	err = syncedMeanwhile(in, databaseName, func() (err error) {
		copied.tables, err = p.copyTables(ctx, s, to)
		return errors.Join(err, to.write.Close())
	})
	return copied, err
}

// copyTables copies every table of one state into a new file.
func (p postgres) copyTables(ctx context.Context, s, to *Store) (sums map[string]TableSum, err error) {
	from, err := s.read.BeginTx(ctx, p.snapshot())
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, ignoreDone(from.Rollback())) }()
	tables, err := p.tables(ctx, from)
	if err != nil {
		return nil, err
	}
	tx, err := to.write.BeginTx(ctx, nil)
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, ignoreDone(tx.Rollback())) }()
	again, err := withoutIndexes(ctx, tx)
	if err != nil {
		return nil, err
	}
	sums = map[string]TableSum{}
	for _, table := range to.inOrder(tables) {
		if sums[table], err = copyRows(ctx, from, tx, table); err != nil {
			return nil, translate(err, "the copy could not be made")
		}
	}
	if err := inTurn(ctx, tx, again); err != nil {
		return nil, err
	}
	return sums, tx.Commit()
}

// withoutIndexes takes the indexes away, and says how they are made again.
func withoutIndexes(ctx context.Context, tx *sql.Tx) (again []string, err error) {
	const of = " FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL ORDER BY name"
	again, err = names(ctx, tx, "SELECT sql"+of)
	if err != nil {
		return nil, err
	}
	drop, err := names(ctx, tx, "SELECT 'DROP INDEX ' || name"+of)
	if err != nil {
		return nil, err
	}
	return again, inTurn(ctx, tx, drop)
}

// newFile makes a SQLite file of the present version in a folder, one file
// without a journal beside it.
func newFile(ctx context.Context, in *os.Root, like *Store) (*Store, error) {
	f, err := in.OpenFile(databaseName, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, fileError(err)
	}
	if err := f.Close(); err != nil {
		return nil, fileError(err)
	}
	path := pathIn(in, databaseName)
	db, err := openSQLite(path, plain)
	if err != nil {
		return nil, err
	}
	s := &Store{dir: in.Name(), engine: lite{path}, write: db, now: like.now, program: like.program}
	s.tables()
	if err := s.migrate(ctx, migrations); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	// a file that is not whole is thrown away: nothing has to survive a cut before its end
	pages := "PRAGMA cache_size = -65536" // kB
	if isUnhurried(ctx) {
		pages = "PRAGMA cache_size = -8192"
	}
	if _, err := db.ExecContext(ctx, "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; "+pages); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return s, nil
}
