package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"tautline/notebook"
)

// restorePostgres fills the database from a backup in one transaction: either
// all of it is there afterwards, proved, or nothing was changed.
func (p placing) restorePostgres(ctx context.Context, backup *os.Root, r *Restored) (err error) {
	before, err := p.staged(ctx, backup, r)
	if err != nil {
		return err
	}
	// brought up to date in a folder of its own, whatever version it is of
	const room = "restoring"
	copies := p.files.copies
	defer func() { err = errors.Join(err, copies.RemoveAll(room)) }()
	if err := fileError(errors.Join(copies.RemoveAll(room), copies.Mkdir(room, 0o700))); err != nil {
		return err
	}
	if err := fileError(p.files.moveToCopy(stagedName, room, databaseName)); err != nil {
		return err
	}
	from, err := Open(ctx, pathIn(copies, room), Options{Now: p.now})
	if err != nil {
		return err
	}
	defer func() { err = joined(err, from.Close()) }()
	if before.tables == nil {
		if before.tables, err = tableSums(ctx, lite{}, from.read); err != nil {
			return err
		}
	}
	if err := p.refill(ctx, from, before.tables); err != nil {
		return translate(err, "the database could not be filled; nothing was changed")
	}
	if err := takeOn(p.files.own, r.Manifest.Notebook); err != nil {
		return err
	}
	return p.compare(ctx, before, r)
}

// refill puts another notebook's rows in the place of all of this one's, and
// holds what is there then against its sums.
func (p placing) refill(ctx context.Context, from *Store, sums map[string]TableSum) (err error) {
	conn, err := p.write.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, conn.Close()) }()
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, ignoreDone(tx.Rollback())) }()
	order := p.inOrder(slices.Sorted(maps.Keys(sums)))
	// the log of who did what only grows, but here its past takes its place
	if err := each(ctx, tx, "ALTER TABLE %s DISABLE TRIGGER USER", order); err != nil {
		return err
	}
	again, err := withoutKeys(ctx, tx)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "TRUNCATE "+strings.Join(order, ", ")+" RESTART IDENTITY"); err != nil {
		return err
	}
	for _, table := range order {
		if err := fillTable(ctx, conn, from, table); err != nil {
			return err
		}
	}
	if err := inTurn(ctx, tx, again); err != nil {
		return err
	}
	if err := each(ctx, tx, "ALTER TABLE %s ENABLE TRIGGER USER", order); err != nil {
		return err
	}
	have, err := tableSums(ctx, p.engine, tx)
	if err != nil {
		return err
	}
	if table := differ(sums, have); table != "" {
		return &notebook.Error{Code: notebook.Damaged, Message: "the database does not hold what the backup holds in " + table + "; nothing was changed", Hint: "try again; if it stays, look at the database server"}
	}
	return tx.Commit()
}

// withoutKeys takes away the indexes and the references between tables, which
// are made faster of all rows at once, and says how they are made again.
func withoutKeys(ctx context.Context, tx *sql.Tx) (again []string, err error) {
	const (
		references = " FROM pg_constraint c JOIN pg_class r ON r.oid = c.conrelid WHERE c.contype = 'f' AND r.relnamespace = current_schema()::regnamespace ORDER BY c.conname"
		indexes    = " FROM pg_index i JOIN pg_class r ON r.oid = i.indexrelid WHERE r.relnamespace = current_schema()::regnamespace AND NOT EXISTS (SELECT 1 FROM pg_constraint c WHERE c.conindid = i.indexrelid) ORDER BY r.relname"
	)
	var drop []string
	for _, ask := range []struct {
		query string
		into  *[]string
	}{
		{"SELECT format('ALTER TABLE %I DROP CONSTRAINT %I', r.relname, c.conname)" + references, &drop},
		{"SELECT format('DROP INDEX %I', r.relname)" + indexes, &drop},
		{"SELECT pg_get_indexdef(i.indexrelid)" + indexes, &again},
		{"SELECT format('ALTER TABLE %I ADD CONSTRAINT %I %s', r.relname, c.conname, pg_get_constraintdef(c.oid))" + references, &again},
	} {
		found, err := names(ctx, tx, ask.query)
		if err != nil {
			return nil, err
		}
		*ask.into = append(*ask.into, found...)
	}
	return again, inTurn(ctx, tx, drop)
}

// each runs a statement for every table.
func each(ctx context.Context, tx *sql.Tx, statement string, tables []string) error {
	for _, t := range tables {
		if _, err := tx.ExecContext(ctx, fmt.Sprintf(statement, t)); err != nil {
			return err
		}
	}
	return nil
}

// fillTable copies a table's rows in by PostgreSQL's COPY.
func fillTable(ctx context.Context, to *sql.Conn, from *Store, table string) (err error) {
	columns, numbered, err := columnsOf(ctx, from.read, table)
	if err != nil {
		return err
	}
	rows, err := from.read.QueryContext(ctx, selectRows(table, columns, numbered))
	if err != nil {
		return err
	}
	defer func() { err = joined(err, rows.Close()) }()
	return to.Raw(func(driver any) error {
		conn, ok := driver.(interface{ Conn() *pgx.Conn }) // as *stdlib.Conn has it
		if !ok {
			return errors.New("store: not a PostgreSQL connection")
		}
		_, err := conn.Conn().CopyFrom(ctx, pgx.Identifier{table}, columns, pgx.CopyFromFunc(func() ([]any, error) {
			if !rows.Next() {
				return nil, rows.Err()
			}
			cells, into := make([]any, len(columns)), make([]any, len(columns))
			for i := range cells {
				into[i] = &cells[i]
			}
			return cells, rows.Scan(into...)
		}))
		return err
	})
}
