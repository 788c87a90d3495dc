package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgconn"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// roles are a database as the club's manual sets it up: the tables belong to a
// role that nobody logs in as, another serves. For what only the owner can do
// the serving one is made a member for once, and takes the owner's part by
// role= in the address.
type roles struct {
	super, owner, lesser Options
	daily                string // the role that serves
}

func twoRoles(t *testing.T, name string) roles {
	t.Helper()
	super := emptyDatabase(t)
	r := roles{super: super, owner: super, lesser: super, daily: name}
	r.lesser.Database = strings.Replace(super.Database, "user=tautline", "user="+name, 1)
	r.owner.Database = r.lesser.Database + " role=" + name + "_owner"
	r.as(t, "CREATE ROLE "+name+"_owner")
	r.as(t, "CREATE ROLE "+name+" LOGIN")
	_, database, _ := strings.Cut(super.Database, "dbname=")
	r.as(t, "ALTER DATABASE "+database+" OWNER TO "+name+"_owner")
	t.Cleanup(func() {
		r.as(t, "ALTER DATABASE "+database+" OWNER TO tautline")
		dropRole(t, super.Database, name)
		dropRole(t, super.Database, name+"_owner")
	})
	return r
}

// as runs a statement as the server's administrator.
func (r roles) as(t *testing.T, statement string) {
	t.Helper()
	db, err := sql.Open("pgx", r.super.Database)
	fatal(t, err)
	_, err = db.ExecContext(context.Background(), statement)
	fatal(t, errors.Join(err, db.Close()))
}

// byOwner does something while the serving role is a member of the owner.
func (r roles) byOwner(t *testing.T, do func(o Options)) {
	t.Helper()
	r.as(t, "GRANT "+r.daily+"_owner TO "+r.daily)
	defer r.as(t, "REVOKE "+r.daily+"_owner FROM "+r.daily)
	do(r.owner)
}

// served makes the tables as their owner and lets the lesser role serve them.
func (r roles) served(t *testing.T) {
	t.Helper()
	r.byOwner(t, func(o Options) {
		s, err := Open(t.Context(), t.TempDir(), o)
		fatal(t, err)
		fatal(t, errors.Join(s.ServeAs(t.Context(), r.daily), s.Close()))
	})
}

// withMembers opens a served notebook as the lesser role, at a time that can be
// put on, and lets people in.
func (r roles) withMembers(t *testing.T, now *time.Time) (Options, *Store, small) {
	t.Helper()
	r.served(t)
	lesser := r.lesser
	lesser.Now = func() time.Time { return *now }
	s, err := Open(t.Context(), t.TempDir(), lesser)
	fatal(t, err)
	return lesser, s, newSmall(t, s)
}

// sampled makes the database one whose server has kept samples of what people
// wrote, as an older program let it.
func (r roles) sampled(t *testing.T) {
	t.Helper()
	r.as(t, "ALTER TABLE people ALTER COLUMN body SET STATISTICS -1")
	r.as(t, "ANALYZE people")
	if !r.samplesName(t) {
		t.Fatal("nothing was sampled")
	}
}

// samplesName looks for the name in the files of the server's samples.
func (r roles) samplesName(t *testing.T) bool {
	t.Helper()
	r.as(t, "CHECKPOINT")
	db, err := sql.Open("pgx", r.super.Database)
	fatal(t, err)
	defer db.Close()
	files, err := names(t.Context(), db, "SELECT pg_relation_filepath(oid) FROM pg_class WHERE oid = 'pg_statistic'::regclass OR oid = (SELECT reltoastrelid FROM pg_class WHERE oid = 'pg_statistic'::regclass)")
	fatal(t, err)
	found := false
	for _, file := range files {
		raw, err := os.ReadFile(filepath.Join(started.Data(), file))
		fatal(t, err)
		found = found || bytes.Contains(raw, []byte(leaver))
	}
	return found
}

