-- Open duties carry what the register filters by, so that a page of one kind
-- of duty is read from one index.

-- +goose Up
ALTER TABLE duties ADD COLUMN appliance_kind TEXT NOT NULL DEFAULT '';
ALTER TABLE duties ADD COLUMN nation TEXT NOT NULL DEFAULT '';
UPDATE duties SET (appliance_kind, nation) = (SELECT a.kind, a.nation FROM appliances a WHERE a.n = duties.appliance_n);
DROP INDEX duties_open_kind;
CREATE INDEX duties_open_kind ON duties (kind, due, n, appliance_kind, nation, appliance_n) WHERE state = 'open';
