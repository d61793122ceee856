-- What proves that the register is as it was written.

-- +goose Up
-- From which address, and with which key if a program did it. Blank in entries
-- of before, whose hash does not cover them.
ALTER TABLE audit ADD COLUMN origin TEXT NOT NULL DEFAULT '';
ALTER TABLE audit ADD COLUMN key_id TEXT NOT NULL DEFAULT '';
CREATE INDEX audit_what ON audit (what, seq);
CREATE INDEX audit_actor ON audit (actor_name, seq);
CREATE INDEX audit_at ON audit (at, seq);
CREATE INDEX audit_origin ON audit (origin, seq) WHERE origin <> '';
CREATE INDEX audit_key ON audit (key_id, seq) WHERE key_id <> '';

-- Keys and signatures are in base 64.

-- The newest entry of the log, signed with the firm's key: at each issue, and
-- each day on which there is something new.
CREATE TABLE audit_heads (
  seq        INTEGER PRIMARY KEY REFERENCES audit (seq),
  hash       TEXT NOT NULL,
  at         TEXT NOT NULL,
  public_key TEXT NOT NULL,
  signature  TEXT NOT NULL
) STRICT;
-- +goose StatementBegin
CREATE TRIGGER audit_heads_no_update BEFORE UPDATE ON audit_heads
BEGIN SELECT RAISE(ABORT, 'a signature cannot be changed'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER audit_heads_no_delete BEFORE DELETE ON audit_heads
BEGIN SELECT RAISE(ABORT, 'a signature cannot be removed'); END;
-- +goose StatementEnd

-- The keys that the firm sealed with before, each handed over to the next.
CREATE TABLE firm_keys (
  n          INTEGER PRIMARY KEY,
  public_key TEXT NOT NULL UNIQUE,
  next_key   TEXT NOT NULL UNIQUE,
  at         TEXT NOT NULL,
  by_old     TEXT NOT NULL,
  by_new     TEXT NOT NULL
) STRICT;
-- +goose StatementBegin
CREATE TRIGGER firm_keys_no_update BEFORE UPDATE ON firm_keys
BEGIN SELECT RAISE(ABORT, 'an earlier key cannot be changed'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER firm_keys_no_delete BEFORE DELETE ON firm_keys
BEGIN SELECT RAISE(ABORT, 'an earlier key cannot be removed'); END;
-- +goose StatementEnd

-- Numbers that are not given out again after a backup was restored: the records
-- that had them were lost, and their papers are with customers.
CREATE TABLE skipped_numbers (
  year  INTEGER NOT NULL,
  first INTEGER NOT NULL,
  last  INTEGER NOT NULL CHECK (last >= first),
  PRIMARY KEY (year, first)
) STRICT, WITHOUT ROWID;
-- +goose StatementBegin
CREATE TRIGGER skipped_numbers_no_update BEFORE UPDATE ON skipped_numbers
BEGIN SELECT RAISE(ABORT, 'numbers passed over stay so'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER skipped_numbers_no_delete BEFORE DELETE ON skipped_numbers
BEGIN SELECT RAISE(ABORT, 'numbers passed over stay so'); END;
-- +goose StatementEnd

-- Written by the readiness check, to find out whether the disk takes it.
CREATE TABLE last_check (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  at  TEXT NOT NULL
) STRICT;
