-- +goose Up
-- Who may see an archer's bows, or work on them.

-- +goose StatementBegin
CREATE TABLE shares (
  seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, version INTEGER NOT NULL,
  by_person TEXT NOT NULL, at_utc TEXT NOT NULL, received_utc TEXT NOT NULL,
  bow TEXT NOT NULL, body TEXT NOT NULL);
-- +goose StatementEnd

-- +goose Down
DROP TABLE shares;
