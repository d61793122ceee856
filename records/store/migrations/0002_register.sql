-- Properties, appliances, records and duties. Tables that grow large have an
-- integer key n beside their public id: every index carries it.

-- +goose Up
CREATE TABLE properties (
  n               INTEGER PRIMARY KEY,
  id              TEXT NOT NULL UNIQUE,
  line1           TEXT NOT NULL,
  line2           TEXT NOT NULL,
  town            TEXT NOT NULL,
  postcode        TEXT NOT NULL,
  nation          TEXT NOT NULL,
  contact_name    TEXT NOT NULL,
  contact_email   TEXT NOT NULL,
  contact_phone   TEXT NOT NULL,
  contact_tenure  TEXT NOT NULL,
  contact_address TEXT NOT NULL,
  created_at      TEXT NOT NULL
) STRICT;
CREATE INDEX properties_postcode ON properties (postcode, n);

-- due is the earliest open duty, or 9999-99-99 for none, which sorts last.
-- nation, address_key and the search words are copies, so that one index
-- serves each register query.
CREATE TABLE appliances (
  n             INTEGER PRIMARY KEY,
  id            TEXT NOT NULL UNIQUE,
  property_n    INTEGER NOT NULL REFERENCES properties (n),
  kind          TEXT NOT NULL,
  make_model    TEXT NOT NULL,
  serial        TEXT NOT NULL,
  doc           TEXT NOT NULL CHECK (json_valid(doc)),
  nation        TEXT NOT NULL,
  address_key   TEXT NOT NULL,
  search        TEXT NOT NULL,
  due           TEXT NOT NULL DEFAULT '9999-99-99' CHECK (due GLOB '????-??-??'),
  due_n         INTEGER,
  last_record_n INTEGER,
  no_service    INTEGER NOT NULL DEFAULT 1 CHECK (no_service IN (0, 1)),
  no_landlord   INTEGER NOT NULL DEFAULT 1 CHECK (no_landlord IN (0, 1)),
  retired       INTEGER NOT NULL DEFAULT 0 CHECK (retired IN (0, 1)),
  retired_why   TEXT NOT NULL DEFAULT '',
  created_at    TEXT NOT NULL
) STRICT;
CREATE INDEX appliances_property ON appliances (property_n);
CREATE INDEX appliances_due ON appliances (due, n) WHERE retired = 0;
CREATE INDEX appliances_kind_due ON appliances (kind, due, n) WHERE retired = 0;
CREATE INDEX appliances_nation_due ON appliances (nation, due, n) WHERE retired = 0;
CREATE INDEX appliances_address ON appliances (address_key, n) WHERE retired = 0;
CREATE INDEX appliances_kind_address ON appliances (kind, address_key, n) WHERE retired = 0;
CREATE INDEX appliances_nation_address ON appliances (nation, address_key, n) WHERE retired = 0;
CREATE INDEX appliances_no_service ON appliances (address_key, n) WHERE retired = 0 AND no_service = 1;
CREATE INDEX appliances_no_landlord ON appliances (address_key, n) WHERE retired = 0 AND no_landlord = 1;

