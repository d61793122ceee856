-- How much a key lets its program do, until when, and when it last did. Keys of
-- before enter readings and issue nothing: nobody made them for that themselves.

-- +goose Up
ALTER TABLE keys ADD COLUMN scope TEXT NOT NULL DEFAULT 'enter' CHECK (scope IN ('read', 'enter', 'issue'));
ALTER TABLE keys ADD COLUMN expires_at TEXT NOT NULL DEFAULT '';
ALTER TABLE keys ADD COLUMN last_used_at TEXT NOT NULL DEFAULT '';
