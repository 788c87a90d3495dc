package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"tautline/notebook"
)

// errBroken is what a call of the database that is made to fail says.
var errBroken = errors.New("this call was made to fail")

// breaking lets the nth call of a database fail: a connection, a statement, a
// row, a beginning or a commit, which then is rolled back. Of n = 0 none fails.
type breaking struct {
	mu       sync.Mutex
	n, calls int
	stays    bool // all after it fail too
	fired    bool
	// patient counts the calls that goose makes again after a second; again says
	// that the one that failed was of those.
	patient, again bool
}

func (b *breaking) call() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	again := madeAgain()
	if again && !b.patient {
		return nil
	}
	b.calls++
	if b.calls != b.n && !(b.stays && b.fired) {
		return nil
	}
	b.fired, b.again = true, again
	return errBroken
}

// madeAgain says that goose looks for its own table, or makes it, which it
// tries four times.
func madeAgain() bool {
	at := make([]uintptr, 40)
	for frames := runtime.CallersFrames(at[:runtime.Callers(3, at)]); ; {
		f, more := frames.Next()
		if strings.Contains(f.Function, "tryEnsureVersionTable") || !more {
			return more
		}
	}
}

// at lets the nth call from now on fail, and those after it where it stays so.
func (b *breaking) at(n int, stays bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.n, b.calls, b.stays, b.fired, b.again = n, 0, stays, false, false
}

// breakable puts a driver whose calls can fail before that of every pool that is
// opened while the test runs.
func breakable(t *testing.T) *breaking {
	t.Helper()
	b, was := &breaking{}, through
	through = func(c driver.Connector) driver.Connector { return breakingConnector{c, b} }
	t.Cleanup(func() { through = was })
	return b
}

// breaks puts pools in the place of a notebook's own whose nth call fails.
func breaks(t *testing.T, s *Store, b *breaking, n int) {
	t.Helper()
	for _, pool := range []struct {
		db **sql.DB
		as role
	}{{&s.write, writer}, {&s.read, reader}} {
		fatal(t, (*pool.db).Close())
		db, err := s.engine.open(pool.as)
		fatal(t, err)
		*pool.db = db
	}
	b.at(n, false)
}

// foreign are words of an engine or the system.
var foreign = regexp.MustCompile(errBroken.Error() + `|too many open files|not a directory|is a directory|no such file|directory not empty|\(14\)|SQLITE|SQLSTATE|conn closed|: file exists`)

// told demands that a failure is told in our words, with what to try, and in
// none of the engine's.
func told(t *testing.T, what string, err error) {
	t.Helper()
	var ours *notebook.Error
	switch {
	case err == nil:
		t.Errorf("%s failed, and nothing was told", what)
	case !errors.As(err, &ours) || ours.Message == "" || ours.Hint == "" || foreign.MatchString(err.Error()):
		t.Errorf("%s failed, and told was: %v", what, err)
	}
}

type breakingConnector struct {
	driver.Connector
	b *breaking
}

func (d breakingConnector) Connect(ctx context.Context) (driver.Conn, error) {
	if err := d.b.call(); err != nil {
		return nil, err
	}
	c, err := d.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	if pg, ok := c.(*stdlib.Conn); ok {
		return breakingPostgres{breakingConn{pg, d.b}, pg}, nil
	}
	return breakingSQLite{breakingConn{c.(wholeConn), d.b}, c.(driver.Validator)}, nil
}

// wholeConn is what of a connection is used.
type wholeConn interface {
	driver.Conn
	driver.ConnBeginTx
	driver.ConnPrepareContext
	driver.ExecerContext
	driver.QueryerContext
	driver.SessionResetter
}

type breakingSQLite struct {
	breakingConn
	driver.Validator
}

type breakingPostgres struct {
	breakingConn
	driver.NamedValueChecker
}

// Conn is for what only pgx can do; where it is made to fail the server is gone.
func (c breakingPostgres) Conn() *pgx.Conn {
	conn := c.wholeConn.(*stdlib.Conn).Conn()
	if c.b.call() != nil {
		_ = conn.Close(context.Background())
	}
	return conn
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