// copiedBefore makes a copy as an update does, as the owner.
func (r roles) copiedBefore(t *testing.T, at time.Time) {
	t.Helper()
	r.byOwner(t, func(o Options) {
		o.Now = func() time.Time { return at }
		s, err := Open(t.Context(), t.TempDir(), o)
		fatal(t, err)
		_, err = s.engine.copyBefore(t.Context(), s, newest())
		fatal(t, errors.Join(err, s.Close()))
	})
}

// T27: where an owner makes the tables, and the copies before an update, and a
// lesser role serves, a person who is erased is gone from the copies too, and
// the backups that follow find nothing left to do.
func TestErasingAfterAnUpdateUnderTheLesserRole(t *testing.T) {
	r, ctx := twoRoles(t, "eraser"), t.Context()
	now := time.Now()
	lesser, s, c := r.withMembers(t, &now)
	dir := s.Dir()
	fatal(t, s.Close())
	r.sampled(t)
	r.served(t)
	if r.samplesName(t) {
		t.Error("the samples from before are still in the catalogue's file")
	}
	r.copiedBefore(t, now)
	r.as(t, "ANALYZE")             // as the server does by itself in time
	now = now.Add(2 * time.Second) // names of schemas hold seconds
	s, err := Open(ctx, dir, lesser)
	fatal(t, err)
	if found, err := s.putAside(ctx); err != nil || len(found) != 1 {
		t.Fatalf("%+v, %v", found, err)
	}
	if done, err := s.Erase(ctx, c.ida.Person.ID); err != nil || done.Copies != 1 {
		t.Errorf("%+v, %v", done, err)
	}
	in := filepath.Join(dir, "backups")
	if _, err := s.AutoBackup(ctx, in, "daily"); err != nil {
		t.Errorf("the backup after it: %v", err)
	}
	if found, err := s.putAside(ctx); err != nil || len(found) != 0 {
		t.Errorf("%+v, %v", found, err)
	}
	fatal(t, s.Close())
	c.s = openWith(t, dir, r.super) // who may call for a checkpoint
	if found := holding(t, c); found != nil {
		t.Errorf("the name is still in %v", found)
	}
}

// Served by grants of an older program, which lent less: the copy stays for
// once, and is told of; all else is done, the backup is there, and once the
// owner has let the role in anew the next one removes the copy.
func TestCopyThatCannotGoHoldsNothingElseUp(t *testing.T) {
	r, ctx := twoRoles(t, "older_daily"), t.Context()
	now := time.Now()
	lesser, s, c := r.withMembers(t, &now)
	dir, in := s.Dir(), filepath.Join(s.Dir(), "backups")
	_, err := s.AutoBackup(ctx, in, "daily") // holds the name
	fatal(t, err)
	fatal(t, s.Close())
	r.copiedBefore(t, now)
	r.as(t, "DROP FUNCTION drop_copy(text)")
	now = now.Add(2 * time.Second)
	s, err = Open(ctx, dir, lesser)
	fatal(t, err)
	place := func() (node int) {
		fatal(t, s.read.QueryRow("SELECT pg_relation_filenode('readings')").Scan(&node))
		return node
	}
	before := place()
	done, err := s.Erase(ctx, c.ida.Person.ID)
	var told *notebook.Error
	if !errors.As(err, &told) || told.Code != notebook.Unavailable || !strings.Contains(told.Message, "before_version_") || !strings.Contains(told.Hint, "--serve-as") {
		t.Errorf("not told of the copy: %v", err)
	}
	if done.Removed[notebook.BowNoun] != 1 || place() == before {
		t.Errorf("erased %v, and the tables written anew: %v", done.Removed, place() != before)
	}
	now = now.Add(91 * 24 * time.Hour)
	m, err := s.AutoBackup(ctx, in, "daily")
	if all, _, bad := Backups(in, s.dir, Options{}); bad != nil || err == nil || m.Made.IsZero() || len(all) != 1 || !all[0].Manifest.Made.Equal(m.Made) {
		t.Errorf("91 days after: %+v, %v; %d backups", m, err, len(all))
	}
	k := Keeper{Store: s, In: in}
	if k.try(ctx); !k.Standing().Last.Equal(now.UTC().Truncate(time.Second)) || k.Standing().Failed == nil {
		t.Errorf("a backup that is there does not count: %+v", k.Standing())
	}
	fatal(t, s.Close())
	r.served(t)
	s, err = Open(ctx, dir, lesser)
	fatal(t, err)
	if _, err := s.AutoBackup(ctx, in, "daily"); err != nil {
		t.Errorf("once the role was let in anew: %v", err)
	}
	fatal(t, s.Close())
}

