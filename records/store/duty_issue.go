package store

import (
	"slices"

	"gaugebook/records"
)

// fulfils returns the kinds of duty that a visit of the purpose fulfils.
func fulfils(p records.Purpose) []records.DutyKind {
	switch p {
	case records.Commissioning, records.Service:
		return []records.DutyKind{records.AnnualService}
	case records.LandlordCheck:
		return []records.DutyKind{records.LandlordCheckDue}
	}
	return nil
}

// recurring are the duties that every visit renews: an appliance has one open
// at a time, that of the latest visit. The others stay open until each has been
// dealt with.
var recurring = []records.DutyKind{records.AnnualService, records.LandlordCheckDue, records.InhibitorRecheck}

// issueDuties moves the duties on when record is issued, in place of replaced
// if that is not nil: what the visit fulfils is done, what follows from it is
// open.
func (t *tx) issueDuties(record, replaced *recordRow, duties []records.Duty) error {
	work := date(record.WorkDate)
	var before []dutyRow
	if replaced != nil {
		// What the replaced record fulfilled stays fulfilled, by this one.
		if err := t.Model(&dutyRow{}).Where("closed_record_n = ?", replaced.N).Update("closed_record_n",
			record.N).Error; err != nil {
			return err
		}
		if err := t.Where("record_n = ?", replaced.N).Order("n").Find(&before).Error; err != nil {
			return err
		}
		if err := t.closeDuties(records.Lifted, nil, "record "+replaced.Number+" was amended by "+record.Number,
			"record_n = ?", replaced.N); err != nil {
			return err
		}
	}
	if kinds := fulfils(records.Purpose(record.Purpose)); kinds != nil {
		err := t.closeDuties(records.Done, &record.N, record.Purpose+" on "+work.Long(),
			"appliance_n = ? AND kind IN ? AND work_date <= ?", record.ApplianceN, kinds, record.WorkDate)
		if err != nil {
			return err
		}
	}
	for _, d := range duties {
		if err := t.issueDuty(record, before, d); err != nil {
			return err
		}
	}
	return nil
}

// issueDuty opens one duty, unless it is settled already: by a later visit,
// or because the same duty of the record before its amendment was.
func (t *tx) issueDuty(record *recordRow, before []dutyRow, d records.Duty) error {
	work := date(record.WorkDate)
	if slices.Contains(recurring, d.Kind) {
		var later []dutyRow
		err := t.Where("appliance_n = ? AND kind = ? AND state = 'open' AND work_date > ?",
			record.ApplianceN, d.Kind, record.WorkDate).Limit(1).Find(&later).Error
		if err != nil {
			return err
		}
		if len(later) > 0 {
			return t.openClosed(record, d, records.Done, later[0].RecordN, "a later visit set it")
		}
		err = t.closeDuties(records.Done, &record.N, "renewed on "+work.Long(), "appliance_n = ? AND kind = ?",
			record.ApplianceN, d.Kind)
		if err != nil {
			return err
		}
	}
	for _, b := range before {
		if b.Kind == string(d.Kind) && b.Due == d.Due.String() && b.State != "open" {
			return t.openClosed(record, d, records.DutyState(b.State), b.ClosedRecordN, b.ClosedWhy)
		}
	}
	_, err := t.openDuty(record.ApplianceN, &record.N, work, d)
	return err
}

func (t *tx) openClosed(record *recordRow, d records.Duty, state records.DutyState, by *int64, why string) error {
	row, err := t.openDuty(record.ApplianceN, &record.N, date(record.WorkDate), d)
	if err != nil {
		return err
	}
	return t.closeDuties(state, by, why, "n = ?", row.N)
}

// withdrawDuties undoes what the record did to the duties: its own are
// lifted, and those it had fulfilled are open again as far as the record that
// they follow from is in force.
func (t *tx) withdrawDuties(record recordRow) error {
	if err := t.closeDuties(records.Lifted, nil, "record "+record.Number+" was withdrawn", "record_n = ?",
		record.N); err != nil {
		return err
	}
	return t.Model(&dutyRow{}).
		Where(`closed_record_n = ? AND state = 'done' AND (record_n IS NULL OR record_n IN (
			SELECT n FROM records WHERE appliance_n = ? AND stage = 'issued'))`, record.N, record.ApplianceN).
		Updates(map[string]any{"state": "open", "closed_record_n": nil, "closed_at": "", "closed_by": "",
			"closed_why": ""}).Error
}
