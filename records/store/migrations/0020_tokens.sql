-- A message names the link whose token is put in when it is handed over, as
-- "link ID", "invite ID" or "stop". The token itself is kept nowhere.

-- +goose Up
ALTER TABLE outbox ADD COLUMN token TEXT NOT NULL DEFAULT '';
