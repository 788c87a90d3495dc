-- +goose Up
-- Readings are asked for by set-up (is a result still fresh?) and by session
-- (what was measured that day?), recordings by bow.
CREATE INDEX readings_setup ON readings (setup, seq);
CREATE INDEX readings_session ON readings (session, seq);
CREATE INDEX recordings_bow ON recordings (bow, seq);

-- +goose Down
DROP INDEX recordings_bow;
DROP INDEX readings_session;
DROP INDEX readings_setup;
