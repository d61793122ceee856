-- What instruments are good for, and limits that the owner enters.

-- +goose Up
ALTER TABLE instruments ADD COLUMN accuracy TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(accuracy));

-- Levels where no published one is on file, and limits to be guarded.
CREATE TABLE owner_limits (
  rule TEXT NOT NULL,
  kind TEXT NOT NULL,
  doc  TEXT NOT NULL CHECK (json_valid(doc)),
  PRIMARY KEY (rule, kind)
) STRICT;
