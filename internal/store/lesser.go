package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"

	"tautline/notebook"
)

// lesserRole lets a role (1) work in a schema (2): read and write records, add
// to the log of who did what, and nothing that changes tables, triggers or what
// the log holds. Erasing needs two things that PostgreSQL lets only the owner
// do, so two functions are lent to it: one writes the tables anew without what
// was deleted, one removes a copy from before an update or a going back, by a
// name that nothing else has. pg_temp stands last in their path, so that no
// temporary table can pass for one of the catalogue.
var lesserRole = []string{
	`REVOKE CREATE ON SCHEMA %2$I FROM PUBLIC`,
	`REVOKE ALL ON ALL TABLES IN SCHEMA %2$I FROM %1$I`,
	`REVOKE CREATE ON SCHEMA %2$I FROM %1$I`,
	`GRANT USAGE ON SCHEMA %2$I TO %1$I`,
	`GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA %2$I TO %1$I`,
	`REVOKE UPDATE, DELETE ON %2$I.audit FROM %1$I`,
	`REVOKE INSERT, UPDATE, DELETE ON %2$I.goose_db_version FROM %1$I`,
	`CREATE OR REPLACE FUNCTION %2$I.write_tables_anew() RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE t record;
BEGIN
  FOR t IN SELECT i.indrelid::regclass AS held, c.relname AS ordered FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid
    WHERE i.indisprimary AND c.relnamespace = %2$L::regnamespace
  LOOP EXECUTE format('CLUSTER %%s USING %%I', t.held, t.ordered); END LOOP;
END $$`,
	`REVOKE ALL ON FUNCTION %2$I.write_tables_anew() FROM PUBLIC`,
	`GRANT EXECUTE ON FUNCTION %2$I.write_tables_anew() TO %1$I`,
	`CREATE OR REPLACE FUNCTION %2$I.drop_copy(copy text) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
  IF copy IS NULL OR copy !~ '^(before_version_[0-9]+|after_version_[0-9]+_[0-9]{8}t[0-9]{6}z_left)_[0-9]{8}t[0-9]{6}z$' THEN
    RAISE EXCEPTION 'not the name of a copy' USING ERRCODE = 'insufficient_privilege';
  END IF;
  EXECUTE format('DROP SCHEMA %%I CASCADE', copy);
END $$`,
	`REVOKE ALL ON FUNCTION %2$I.drop_copy(text) FROM PUBLIC`,
	`GRANT EXECUTE ON FUNCTION %2$I.drop_copy(text) TO %1$I`,
}

// ServeAs lets a lesser role of a PostgreSQL server work in the notebook, so
// that the program that people reach cannot change its tables or its log. The
// tables stay with whoever opened this store, who brings them up to date.
func (s *Store) ServeAs(ctx context.Context, role string) error {
	if _, ok := s.engine.(postgres); !ok {
		return &notebook.Error{Code: notebook.Invalid, Field: "serve-as", Message: "a notebook in a file has no roles", Hint: "leave it out; the folder is its user's alone"}
	}
	var me string
	if err := s.write.QueryRowContext(ctx, "SELECT current_user").Scan(&me); err != nil {
		return translate(err, "the database cannot be read")
	}
	if role == me {
		return &notebook.Error{Code: notebook.Invalid, Field: "serve-as", Message: role + " is the role that owns the tables", Hint: "make another for daily use: createuser tautline"}
	}
	return s.change(ctx, func(tx *sql.Tx) error { return letServe(ctx, tx, role) })
}

// letServe gives a role what it needs in the current schema.
func letServe(ctx context.Context, tx execs, role string) error {
	tables, err := allTables(ctx, tx)
	if err != nil {
		return err
	}
	for _, grant := range lesserRole {
		if strings.Contains(grant, ".audit ") && !slices.Contains(tables, auditTable) {
			continue // a version from before the log, after going back
		}
		var statement string
		if err := tx.QueryRowContext(ctx, "SELECT format($1::text, $2::text, current_schema()::text)", grant, role).Scan(&statement); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return noSuchRole(err, role)
		}
	}
	return nil
}

// serving lists the roles that serve the notebook in the current schema: those
// that may run what ServeAs alone lends.
func (postgres) serving(ctx context.Context, from asker) ([]string, error) {
	return names(ctx, from, "SELECT DISTINCT r.rolname FROM pg_proc p CROSS JOIN LATERAL aclexplode(p.proacl) a JOIN pg_roles r ON r.oid = a.grantee "+
		"WHERE p.pronamespace = current_schema()::regnamespace AND p.proname = 'write_tables_anew' AND a.grantee <> p.proowner ORDER BY 1")
}

// letServeAgain lets roles serve tables that an update made, or that were put
// in the place of others.
func letServeAgain(ctx context.Context, tx execs, roles []string) error {
	for _, role := range roles {
		if err := letServe(ctx, tx, role); err != nil {
			return err
		}
	}
	return nil
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

// mustOwn refuses what only the owner of the tables can do, before anything is
// begun.
func (postgres) mustOwn(ctx context.Context, db asker, doing string) error {
	owns, err := ownsTables(ctx, db)
	if err != nil || owns {
		return err
	}
	var owner string
	if err := db.QueryRowContext(ctx, "SELECT coalesce(min(tableowner), 'its owner') FROM pg_tables WHERE schemaname = current_schema()").Scan(&owner); err != nil {
		return translate(err, "the database cannot be read")
	}
	return &notebook.Error{
		Code: notebook.Unavailable, Field: "database", Message: fmt.Sprintf("%s changes the tables, which the database's role may not; they belong to %s", doing, owner),
		Hint: "work as the owner for once, with role=" + owner + " in the address: tautline manual club shows the commands under \"As the owner of the tables\"",
	}
}
