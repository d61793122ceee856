-- Chasing what falls due, and booking the visits.

-- +goose Up
CREATE TABLE chase_settings (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  doc TEXT NOT NULL CHECK (json_valid(doc))
) STRICT;

-- One row for each step of a duty that a customer was reminded of. The key
-- keeps a reminder from being sent twice.
CREATE TABLE reminders (
  n         INTEGER PRIMARY KEY,
  duty_n    INTEGER NOT NULL REFERENCES duties (n),
  weeks     INTEGER NOT NULL,
  channel   TEXT NOT NULL CHECK (channel IN ('e-mail', 'letter')),
  parcel_id TEXT NOT NULL, -- of the message, or of the batch of letters
  at        TEXT NOT NULL,
  UNIQUE (duty_n, weeks)
) STRICT;
CREATE INDEX reminders_parcel ON reminders (parcel_id, n);

CREATE TABLE letter_batches (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  doc        TEXT NOT NULL CHECK (json_valid(doc)),
  actor_name TEXT NOT NULL,
  at         TEXT NOT NULL
) STRICT;

-- Addresses that get no reminders, and the links by which they say so.
CREATE TABLE suppressions (
  email   TEXT PRIMARY KEY COLLATE NOCASE,
  how     TEXT NOT NULL,
  by_name TEXT NOT NULL,
  at      TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE stop_links (
  token_hash TEXT PRIMARY KEY,
  email      TEXT NOT NULL,
  made_at    TEXT NOT NULL
) STRICT, WITHOUT ROWID;
ALTER TABLE outbox ADD COLUMN stop_url TEXT NOT NULL DEFAULT '';

CREATE TABLE bookings (
  n           INTEGER PRIMARY KEY,
  id          TEXT NOT NULL UNIQUE,
  appliance_n INTEGER NOT NULL REFERENCES appliances (n),
  engineer_id TEXT NOT NULL REFERENCES people (id),
  on_date     TEXT NOT NULL CHECK (on_date GLOB '????-??-??'),
  from_time   TEXT NOT NULL CHECK (from_time = '' OR from_time GLOB '??:??'),
  until_time  TEXT NOT NULL CHECK (until_time = '' OR until_time GLOB '??:??'),
  note        TEXT NOT NULL,
  state       TEXT NOT NULL CHECK (state IN ('booked', 'done', 'cancelled')),
  why         TEXT NOT NULL,
  record_n    INTEGER REFERENCES records (n),
  sequence    INTEGER NOT NULL,
  created_at  TEXT NOT NULL,
  updated_at  TEXT NOT NULL,
  CHECK ((from_time = '') = (until_time = ''))
) STRICT;
CREATE INDEX bookings_day ON bookings (on_date, engineer_id, n);
CREATE INDEX bookings_engineer ON bookings (engineer_id, on_date, n);
CREATE INDEX bookings_appliance ON bookings (appliance_n, n);
CREATE TABLE booking_duties (
  duty_n    INTEGER NOT NULL REFERENCES duties (n),
  booking_n INTEGER NOT NULL REFERENCES bookings (n),
  PRIMARY KEY (duty_n, booking_n)
) STRICT, WITHOUT ROWID;
CREATE INDEX booking_duties_of ON booking_duties (booking_n);

-- Addresses under which calendar programs read the bookings: of one person,
-- or of everybody when person_id is blank. Only the hash of a token is kept.
CREATE TABLE feeds (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  person_id  TEXT NOT NULL,
  owner_id   TEXT NOT NULL REFERENCES people (id),
  token_hash TEXT NOT NULL UNIQUE,
  created_at TEXT NOT NULL,
  revoked_at TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX properties_email ON properties (contact_email COLLATE NOCASE) WHERE contact_email <> '';
CREATE INDEX properties_name ON properties (contact_name COLLATE NOCASE) WHERE contact_name <> '';
CREATE INDEX duties_closed ON duties (kind, closed_at, n) WHERE state <> 'open';
