-- +goose Up
-- Who may log in, what was given out to prove it, and who did what. None of it
-- is part of the notebook or its exports.

-- +goose StatementBegin
CREATE TABLE accounts (person TEXT NOT NULL PRIMARY KEY, login TEXT NOT NULL UNIQUE, body TEXT NOT NULL);
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TABLE credentials (
  id TEXT NOT NULL, hash TEXT NOT NULL PRIMARY KEY, kind TEXT NOT NULL, person TEXT NOT NULL,
  expires_utc TEXT NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX credentials_person ON credentials (person, kind);
-- +goose StatementBegin
CREATE TABLE audit (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, at_utc TEXT NOT NULL, actor TEXT NOT NULL, what TEXT NOT NULL,
  target TEXT NOT NULL, from_address TEXT NOT NULL, status INTEGER NOT NULL);
-- +goose StatementEnd

-- +goose Down
DROP TABLE audit;
DROP TABLE credentials;
DROP TABLE accounts;
