-- Whom a link was sent to, what came back undelivered, and what customers ask
-- to have put right about themselves.

-- +goose Up
ALTER TABLE links ADD COLUMN for_email TEXT NOT NULL DEFAULT '';

-- The old contact is kept beside the wish, so that a wish is not granted
-- against somebody else's details.
CREATE TABLE contact_requests (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  record_n   INTEGER NOT NULL REFERENCES records (n),
  property_n INTEGER NOT NULL REFERENCES properties (n),
  name       TEXT NOT NULL,
  phone      TEXT NOT NULL,
  email      TEXT NOT NULL,
  was        TEXT NOT NULL CHECK (json_valid(was)),
  at         TEXT NOT NULL,
  settled_at TEXT NOT NULL DEFAULT '',
  settled_by TEXT NOT NULL DEFAULT '',
  outcome    TEXT NOT NULL DEFAULT '' CHECK (outcome IN ('', 'confirmed', 'refused'))
) STRICT;
CREATE INDEX contact_requests_open ON contact_requests (n) WHERE settled_at = '';
CREATE INDEX contact_requests_record ON contact_requests (record_n, n);
