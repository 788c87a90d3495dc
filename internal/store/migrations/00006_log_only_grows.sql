-- +goose Up
-- The log of who did what only grows: neither the program nor a slip changes
-- or removes a line of it.

-- +goose StatementBegin
-- in PostgreSQL: CREATE FUNCTION log_only_grows() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'the log of who did what only grows'; END $$;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER audit_unchanged BEFORE UPDATE ON audit FOR EACH ROW BEGIN SELECT RAISE(ABORT, 'the log of who did what only grows'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER audit_kept BEFORE DELETE ON audit FOR EACH ROW BEGIN SELECT RAISE(ABORT, 'the log of who did what only grows'); END;
-- +goose StatementEnd
-- +goose StatementBegin
-- in PostgreSQL: CREATE TRIGGER audit_not_emptied BEFORE TRUNCATE ON audit FOR EACH STATEMENT EXECUTE FUNCTION log_only_grows();
-- +goose StatementEnd

-- +goose Down
-- +goose StatementBegin
-- in PostgreSQL: DROP TRIGGER audit_not_emptied ON audit;
-- +goose StatementEnd
DROP TRIGGER audit_kept /* in PostgreSQL: ON audit */;
DROP TRIGGER audit_unchanged /* in PostgreSQL: ON audit */;
-- +goose StatementBegin
-- in PostgreSQL: DROP FUNCTION log_only_grows();
-- +goose StatementEnd
