package store

import (
	"fmt"

	"gaugebook/records"
)

// numberRow is the number that was given out last in a year.
type numberRow struct {
	Year int `gorm:"primaryKey;autoIncrement:false"`
	Last int
}

func (numberRow) TableName() string { return "numbers" }

// nextNumber takes the year's next number; it is given back if the
// transaction comes to nothing.
func (t *tx) nextNumber(year int) (string, error) {
	var n int
	err := t.Raw(`INSERT INTO numbers (year, last) VALUES (?, 1)
		ON CONFLICT (year) DO UPDATE SET last = numbers.last + 1
		RETURNING last`, year).Scan(&n).Error
	if err == nil && n == 0 {
		err = fmt.Errorf("no number for %d", year)
	}
	return records.NumberOf(year, n), err
}

// writeIssued writes the record as issued and freezes it.
func (t *tx) writeIssued(row *recordRow, p Plan) error {
	frozen := *p.Issued.Record
	frozen.Findings, frozen.Rejected = p.Issued.Findings, nil
	if err := row.enterRecord(&frozen); err != nil {
		return err
	}
	row.Stage, row.Number = string(records.StageIssued), p.Issued.Number
	row.Code, row.SHA256 = p.Seal.Code, p.Seal.SHA256
	row.IssuedAt, row.UpdatedAt = stamp(p.Issued.IssuedAt), stamp(t.at)
	if err := t.Save(row).Error; err != nil {
		return err
	}
	seal, err := records.MarshalSeal(p.Seal)
	if err != nil {
		return err
	}
	if err := t.Create(&documentRow{row.N, p.Canonical, string(seal)}).Error; err != nil {
		return err
	}
	if p.PDF == nil {
		return nil
	}
	return t.Create(&printRow{row.N, p.PDF}).Error
}

// afterIssue writes what follows from the issue.
func (t *tx) afterIssue(row, replaced *recordRow, p Plan) error {
	if replaced != nil {
		if err := t.Model(replaced).Updates(map[string]any{"stage": string(records.Amended),
			"replaced_by": row.Number}).Error; err != nil {
			return err
		}
		if err := t.cancelMessages(replaced.ID, "record "+replaced.Number+" was amended by "+row.Number); err != nil {
			return err
		}
		gone := *replaced
		gone.ReplacedBy = row.Number
		if err := t.announceRecord(records.EventRecordAmended, gone); err != nil {
			return err
		}
	}
	if err := t.announceRecord(records.EventRecordIssued, *row); err != nil {
		return err
	}
	if err := t.issueDuties(row, replaced, p.Issued.Duties); err != nil {
		return err
	}
	if err := t.attendBookings(row); err != nil {
		return err
	}
	if err := t.takeValues(row, p.Issued.Record.Values); err != nil {
		return err
	}
	if err := t.refresh(row.ApplianceN); err != nil {
		return err
	}
	for _, m := range p.Messages {
		if m.RecordID == "" {
			m.RecordID = row.ID
		}
		if _, err := t.enqueue(m); err != nil {
			return err
		}
	}
	for _, l := range p.Links {
		if _, err := t.addLink(row.N, l); err != nil {
			return err
		}
	}
	return nil
}

// takeValues makes the register say of the appliance what its latest visit
// found.
func (t *tx) takeValues(row *recordRow, vs records.Values) error {
	var later int64
	err := t.Model(&recordRow{}).
		Where("appliance_n = ? AND stage = 'issued' AND work_date > ?", row.ApplianceN, row.WorkDate).
		Limit(1).Count(&later).Error
	if err != nil || later > 0 {
		return err
	}
	var a applianceRow
	if err := t.Where("n = ?", row.ApplianceN).Take(&a).Error; err != nil {
		return err
	}
	return t.saveValues(&a, vs)
}
