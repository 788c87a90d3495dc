package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"sync"
	"testing"

	"modernc.org/sqlite"
)

// errBroken is what a call of the database that is made to fail says.
var errBroken = errors.New("this call was made to fail")

// breaking lets the nth call of a database fail: a connection, a statement, a
// row, a beginning or a commit, which then is rolled back.
type breaking struct {
	mu       sync.Mutex
	n, calls int
	fired    bool
}

func (b *breaking) call() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.calls++
	if b.calls != b.n {
		return nil
	}
	b.fired = true
	return errBroken
}

// breaks puts pools in the place of a notebook's own whose nth call fails.
func breaks(t *testing.T, s *Store, n int) *breaking {
	t.Helper()
	b, path := &breaking{n: n}, s.engine.(lite).path
	for _, pool := range []struct {
		db **sql.DB
		as role
	}{{&s.write, writer}, {&s.read, reader}} {
		fatal(t, (*pool.db).Close())
		address, conns := sqliteAddress(path, pool.as)
		*pool.db = sql.OpenDB(breakingDriver{address, b})
		(*pool.db).SetMaxOpenConns(conns)
		(*pool.db).SetMaxIdleConns(conns)
	}
	return b
}

type breakingDriver struct {
	address string
	b       *breaking
}

func (d breakingDriver) Driver() driver.Driver { return new(sqlite.Driver) }

func (d breakingDriver) Connect(context.Context) (driver.Conn, error) {
	if err := d.b.call(); err != nil {
		return nil, err
	}
	c, err := d.Driver().Open(d.address)
	if err != nil {
		return nil, err
	}
	return breakingConn{c.(wholeConn), d.b}, nil
}

// wholeConn is what of a connection is used.
type wholeConn interface {
	driver.Conn
	driver.ConnBeginTx
	driver.ConnPrepareContext
	driver.ExecerContext
	driver.QueryerContext
	driver.SessionResetter
	driver.Validator
}

type breakingConn struct {
	wholeConn
	b *breaking
}

func (c breakingConn) BeginTx(ctx context.Context, o driver.TxOptions) (driver.Tx, error) {
	if err := c.b.call(); err != nil {
		return nil, err
	}
	tx, err := c.wholeConn.BeginTx(ctx, o)
	return breakingTx{tx, c.b}, err
}

func (c breakingConn) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	if err := c.b.call(); err != nil {
		return nil, err
	}
	return c.wholeConn.ExecContext(ctx, query, args)
}

func (c breakingConn) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	if err := c.b.call(); err != nil {
		return nil, err
	}
	rows, err := c.wholeConn.QueryContext(ctx, query, args)
	if err != nil {
		return nil, err
	}
	return breakingRows{rows, c.b}, nil
}

type breakingTx struct {
	driver.Tx
	b *breaking
}

func (t breakingTx) Commit() error {
	if err := t.b.call(); err != nil {
		return errors.Join(err, t.Rollback())
	}
	return t.Tx.Commit()
}

type breakingRows struct {
	driver.Rows
	b *breaking
}

func (r breakingRows) Next(to []driver.Value) error {
	if err := r.b.call(); err != nil {
		return err
	}
	return r.Rows.Next(to)
}
