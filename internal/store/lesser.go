package store

import (
	"context"
	"database/sql"
	"errors"

	"github.com/jackc/pgx/v5/pgconn"

	"tautline/notebook"
)

// lesserRole lets a role (1) work in a schema (2): read and write records, add
// to the log of who did what, and nothing that changes tables, triggers or what
// the log holds. One function is lent to it, which writes the tables anew
// without what was deleted; PostgreSQL lets only their owner do that.
var lesserRole = []string{
	`REVOKE CREATE ON SCHEMA %2$I FROM PUBLIC`,
	`REVOKE ALL ON ALL TABLES IN SCHEMA %2$I FROM %1$I`,
	`REVOKE CREATE ON SCHEMA %2$I FROM %1$I`,
	`GRANT USAGE ON SCHEMA %2$I TO %1$I`,
	`GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA %2$I TO %1$I`,
	`REVOKE UPDATE, DELETE ON %2$I.audit FROM %1$I`,
	`REVOKE INSERT, UPDATE, DELETE ON %2$I.goose_db_version FROM %1$I`,
	`CREATE OR REPLACE FUNCTION %2$I.write_tables_anew() RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE t record;
BEGIN
  FOR t IN SELECT i.indrelid::regclass AS held, c.relname AS ordered FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid
    WHERE i.indisprimary AND c.relnamespace = %2$L::regnamespace
  LOOP EXECUTE format('CLUSTER %%s USING %%I', t.held, t.ordered); END LOOP;
END $$`,
	`REVOKE ALL ON FUNCTION %2$I.write_tables_anew() FROM PUBLIC`,
	`GRANT EXECUTE ON FUNCTION %2$I.write_tables_anew() TO %1$I`,
}

// ServeAs lets a lesser role of a PostgreSQL server work in the notebook, so
// that the program that people reach cannot change its tables or its log. The
// tables stay with whoever opened this store, who brings them up to date.
func (s *Store) ServeAs(ctx context.Context, role string) error {
	if _, ok := s.engine.(postgres); !ok {
		return &notebook.Error{Code: notebook.Invalid, Field: "serve-as", Message: "a notebook in a file has no roles", Hint: "leave it out; the folder is its user's alone"}
	}
	var me, schema string
	if err := s.write.QueryRowContext(ctx, "SELECT current_user, current_schema()").Scan(&me, &schema); err != nil {
		return translate(err, "the database cannot be read")
	}
	if role == me {
		return &notebook.Error{Code: notebook.Invalid, Field: "serve-as", Message: role + " is the role that owns the tables", Hint: "make another for daily use: createuser tautline"}
	}
	return s.change(ctx, func(tx *sql.Tx) error {
		for _, grant := range lesserRole {
			var statement string
			if err := tx.QueryRowContext(ctx, "SELECT format($1::text, $2::text, $3::text)", grant, role, schema).Scan(&statement); err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, statement); err != nil {
				return noSuchRole(err, role)
			}
		}
		return nil
	})
}

func noSuchRole(err error, role string) error {
	var p *pgconn.PgError
	if errors.As(err, &p) && p.Code == "42704" {
		return &notebook.Error{Code: notebook.NotFound, Field: "serve-as", Message: "the database server has no role " + role, Hint: "make it first: createuser " + role, Cause: err}
	}
	return err
}

// ownsTables reports whether the role that works in the database may change its
// tables.
func ownsTables(ctx context.Context, db asker) (owns bool, err error) {
	err = db.QueryRowContext(ctx, "SELECT has_schema_privilege(current_schema(), 'CREATE') AND NOT EXISTS "+
		"(SELECT 1 FROM pg_tables WHERE schemaname = current_schema() AND NOT pg_has_role(tableowner, 'USAGE'))").Scan(&owns)
	return owns, translate(err, "the database cannot be read")
}
