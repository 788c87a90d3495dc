package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// T27, ASVS 13.2.2: the program works in a database under a role that can change
// neither tables nor triggers nor what the log holds; where the tables are of
// an older version it says so and changes nothing.
func TestLesserRole(t *testing.T) {
	owner, o := club(t)
	ctx, x := context.Background(), storetest.New()
	const role = "daily"
	if err := owner.ServeAs(ctx, "nobody_at_all"); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("a role that is not there gave %v", err)
	}
	if _, err := owner.write.ExecContext(ctx, "CREATE ROLE daily LOGIN"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { dropRole(t, o.Database, role) })
	for range 2 { // again after each update
		if err := owner.ServeAs(ctx, role); err != nil {
			t.Fatal(err)
		}
	}
	if err := owner.Close(); err != nil {
		t.Fatal(err)
	}
	lesser := o
	lesser.Database = strings.Replace(o.Database, "user=tautline", "user="+role, 1)
	dir := t.TempDir()
	s, err := Open(ctx, dir, lesser)
	if err != nil {
		t.Fatal(err)
	}
	storetest.PutAll(t, s, x)
	fixtureAccounts(t, s, x.Person.ID)
	if _, err := s.Backup(ctx, t.TempDir()+"/copy", BackupOptions{}); err != nil {
		t.Errorf("no backup: %v", err)
	}
	mayNot(t, s.write)
	if _, err := s.Erase(ctx, x.Person.ID); err != nil {
		t.Errorf("erasing: %v", err)
	}
	if n := storetest.CountReadings(t, s); n != 0 {
		t.Errorf("%d readings are left", n)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	older(t, o.Database)
	_, err = Open(ctx, dir, lesser)
	if notebook.CodeOf(err) != notebook.Unavailable || !strings.Contains(err.Error(), "may not change tables") {
		t.Errorf("an older version under the lesser role gave %v", err)
	}
}

// mayNot: what would change the tables, or what the log holds, is refused by
// the server (SQLSTATE 42501, insufficient privilege).
func mayNot(t *testing.T, db *sql.DB) {
	t.Helper()
	for _, statement := range []string{
		"DROP TRIGGER audit_kept ON audit", "ALTER TABLE audit DISABLE TRIGGER USER", "DELETE FROM audit", "UPDATE audit SET actor = ''", "TRUNCATE audit", "DROP TABLE audit",
		"DROP TABLE readings", "ALTER TABLE bows ADD COLUMN x TEXT", "CREATE TABLE more (x TEXT)", "CREATE SCHEMA more", "TRUNCATE readings", "DELETE FROM goose_db_version",
		"INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, true)", "DROP FUNCTION log_only_grows()", "SET session_replication_role = replica", "CREATE ROLE more",
		"ALTER TABLE audit OWNER TO CURRENT_USER", "GRANT DELETE ON audit TO CURRENT_USER", "SET ROLE tautline",
		"CREATE FUNCTION more() RETURNS int LANGUAGE sql AS 'SELECT 1'", "COPY audit TO '/tmp/log'",
	} {
		var p *pgconn.PgError
		_, err := db.ExecContext(context.Background(), statement)
		if statement == "GRANT DELETE ON audit TO CURRENT_USER" && err == nil { // a warning that nothing was granted, as the standard has it
			_, err = db.ExecContext(context.Background(), "DELETE FROM audit")
		}
		if !errors.As(err, &p) || p.Code != "42501" {
			t.Errorf("%s: %v", statement, err)
		}
	}
	var n int
	if err := db.QueryRowContext(context.Background(), "SELECT count(*) FROM audit").Scan(&n); err != nil || n != 2 {
		t.Errorf("%d lines of the log are left, %v", n, err)
	}
}

// older makes the database one of the version before.
func older(t *testing.T, dsn string) {
	t.Helper()
	db, err := sql.Open("pgx", dsn)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.ExecContext(context.Background(), "DELETE FROM goose_db_version WHERE version_id = (SELECT max(version_id) FROM goose_db_version)"); err != nil {
		t.Fatal(err)
	}
}

func dropRole(t *testing.T, dsn, role string) {
	t.Helper()
	db, err := sql.Open("pgx", dsn)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, statement := range []string{"DROP OWNED BY " + role, "DROP ROLE " + role} {
		if _, err := db.ExecContext(context.Background(), statement); err != nil {
			t.Error(err)
		}
	}
}
