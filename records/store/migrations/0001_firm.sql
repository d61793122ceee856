-- The firm, its people and instruments, and the log of what they did.
-- '' stands for "none" in text columns, so that no query needs IS NULL.
-- Instants are UTC text of fixed width, dates are YYYY-MM-DD: both sort as text.

-- +goose Up
CREATE TABLE people (
  id               TEXT PRIMARY KEY,
  name             TEXT NOT NULL,
  email            TEXT NOT NULL COLLATE NOCASE UNIQUE,
  role             TEXT NOT NULL CHECK (role IN ('owner', 'office', 'engineer')),
  licence          TEXT NOT NULL,
  competence_until TEXT NOT NULL CHECK (competence_until = '' OR competence_until GLOB '????-??-??'),
  password_hash    TEXT NOT NULL,
  active           INTEGER NOT NULL CHECK (active IN (0, 1)),
  created_at       TEXT NOT NULL
) STRICT;

CREATE TABLE firm (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  doc TEXT NOT NULL CHECK (json_valid(doc))
) STRICT;

CREATE TABLE instruments (
  id              TEXT PRIMARY KEY,
  kind            TEXT NOT NULL,
  make            TEXT NOT NULL,
  model           TEXT NOT NULL,
  serial          TEXT NOT NULL,
  calibrated_on   TEXT NOT NULL CHECK (calibrated_on = '' OR calibrated_on GLOB '????-??-??'),
  calibration_due TEXT NOT NULL CHECK (calibration_due = '' OR calibration_due GLOB '????-??-??')
) STRICT;

CREATE TABLE drop_bands (
  edition TEXT NOT NULL,
  fuel    TEXT NOT NULL,
  doc     TEXT NOT NULL CHECK (json_valid(doc)),
  PRIMARY KEY (edition, fuel)
) STRICT;

CREATE TABLE sessions (
  token      TEXT PRIMARY KEY,
  data       BLOB NOT NULL,
  expires_at TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX sessions_expires_at ON sessions (expires_at);

CREATE TABLE once_keys (
  scope       TEXT NOT NULL,
  name        TEXT NOT NULL,
  fingerprint TEXT NOT NULL,
  state       TEXT NOT NULL CHECK (state IN ('running', 'answered')),
  status      INTEGER NOT NULL,
  body        BLOB NOT NULL,
  at          TEXT NOT NULL,
  PRIMARY KEY (scope, name)
) STRICT, WITHOUT ROWID;
CREATE INDEX once_keys_at ON once_keys (at);

CREATE TABLE audit (
  seq        INTEGER PRIMARY KEY AUTOINCREMENT,
  at         TEXT NOT NULL,
  actor_id   TEXT NOT NULL,
  actor_name TEXT NOT NULL,
  what       TEXT NOT NULL,
  subject    TEXT NOT NULL,
  detail     TEXT NOT NULL CHECK (json_valid(detail)),
  prev       TEXT NOT NULL,
  hash       TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX audit_subject ON audit (subject, seq);

-- +goose StatementBegin
CREATE TRIGGER audit_no_update BEFORE UPDATE ON audit
BEGIN SELECT RAISE(ABORT, 'the audit log cannot be changed'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER audit_no_delete BEFORE DELETE ON audit
BEGIN SELECT RAISE(ABORT, 'the audit log cannot be shortened'); END;
-- +goose StatementEnd
