-- Who signed in when, with what and from where, and the session that began; and
-- who was refused. A session names its row and ends with it.

-- +goose Up
-- person_id is '' of an attempt with an address that nobody has. refused says
-- why somebody was not let in, '' if they were.
CREATE TABLE sign_ins (
  n         INTEGER PRIMARY KEY,
  id        TEXT NOT NULL UNIQUE,
  person_id TEXT NOT NULL,
  at        TEXT NOT NULL,
  means     TEXT NOT NULL,
  device    TEXT NOT NULL,
  address   TEXT NOT NULL,
  used_at   TEXT NOT NULL,
  ended_at  TEXT NOT NULL,
  ended_why TEXT NOT NULL,
  refused   TEXT NOT NULL
) STRICT;
CREATE INDEX sign_ins_person ON sign_ins (person_id, n);
