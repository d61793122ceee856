-- Links by which people set their password, and the end of open sessions.

-- +goose Up
-- Sessions remember the number that stood when they began; a session with an
-- earlier number has ended.
ALTER TABLE people ADD COLUMN sign_ins INTEGER NOT NULL DEFAULT 0;

-- Only the hash of a link's token is kept. A link works once.
CREATE TABLE invites (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  person_id  TEXT NOT NULL REFERENCES people (id),
  token_hash TEXT NOT NULL UNIQUE,
  made_by    TEXT NOT NULL,
  created_at TEXT NOT NULL,
  expires_at TEXT NOT NULL,
  ended_at   TEXT NOT NULL DEFAULT '',
  ended_why  TEXT NOT NULL DEFAULT '' CHECK (ended_why IN ('', 'used', 'revoked', 'replaced'))
) STRICT;
CREATE INDEX invites_person ON invites (person_id, n);