// What is lent to the lesser role does what it is lent for and nothing else:
// no schema but a copy goes, and tables of its own making that bear names of
// the catalogue move nobody (PostgreSQL's manual, CREATE FUNCTION, "Writing
// SECURITY DEFINER Functions Safely").
func TestWhatIsLentDoesNothingElse(t *testing.T) {
	r, ctx := twoRoles(t, "borrower"), t.Context()
	r.served(t)
	r.as(t, "CREATE SCHEMA before_version_old AUTHORIZATION borrower_owner")
	r.as(t, "CREATE SCHEMA keep_before_version_7_20260102t150405z AUTHORIZATION borrower_owner")
	db, err := sql.Open("pgx", r.lesser.Database)
	fatal(t, err)
	defer db.Close()
	db.SetMaxOpenConns(1) // temporary tables are one connection's
	for _, name := range []any{"public", "pg_catalog", "before_version_old", "keep_before_version_7_20260102t150405z", `before_version_7_20260102t150405z" CASCADE; DROP SCHEMA public`, "before_version_7_20260102t150405z\npublic", nil} {
		var p *pgconn.PgError
		if _, err := db.ExecContext(ctx, "SELECT drop_copy($1)", name); !errors.As(err, &p) || p.Code != "42501" {
			t.Errorf("%v: %v", name, err)
		}
	}
	for _, statement := range []string{"CREATE TEMP TABLE pg_class (oid oid, relname name, relnamespace oid)", "CREATE TEMP TABLE pg_index (indrelid oid, indexrelid oid, indisprimary bool)"} {
		_, err := db.ExecContext(ctx, statement)
		fatal(t, err)
	}
	place := func() (node int) {
		fatal(t, db.QueryRowContext(ctx, "SELECT pg_relation_filenode('readings')").Scan(&node))
		return node
	}
	before := place()
	if _, err := db.ExecContext(ctx, "SELECT write_tables_anew()"); err != nil || place() == before {
		t.Errorf("empty tables of the role's own passed for the catalogue: %v", err)
	}
}

// T9: in a database under two roles a backup is put back by the serving user
// of the system, who has the folder, in the owner's part; the lesser role goes
// on serving, and alone it changes nothing.
func TestRestoreUnderTwoRoles(t *testing.T) {
	r, ctx := twoRoles(t, "restorer"), t.Context()
	r.served(t)
	from, x := filled(t)
	want, backup := exported(t, from), backedUp(t, from)
	dir := t.TempDir()
	if _, err := Restore(ctx, backup, dir, r.lesser); !refusedAsLesser(err, "restorer_owner") {
		t.Errorf("as the lesser role: %v", err)
	}
	r.byOwner(t, func(o Options) {
		if done, err := Restore(ctx, backup, dir, o); err != nil || !done.Whole {
			t.Errorf("%+v, %v", done, err)
		}
	})
	s := openWith(t, dir, r.lesser)
	if !bytes.Equal(exported(t, s), want) {
		t.Error("the restored notebook exports other bytes")
	}
	checkServes(t, s)
	if _, err := s.Erase(ctx, x.Person.ID); err != nil {
		t.Errorf("erasing: %v", err)
	}
}

