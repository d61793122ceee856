-- Addresses that are told what happens to records and duties.

-- +goose Up
-- The secret signs what is sent, so it is kept as it is.
CREATE TABLE webhooks (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  url        TEXT NOT NULL,
  secret     TEXT NOT NULL,
  events     TEXT NOT NULL CHECK (json_valid(events)),
  made_by    TEXT NOT NULL,
  created_at TEXT NOT NULL,
  late_from  TEXT NOT NULL CHECK (late_from GLOB '????-??-??'),
  ended_at   TEXT NOT NULL DEFAULT ''
) STRICT;

-- One row for each event and address. The event's id lets the receiver see
-- that it has had it, and keeps an event from being put in twice.
CREATE TABLE webhook_deliveries (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  webhook_n  INTEGER NOT NULL REFERENCES webhooks (n),
  event_id   TEXT NOT NULL,
  event      TEXT NOT NULL,
  body       TEXT NOT NULL CHECK (json_valid(body)),
  state      TEXT NOT NULL CHECK (state IN ('due', 'sending', 'delivered', 'failed')),
  attempts   INTEGER NOT NULL,
  next_at    TEXT NOT NULL,
  lease_until TEXT NOT NULL,
  status     INTEGER NOT NULL,
  problem    TEXT NOT NULL,
  created_at TEXT NOT NULL,
  updated_at TEXT NOT NULL,
  UNIQUE (webhook_n, event_id)
) STRICT;
CREATE INDEX webhook_deliveries_due ON webhook_deliveries (next_at, n) WHERE state = 'due';
CREATE INDEX webhook_deliveries_sending ON webhook_deliveries (lease_until, n) WHERE state = 'sending';
CREATE INDEX webhook_deliveries_of ON webhook_deliveries (webhook_n, n);
