-- What goes to customers and what comes back from them.

-- +goose Up
CREATE TABLE links (
  n           INTEGER PRIMARY KEY,
  id          TEXT NOT NULL UNIQUE,
  record_n    INTEGER NOT NULL REFERENCES records (n),
  token_hash  TEXT NOT NULL UNIQUE,
  for_name    TEXT NOT NULL,
  expires_at  TEXT NOT NULL,
  revoked_at  TEXT NOT NULL DEFAULT '',
  revoked_why TEXT NOT NULL DEFAULT '',
  created_at  TEXT NOT NULL
) STRICT;
CREATE INDEX links_record ON links (record_n);

CREATE TABLE outbox (
  n           INTEGER PRIMARY KEY,
  id          TEXT NOT NULL UNIQUE,
  kind        TEXT NOT NULL,
  record_id   TEXT NOT NULL,
  ref         TEXT NOT NULL,
  to_name     TEXT NOT NULL,
  to_email    TEXT NOT NULL COLLATE NOCASE,
  subject     TEXT NOT NULL,
  text        TEXT NOT NULL,
  html        TEXT NOT NULL,
  attach_pdf  INTEGER NOT NULL CHECK (attach_pdf IN (0, 1)),
  state       TEXT NOT NULL CHECK (state IN ('due', 'sending', 'sent', 'failed', 'unsure')),
  attempts    INTEGER NOT NULL,
  next_at     TEXT NOT NULL,
  lease_until TEXT NOT NULL,
  receipt     TEXT NOT NULL,
  problem     TEXT NOT NULL,
  created_at  TEXT NOT NULL,
  updated_at  TEXT NOT NULL,
  UNIQUE (kind, record_id, ref, to_email)
) STRICT;
CREATE INDEX outbox_due ON outbox (next_at, n) WHERE state = 'due';
CREATE INDEX outbox_sending ON outbox (lease_until, n) WHERE state = 'sending';
CREATE INDEX outbox_state ON outbox (state, n);
CREATE INDEX outbox_record ON outbox (record_id, n);

CREATE TABLE contact_attempts (
  n           INTEGER PRIMARY KEY,
  id          TEXT NOT NULL UNIQUE,
  appliance_n INTEGER NOT NULL REFERENCES appliances (n),
  at          TEXT NOT NULL,
  actor_id    TEXT NOT NULL,
  actor_name  TEXT NOT NULL,
  how         TEXT NOT NULL,
  note        TEXT NOT NULL,
  next_action TEXT NOT NULL CHECK (next_action = '' OR next_action GLOB '????-??-??')
) STRICT;
CREATE INDEX contact_attempts_appliance ON contact_attempts (appliance_n, n);

CREATE TABLE visit_requests (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  record_n   INTEGER NOT NULL REFERENCES records (n),
  text       TEXT NOT NULL,
  at         TEXT NOT NULL,
  handled_at TEXT NOT NULL DEFAULT '',
  handled_by TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX visit_requests_open ON visit_requests (n) WHERE handled_at = '';
CREATE INDEX visit_requests_record ON visit_requests (record_n, n);
