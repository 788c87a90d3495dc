-- +goose Up
-- One table a noun. Every table keeps all versions of a record; only persons
-- and bows ever have more than one. body is the whole record as JSON, the
-- other columns are what is searched for. Times are RFC 3339 UTC text.

-- +goose StatementBegin
CREATE TABLE people (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  body TEXT NOT NULL, UNIQUE (id, version));
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TABLE bows (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  body TEXT NOT NULL, UNIQUE (id, version));
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TABLE setups (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX setups_bow ON setups (bow, seq);
-- +goose StatementBegin
CREATE TABLE sessions (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX sessions_bow ON sessions (bow, seq);
-- +goose StatementBegin
CREATE TABLE recordings (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, trial TEXT NOT NULL, sha256 TEXT NOT NULL, size_bytes INTEGER NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX recordings_trial ON recordings (trial, seq);
CREATE INDEX recordings_sha256 ON recordings (sha256);
-- +goose StatementBegin
CREATE TABLE trials (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, setup TEXT NOT NULL REFERENCES setups (id), body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX trials_bow ON trials (bow, seq);
-- +goose StatementBegin
CREATE TABLE readings (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, setup TEXT NOT NULL REFERENCES setups (id), session TEXT NOT NULL, trial TEXT NOT NULL,
  kind TEXT NOT NULL, value_si REAL NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX readings_bow ON readings (bow, seq);
CREATE INDEX readings_trial ON readings (trial, seq);
-- +goose StatementBegin
CREATE TABLE trial_events (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  trial TEXT NOT NULL REFERENCES trials (id), body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX trial_events_trial ON trial_events (trial, seq);
-- +goose StatementBegin
CREATE TABLE verdicts (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  trial TEXT NOT NULL REFERENCES trials (id), body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX verdicts_trial ON verdicts (trial, seq);
-- +goose StatementBegin
CREATE TABLE retractions (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  target TEXT NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX retractions_target ON retractions (target);

-- +goose Down
DROP TABLE retractions;
DROP TABLE verdicts;
DROP TABLE trial_events;
DROP TABLE readings;
DROP TABLE trials;
DROP TABLE recordings;
DROP TABLE sessions;
DROP TABLE setups;
DROP TABLE bows;
DROP TABLE people;
