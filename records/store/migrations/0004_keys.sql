-- Keys that programs call the API with. Only the hash of a key is kept.

-- +goose Up
CREATE TABLE keys (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  person_id  TEXT NOT NULL REFERENCES people (id),
  label      TEXT NOT NULL,
  token_hash TEXT NOT NULL UNIQUE,
  created_at TEXT NOT NULL,
  revoked_at TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX keys_person ON keys (person_id, n);
