package store

import (
	"context"
	"database/sql"
	"io/fs"
	"os"

	"github.com/pressly/goose/v3"
)

// frozen is what a state was as it was read, to hold its copy against: the
// copy's bytes, where they are the state's own, or else every table's rows.
type frozen struct {
	file   FileSum
	tables map[string]TableSum
}

// engine is what SQLite and PostgreSQL do differently. All other SQL is one
// text for both; translate tells their errors apart.
type engine interface {
	// open opens a pool for a role.
	open(role) (*sql.DB, error)
	// assert refuses an engine or settings that could lose what was acknowledged.
	assert(context.Context, *sql.DB) error
	// dialect and migrations are for goose.
	dialect() goose.Dialect
	migrations(fs.FS) fs.FS
	// copyBefore keeps the database as it is at a version before it is brought
	// up to date, and says where.
	copyBefore(ctx context.Context, s *Store, version int64) (string, error)
	// snapshot is a transaction that reads one state, whoever writes meanwhile.
	snapshot() *sql.TxOptions
	// examine asks the database about itself.
	examine(context.Context, *sql.DB, *Report) error
	// overwrite leaves no byte of what was deleted in the database's files.
	overwrite(context.Context, *Store) error
	// freeze writes one state of the database, whoever writes meanwhile, to a
	// new SQLite file in a folder, and says by what the file can be proved to be
	// that state.
	freeze(ctx context.Context, s *Store, to *os.Root) (frozen, error)
	// tables lists the database's own tables.
	tables(context.Context, asker) ([]string, error)
}
