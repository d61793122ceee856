-- From whom a draft was taken over, as JSON, oldest first; '' for nobody.

-- +goose Up
ALTER TABLE records ADD COLUMN taken_over TEXT NOT NULL DEFAULT '' CHECK (taken_over = '' OR json_valid(taken_over));
DROP TRIGGER records_frozen;
-- +goose StatementBegin
CREATE TRIGGER records_frozen BEFORE UPDATE ON records
WHEN old.stage <> 'draft' AND NOT (
  new.n = old.n AND new.id = old.id AND new.appliance_n = old.appliance_n AND new.purpose = old.purpose AND
  new.standing = old.standing AND new.work_date = old.work_date AND new.engineer_id = old.engineer_id AND
  new.engineer = old.engineer AND new.revision = old.revision AND new.schema = old.schema AND new.doc = old.doc AND
  new.rejected = old.rejected AND new.findings = old.findings AND new.replaces = old.replaces AND
  new.number = old.number AND new.code = old.code AND new.sha256 = old.sha256 AND new.issued_at = old.issued_at AND
  new.created_at = old.created_at AND new.updated_at = old.updated_at AND new.taken_over = old.taken_over AND
  old.stage = 'issued' AND new.stage IN ('amended', 'withdrawn'))
BEGIN SELECT RAISE(ABORT, 'an issued record cannot be changed'); END;
-- +goose StatementEnd
