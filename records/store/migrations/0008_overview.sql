-- What the owner's overview and the register's filters ask for, counted as it
-- comes about, so that no page reads all records.

-- +goose Up
-- First issues by month of the work; clear are those with every required
-- finding settled and no condition report. What is amended or withdrawn later
-- stays counted.
CREATE TABLE issue_counts (
  month       TEXT NOT NULL CHECK (month GLOB '????-??'),
  engineer_id TEXT NOT NULL,
  kind        TEXT NOT NULL,
  issued      INTEGER NOT NULL,
  clear       INTEGER NOT NULL,
  PRIMARY KEY (month, engineer_id, kind)
) STRICT, WITHOUT ROWID;
-- +goose StatementBegin
CREATE TRIGGER records_counted_issued AFTER UPDATE OF stage ON records WHEN old.stage = 'draft' AND new.stage = 'issued' AND new.replaces = ''
BEGIN
  INSERT INTO issue_counts VALUES (substr(new.work_date, 1, 7), new.engineer_id, coalesce(json_extract(new.doc, '$.sections.appliance.kind'), ''), 1,
    new.standing = 'clear' AND json_extract(new.doc, '$.condition') IS NULL)
  ON CONFLICT DO UPDATE SET issued = issued + 1, clear = clear + excluded.clear;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER records_counted_inserted AFTER INSERT ON records WHEN new.stage <> 'draft' AND new.replaces = ''
BEGIN
  INSERT INTO issue_counts VALUES (substr(new.work_date, 1, 7), new.engineer_id, coalesce(json_extract(new.doc, '$.sections.appliance.kind'), ''), 1,
    new.standing = 'clear' AND json_extract(new.doc, '$.condition') IS NULL)
  ON CONFLICT DO UPDATE SET issued = issued + 1, clear = clear + excluded.clear;
END;
-- +goose StatementEnd
INSERT INTO issue_counts
  SELECT substr(work_date, 1, 7), engineer_id, coalesce(json_extract(doc, '$.sections.appliance.kind'), ''), count(*),
    sum(standing = 'clear' AND json_extract(doc, '$.condition') IS NULL)
  FROM records WHERE stage <> 'draft' AND replaces = '' GROUP BY 1, 2, 3;

-- Appliances whose last record names an instrument that was out of
-- calibration on the day of the work.
CREATE TABLE uncalibrated (appliance_n INTEGER PRIMARY KEY REFERENCES appliances (n)) STRICT;
-- +goose StatementBegin
CREATE TRIGGER appliances_calibration AFTER UPDATE OF last_record_n ON appliances WHEN new.last_record_n IS NOT old.last_record_n
BEGIN
  DELETE FROM uncalibrated WHERE appliance_n = new.n;
  INSERT INTO uncalibrated SELECT new.n FROM records r WHERE r.n = new.last_record_n AND EXISTS (
    SELECT 1 FROM json_each(r.doc, '$.instruments') i WHERE json_extract(i.value, '$.calibration_due') < r.work_date);
END;
-- +goose StatementEnd
INSERT INTO uncalibrated SELECT a.n FROM appliances a JOIN records r ON r.n = a.last_record_n WHERE EXISTS (
  SELECT 1 FROM json_each(r.doc, '$.instruments') i WHERE json_extract(i.value, '$.calibration_due') < r.work_date);
