package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"tautline/internal/store/pgtest"
	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// server is the PostgreSQL server of this package's tests, made by the first.
var server = sync.OnceValues(func() (*pgtest.Server, error) {
	s, err := pgtest.Start()
	started = s
	return s, err
})

var started *pgtest.Server

func stopServer() {
	if started == nil {
		return
	}
	if err := started.Stop(); err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
}

// club opens a notebook on a fresh PostgreSQL database.
func club(t testing.TB) (*Store, Options) {
	t.Helper()
	o := emptyDatabase(t)
	return openWith(t, t.TempDir(), o), o
}

// emptyDatabase makes a fresh PostgreSQL database.
func emptyDatabase(t testing.TB) Options {
	t.Helper()
	pg, err := server()
	if errors.Is(err, pgtest.ErrMissing) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	dsn, err := pg.Database(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return Options{Database: dsn}
}

func openWith(t testing.TB, dir string, o Options) *Store {
	t.Helper()
	s, err := Open(context.Background(), dir, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func TestContractOnPostgres(t *testing.T) {
	storetest.Run(t, func(t *testing.T) notebook.Store { s, _ := club(t); return s })
}

// T9, U21: a notebook moves between the engines and comes back, equal to the
// byte of the export.
func TestMovesBetweenEngines(t *testing.T) {
	a, _ := filled(t)
	first, ctx := exported(t, a), context.Background()
	b, _ := club(t)
	move(t, first, b)
	second := exported(t, b)
	if !bytes.Equal(first, second) {
		t.Errorf("to PostgreSQL: %d bytes became %d", len(first), len(second))
	}
	if r, err := b.Verify(ctx); err != nil || len(r.Problems) > 0 || r.Counts["reading"] != 2 {
		t.Errorf("verify: %+v, %v", r, err)
	}
	c := open(t, t.TempDir())
	move(t, second, c)
	if third := exported(t, c); !bytes.Equal(first, third) {
		t.Errorf("and back: %d bytes became %d", len(first), len(third))
	}
}

// move imports an export.
func move(t *testing.T, export []byte, to *Store) {
	t.Helper()
	dir := folder(t, unpack(t, export))
	if r, err := to.ImportPath(context.Background(), dir, ImportOptions{}); err != nil || !r.Done || len(r.Problems) > 0 {
		t.Fatalf("%+v, %v", r, err)
	}
}

// T8: a backup of a PostgreSQL notebook is a notebook folder that opens
// without a server and holds the same, while others go on writing.
func TestBackupOfPostgres(t *testing.T) {
	a, x := filled(t)
	b, o := club(t)
	move(t, exported(t, a), b)
	if _, _, err := b.Readings().Put(t.Context(), x.Person.ID, refused(x)); err == nil {
		t.Fatal("a reading of a set-up that is not there was stored") // leaves a gap in the row numbers
	}
	put := x.Reading
	put.ID = notebook.NewID()
	if _, _, err := b.Readings().Put(t.Context(), x.Person.ID, put); err != nil {
		t.Fatal(err)
	}
	looking, err := Look(t.Context(), b.Dir(), o)
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "copy")
	r, err := looking.Backup(t.Context(), to, BackupOptions{})
	if err != nil || r.Tables["readings"].Rows != 3 {
		t.Fatalf("backup: %+v, %v", r, err)
	}
	if err := looking.Close(); err != nil {
		t.Fatal(err)
	}
	if m, err := CheckBackup(t.Context(), to); err != nil || differ(m.Tables, r.Tables) != "" {
		t.Errorf("the backup does not prove itself: %v", err)
	}
	if have, want := exported(t, restored(t, to)), exported(t, b); !bytes.Equal(have, want) {
		t.Error("the backup opens with other records")
	}
}

// refused is a reading of a set-up that is not in the notebook.
func refused(x storetest.Sample) notebook.Reading {
	r := x.Reading
	r.ID, r.SetUp = notebook.NewID(), notebook.NewID()
	return r
}

func TestRefusalsOfPostgres(t *testing.T) {
	s, o := club(t)
	storetest.PutAll(t, s, storetest.New())
	if _, err := Open(t.Context(), t.TempDir(), o); notebook.CodeOf(err) != notebook.Busy {
		t.Errorf("a second program on the same database: %v", err)
	}
	for name, dsn := range map[string]string{"no address": "postgres://%zz", "no server": "host=/nowhere user=x dbname=y", "no database": strings.Replace(o.Database, "dbname=", "dbname=no_", 1)} {
		_, err := Open(t.Context(), t.TempDir(), Options{Database: dsn})
		var e *notebook.Error
		if !errors.As(err, &e) || e.Hint == "" || strings.Contains(e.Message, dsn) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := s.read.Exec("DELETE FROM readings"); err == nil {
		t.Error("the connections that read can delete")
	}
	looking, err := Look(t.Context(), s.Dir(), o)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := looking.Readings().Put(t.Context(), notebook.NewID(), storetest.New().Reading); notebook.CodeOf(err) == "" {
		t.Errorf("whoever only looks can write: %v", err)
	}
	if err := looking.Close(); err != nil {
		t.Error(err)
	}
}

// T1: what was acknowledged is there after the server was ended in the middle
// and started again.
func TestServerEndedInTheMiddle(t *testing.T) {
	s, o := club(t)
	x := storetest.New()
	storetest.PutAll(t, s, x)
	pg, err := server()
	if err != nil {
		t.Fatal(err)
	}
	var acked []notebook.ID
	for range 50 {
		r := x.Reading
		r.ID = notebook.NewID()
		if _, _, err := s.Readings().Put(t.Context(), x.Person.ID, r); err != nil {
			t.Fatal(err)
		}
		acked = append(acked, r.ID)
	}
	if err := pg.Kill(); err != nil {
		t.Fatal(err)
	}
	lost := x.Reading
	lost.ID = notebook.NewID()
	if _, _, err := s.Readings().Put(t.Context(), x.Person.ID, lost); err == nil {
		t.Error("a write to a server that is not there was acknowledged")
	}
	if err := pg.Restart(); err != nil {
		t.Fatal(err)
	}
	again, err := Look(t.Context(), s.Dir(), o)
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range acked {
		if _, err := again.Readings().Get(t.Context(), x.Person.ID, id); err != nil {
			t.Errorf("%s was acknowledged and is lost: %v", id, err)
		}
	}
	if err := again.Close(); err != nil {
		t.Error(err)
	}
	if _, outcome, err := s.Readings().Put(t.Context(), x.Person.ID, lost); err != nil || outcome != notebook.Created {
		t.Errorf("sent again after the server came back: %v, %v", outcome, err)
	}
}

// ASVS 13.3.1: the database's password comes out of a file that a secret store
// of the system hands to the service, and need not stand anywhere else.
func TestPasswordFromAFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "pgpass")
	fatal(t, os.WriteFile(file, []byte("db.example.org:5432:club:tautline:sealed by the system\n"), 0o600))
	t.Setenv("PGPASSFILE", file)
	t.Setenv("PGPASSWORD", "")
	p, err := parsePostgres("postgres://tautline@db.example.org/club?sslmode=verify-full")
	if err != nil || p.config.Password != "sealed by the system" {
		t.Errorf("the password is %q, %v", p.config.Password, err)
	}
}
