-- +goose Up
-- Ends on the face, shots corrected by hand, fitted models with their sealed
-- forecasts, and a person's word on a result's standing.

-- +goose StatementBegin
CREATE TABLE ends (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, setup TEXT NOT NULL REFERENCES setups (id), session TEXT NOT NULL, trial TEXT NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX ends_bow ON ends (bow, seq);
CREATE INDEX ends_setup ON ends (setup, seq);
CREATE INDEX ends_session ON ends (session, seq);
CREATE INDEX ends_trial ON ends (trial, seq);
-- +goose StatementBegin
CREATE TABLE onsets (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  recording TEXT NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX onsets_recording ON onsets (recording, seq);
-- +goose StatementBegin
CREATE TABLE fits (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, setup TEXT NOT NULL REFERENCES setups (id), body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX fits_bow ON fits (bow, seq);
-- +goose StatementBegin
CREATE TABLE forecasts (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, setup TEXT NOT NULL REFERENCES setups (id), body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX forecasts_bow ON forecasts (bow, seq);
-- +goose StatementBegin
CREATE TABLE rulings (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  target TEXT NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd
CREATE INDEX rulings_target ON rulings (target);

-- +goose Down
DROP TABLE rulings;
DROP TABLE forecasts;
DROP TABLE fits;
DROP TABLE onsets;
DROP TABLE ends;