-- How many appliances are due on each day: the counts over the register read
-- a few thousand days instead of every appliance.
CREATE TABLE due_days (
  due        TEXT PRIMARY KEY,
  appliances INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- +goose StatementBegin
CREATE TRIGGER appliances_counted AFTER INSERT ON appliances WHEN new.retired = 0
BEGIN
  INSERT INTO due_days VALUES (new.due, 1) ON CONFLICT (due) DO UPDATE SET appliances = appliances + 1;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER appliances_recounted AFTER UPDATE OF due, retired ON appliances WHEN new.due <> old.due OR new.retired <> old.retired
BEGIN
  UPDATE due_days SET appliances = appliances - 1 WHERE due = old.due AND old.retired = 0;
  DELETE FROM due_days WHERE due = old.due AND appliances = 0;
  INSERT INTO due_days SELECT new.due, 1 WHERE new.retired = 0 ON CONFLICT (due) DO UPDATE SET appliances = appliances + 1;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER appliances_no_delete BEFORE DELETE ON appliances
BEGIN SELECT RAISE(ABORT, 'an appliance is retired, never deleted'); END;
-- +goose StatementEnd

-- The search index keeps no text of its own; it reads appliances.search.
CREATE VIRTUAL TABLE appliance_words USING fts4(content="appliances", search, tokenize=unicode61, prefix="2,3");
-- +goose StatementBegin
CREATE TRIGGER appliances_unindex BEFORE UPDATE OF search ON appliances WHEN new.search <> old.search
BEGIN DELETE FROM appliance_words WHERE docid = old.n; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER appliances_reindex AFTER UPDATE OF search ON appliances WHEN new.search <> old.search
BEGIN INSERT INTO appliance_words (docid, search) VALUES (new.n, new.search); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER appliances_index AFTER INSERT ON appliances
BEGIN INSERT INTO appliance_words (docid, search) VALUES (new.n, new.search); END;
-- +goose StatementEnd

CREATE TABLE records (
  n             INTEGER PRIMARY KEY,
  id            TEXT NOT NULL UNIQUE,
  appliance_n   INTEGER NOT NULL REFERENCES appliances (n),
  purpose       TEXT NOT NULL,
  stage         TEXT NOT NULL CHECK (stage IN ('draft', 'issued', 'amended', 'withdrawn')),
  standing      TEXT NOT NULL,
  work_date     TEXT NOT NULL CHECK (work_date = '' OR work_date GLOB '????-??-??'),
  engineer_id   TEXT NOT NULL,
  engineer      TEXT NOT NULL,
  revision      INTEGER NOT NULL CHECK (revision > 0),
  schema        INTEGER NOT NULL,
  doc           TEXT NOT NULL CHECK (json_valid(doc)),
  rejected      TEXT NOT NULL CHECK (json_valid(rejected)),
  findings      TEXT NOT NULL CHECK (json_valid(findings)),
  replaces      TEXT NOT NULL,
  number        TEXT NOT NULL DEFAULT '',
  code          TEXT NOT NULL DEFAULT '',
  sha256        TEXT NOT NULL DEFAULT '',
  issued_at     TEXT NOT NULL DEFAULT '',
  replaced_by   TEXT NOT NULL DEFAULT '',
  withdrawn_why TEXT NOT NULL DEFAULT '',
  created_at    TEXT NOT NULL,
  updated_at    TEXT NOT NULL,
  CHECK ((stage = 'draft') = (number = ''))
) STRICT;
CREATE INDEX records_appliance ON records (appliance_n, work_date, n);
CREATE INDEX records_drafts ON records (created_at, n) WHERE stage = 'draft';
CREATE INDEX records_drafts_of ON records (engineer_id, created_at, n) WHERE stage = 'draft';
CREATE INDEX records_drafts_at ON records (appliance_n) WHERE stage = 'draft';
CREATE UNIQUE INDEX records_number ON records (number) WHERE number <> '';
CREATE INDEX records_code ON records (code) WHERE code <> '';

-- +goose StatementBegin
CREATE TRIGGER records_frozen BEFORE UPDATE ON records
WHEN old.stage <> 'draft' AND NOT (
  new.n = old.n AND new.id = old.id AND new.appliance_n = old.appliance_n AND new.purpose = old.purpose AND
  new.standing = old.standing AND new.work_date = old.work_date AND new.engineer_id = old.engineer_id AND
  new.engineer = old.engineer AND new.revision = old.revision AND new.schema = old.schema AND new.doc = old.doc AND
  new.rejected = old.rejected AND new.findings = old.findings AND new.replaces = old.replaces AND
  new.number = old.number AND new.code = old.code AND new.sha256 = old.sha256 AND new.issued_at = old.issued_at AND
  new.created_at = old.created_at AND new.updated_at = old.updated_at AND
  old.stage = 'issued' AND new.stage IN ('amended', 'withdrawn'))
BEGIN SELECT RAISE(ABORT, 'an issued record cannot be changed'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER records_no_delete BEFORE DELETE ON records WHEN old.stage <> 'draft'
BEGIN SELECT RAISE(ABORT, 'an issued record cannot be deleted'); END;
-- +goose StatementEnd

-- What was signed and what was printed, apart from what is listed.
CREATE TABLE issued_documents (
  record_n  INTEGER PRIMARY KEY REFERENCES records (n),
  canonical BLOB NOT NULL,
  seal      TEXT NOT NULL CHECK (json_valid(seal))
) STRICT;
CREATE TABLE issued_prints (
  record_n INTEGER PRIMARY KEY REFERENCES records (n),
  pdf      BLOB NOT NULL
) STRICT;
-- +goose StatementBegin
CREATE TRIGGER issued_documents_no_update BEFORE UPDATE ON issued_documents
BEGIN SELECT RAISE(ABORT, 'an issued document cannot be changed'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER issued_documents_no_delete BEFORE DELETE ON issued_documents
BEGIN SELECT RAISE(ABORT, 'an issued document cannot be deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER issued_prints_no_update BEFORE UPDATE ON issued_prints
BEGIN SELECT RAISE(ABORT, 'an issued print cannot be changed'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER issued_prints_no_delete BEFORE DELETE ON issued_prints
BEGIN SELECT RAISE(ABORT, 'an issued print cannot be deleted'); END;
-- +goose StatementEnd

CREATE TABLE numbers (
  year INTEGER PRIMARY KEY,
  last INTEGER NOT NULL
) STRICT;

-- Versions of a draft that did not become the draft: a save that came too
-- late, or a draft that was discarded.
CREATE TABLE kept_versions (
  n          INTEGER PRIMARY KEY,
  id         TEXT NOT NULL UNIQUE,
  record_id  TEXT NOT NULL,
  why        TEXT NOT NULL,
  revision   INTEGER NOT NULL,
  actor_name TEXT NOT NULL,
  doc        TEXT NOT NULL CHECK (json_valid(doc)),
  rejected   TEXT NOT NULL CHECK (json_valid(rejected)),
  hash       TEXT NOT NULL,
  at         TEXT NOT NULL,
  UNIQUE (record_id, hash)
) STRICT;

CREATE TABLE duties (
  n               INTEGER PRIMARY KEY,
  id              TEXT NOT NULL UNIQUE,
  appliance_n     INTEGER NOT NULL REFERENCES appliances (n),
  kind            TEXT NOT NULL,
  due             TEXT NOT NULL CHECK (due GLOB '????-??-??'),
  why             TEXT NOT NULL,
  source          TEXT NOT NULL CHECK (json_valid(source)),
  state           TEXT NOT NULL CHECK (state IN ('open', 'done', 'lifted')),
  record_n        INTEGER REFERENCES records (n),
  work_date       TEXT NOT NULL,
  closed_record_n INTEGER REFERENCES records (n),
  closed_at       TEXT NOT NULL DEFAULT '',
  closed_by       TEXT NOT NULL DEFAULT '',
  closed_why      TEXT NOT NULL DEFAULT '',
  created_at      TEXT NOT NULL
) STRICT;
CREATE INDEX duties_appliance ON duties (appliance_n, due, n);
CREATE INDEX duties_open ON duties (due, n) WHERE state = 'open';
CREATE INDEX duties_open_kind ON duties (kind, due, n) WHERE state = 'open';
CREATE INDEX duties_record ON duties (record_n) WHERE record_n IS NOT NULL;
CREATE INDEX duties_closed_record ON duties (closed_record_n) WHERE closed_record_n IS NOT NULL;
-- +goose StatementBegin
CREATE TRIGGER duties_no_delete BEFORE DELETE ON duties
BEGIN SELECT RAISE(ABORT, 'a duty is closed, never deleted'); END;
-- +goose StatementEnd