// T10: from a real past version: the owner brings the tables up to date and the
// role that served the old ones serves the new; going back gives it the old ones
// again, with no more rights than before.
func TestGoBackUnderTwoRoles(t *testing.T) {
	r, ctx := twoRoles(t, "returner"), t.Context()
	dir := t.TempDir()
	copyFiles(t, "testdata/v5", dir)
	r.byOwner(t, func(o Options) {
		pastIn(t, "testdata/v5", o)
		old, err := sql.Open("pgx", o.Database)
		fatal(t, err)
		fatal(t, errors.Join(letServe(ctx, old, r.daily), old.Close()))
		s, err := Open(ctx, t.TempDir(), o) // without --serve-as
		fatal(t, err)
		fatal(t, s.Close())
	})
	s, err := Open(ctx, dir, r.lesser)
	fatal(t, err)
	checkServes(t, s)
	fatal(t, s.Close())
	if _, err := GoBack(ctx, dir, r.lesser); !refusedAsLesser(err, "returner_owner") {
		t.Errorf("as the lesser role: %v", err)
	}
	r.byOwner(t, func(o Options) {
		if done, err := GoBack(ctx, dir, o); err != nil || done.Manifest.Version != 5 {
			t.Errorf("%+v, %v", done, err)
		}
	})
	db, err := sql.Open("pgx", r.lesser.Database)
	fatal(t, err)
	defer db.Close()
	for statement, may := range map[string]bool{
		"UPDATE readings SET body = body": true, "INSERT INTO audit (at_utc, actor, what, target, from_address, status) SELECT at_utc, actor, what, target, from_address, status FROM audit": true, "SELECT write_tables_anew()": true,
		"DELETE FROM audit": false, "TRUNCATE readings": false, "DELETE FROM goose_db_version": false, "CREATE TABLE more (x TEXT)": false,
	} {
		var p *pgconn.PgError
		_, err := db.ExecContext(ctx, statement)
		if may && err != nil || !may && (!errors.As(err, &p) || p.Code != "42501") {
			t.Errorf("after going back: %s: %v", statement, err)
		}
	}
}

// What an update makes, the role that served before may use, also where whoever
// ran it named no role.
func TestUpdateKeepsTheServingRole(t *testing.T) {
	r, ctx := twoRoles(t, "stayer"), t.Context()
	r.served(t)
	r.byOwner(t, func(o Options) {
		s, err := Open(ctx, t.TempDir(), o)
		fatal(t, err)
		fatal(t, errors.Join(s.migrate(ctx, nextVersion(t, "CREATE TABLE later (seq INTEGER PRIMARY KEY AUTOINCREMENT, a TEXT);\n")), s.Close()))
	})
	db, err := sql.Open("pgx", r.lesser.Database)
	fatal(t, err)
	defer db.Close()
	if _, err := db.ExecContext(ctx, "INSERT INTO later (a) VALUES ('x')"); err != nil {
		t.Error(err)
	}
}

// refusedAsLesser: what only the owner can do is refused in words that say as
// whom to do it.
func refusedAsLesser(err error, owner string) bool {
	var e *notebook.Error
	return errors.As(err, &e) && e.Code == notebook.Unavailable && strings.Contains(e.Message, owner) && strings.Contains(e.Hint, "role="+owner)
}

// checkServes writes in a notebook, and keeps it.
func checkServes(t *testing.T, s *Store) {
	t.Helper()
	if owns, err := ownsTables(t.Context(), s.write); err != nil || owns {
		t.Errorf("the serving role owns the tables: %v, %v", owns, err)
	}
	storetest.PutAll(t, s, storetest.New())
	if _, err := s.AutoBackup(t.Context(), filepath.Join(s.Dir(), "backups"), "daily"); err != nil {
		t.Error(err)
	}
}
