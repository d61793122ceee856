-- What an account asks for besides its password: one-time codes from an app, or
-- passkeys; and recovery codes for when neither is at hand.

-- +goose Up
-- Secrets are sealed with a key made from the firm's. secret is '' until a first
-- code was right; the one before counts until then, and next_secret waits for
-- that. A code counts once: last_step is the time step of the newest that did.
CREATE TABLE one_time_codes (
  person_id   TEXT PRIMARY KEY REFERENCES people (id),
  secret      TEXT NOT NULL,
  next_secret TEXT NOT NULL,
  last_step   INTEGER NOT NULL,
  made_at     TEXT NOT NULL,
  used_at     TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Only hashes; each works once.
CREATE TABLE recovery_codes (
  n         INTEGER PRIMARY KEY,
  person_id TEXT NOT NULL REFERENCES people (id),
  code_hash TEXT NOT NULL UNIQUE,
  made_at   TEXT NOT NULL,
  used_at   TEXT NOT NULL
) STRICT;
CREATE INDEX recovery_codes_person ON recovery_codes (person_id);

-- The public half of a key pair on somebody's device; bytes are in base 64.
CREATE TABLE passkeys (
  n             INTEGER PRIMARY KEY,
  id            TEXT NOT NULL UNIQUE,
  person_id     TEXT NOT NULL REFERENCES people (id),
  name          TEXT NOT NULL,
  credential_id TEXT NOT NULL UNIQUE,
  host          TEXT NOT NULL,
  public_key    TEXT NOT NULL,
  flags         INTEGER NOT NULL,
  sign_count    INTEGER NOT NULL,
  transports    TEXT NOT NULL,
  aaguid        TEXT NOT NULL,
  made_at       TEXT NOT NULL,
  used_at       TEXT NOT NULL
) STRICT;
CREATE INDEX passkeys_person ON passkeys (person_id, n);

-- owners_both: owners sign in in two steps or with a passkey, not with the password
-- alone.
CREATE TABLE sign_in_rules (
  one         INTEGER PRIMARY KEY CHECK (one = 1),
  owners_both INTEGER NOT NULL CHECK (owners_both IN (0, 1))
) STRICT;
