package store

import (
	"context"
	"reflect"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// Basis is all that a record is issued on, read at one moment.
type Basis struct {
	Number string    // that the record gets
	At     time.Time // of issue: UTC, whole seconds
	Draft  *records.Record
	Holder records.Person // whose the draft is, as they are on the day of issue
	// Who and where are those of the day of issue, not of the first reading.
	Property  records.Property
	Contact   records.Contact
	Firm      records.Firm
	DropBands []records.DropBands
	Limits    []records.OwnerLimit
	// Earlier is the readings of the latest record in force, nil if there is
	// none; Visits are the followed readings of the last ones, oldest first. A
	// record that this one amends is no earlier visit.
	Earlier records.Values
	Visits  []records.EarlierVisit
	// LandlordDeadline is the day set for the appliance's landlord check before
	// this record; of an amendment, before the record it replaces. Zero if none.
	LandlordDeadline records.Date
	// Log is the newest entry of the audit log, which the record names. It may be
	// older than the record by what was written while that was prepared.
	Log *records.LogHead
}

// Facts is what the rules may know beyond the record itself.
func (b Basis) Facts() records.Facts {
	return records.Facts{DropBands: b.DropBands, OwnerLimits: b.Limits, Earlier: b.Earlier}
}

// sameFacts reports whether two bases differ in number, time and what the log
// has grown to at most.
func (b Basis) sameFacts(other Basis) bool {
	b.Number, b.At, b.Log = other.Number, other.At, other.Log
	return reflect.DeepEqual(b, other)
}

// mostVisits is how many earlier visits a record shows the readings of.
const mostVisits = 6

// readBasis reads all but number and time, once nothing stands in the way of
// issuing. The rows are those of the draft and of the record it replaces, nil
// for none.
func readBasis(db *gorm.DB, draftID string, revision int) (b Basis, row recordRow, replaced *recordRow, err error) {
	if row, b.Draft, err = readRecord(db, draftID); err != nil {
		return b, row, nil, err
	}
	if replaced, err = issuable(db, row, b.Draft, revision); err != nil {
		return b, row, nil, err
	}
	if b.Holder, err = readHolder(db, row); err != nil {
		return b, row, nil, err
	}
	var p propertyRow
	err = db.Where("n = (SELECT property_n FROM appliances WHERE n = ?)", row.ApplianceN).Take(&p).Error
	if err != nil {
		return b, row, nil, err
	}
	b.Property, b.Contact = p.entry().Property, p.entry().Contact
	if b.Firm, err = readFirm(db); err != nil {
		return b, row, nil, err
	}
	if b.DropBands, err = readDropBands(db); err != nil {
		return b, row, nil, err
	}
	if b.Limits, err = readOwnerLimits(db); err != nil {
		return b, row, nil, err
	}
	if b.Earlier, err = earlierValues(db, row.ApplianceN, row.Replaces); err != nil {
		return b, row, nil, err
	}
	if b.Visits, err = earlierVisits(db, row); err != nil {
		return b, row, nil, err
	}
	if b.LandlordDeadline, err = landlordDeadline(db, row.ApplianceN, replaced); err != nil {
		return b, row, nil, err
	}
	last, err := newestEntry(db)
	b.Log = last.head()
	return b, row, replaced, err
}

// earlierValues returns the readings of the latest record of an appliance that
// is in force, or nil; except is the number of one to leave out.
func earlierValues(db *gorm.DB, applianceN int64, except string) (records.Values, error) {
	var rows []recordRow
	err := db.Where("appliance_n = ? AND stage = 'issued' AND number <> ?", applianceN, except).
		Order("work_date DESC, n DESC").Limit(1).Find(&rows).Error
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	r, err := rows[0].record("")
	if err != nil {
		return nil, err
	}
	return r.Values, nil
}

// earlierVisits returns the visits before that of a draft.
func earlierVisits(db *gorm.DB, draft recordRow) ([]records.EarlierVisit, error) {
	return followed(db.Where("number <> ? AND work_date <= ?", draft.Replaces, draft.WorkDate), draft.ApplianceN,
		mostVisits)
}

func landlordDeadline(db *gorm.DB, applianceN int64, replaced *recordRow) (records.Date, error) {
	q := db.Where("appliance_n = ? AND kind = ?", applianceN, records.LandlordCheckDue)
	if replaced == nil {
		q = q.Where("state = 'open'")
	} else {
		q = q.Where("closed_record_n = ?", replaced.N)
	}
	var rows []dutyRow
	err := q.Order("due, n").Limit(1).Find(&rows).Error
	if err != nil || len(rows) == 0 {
		return records.Date{}, err
	}
	return date(rows[0].Due), nil
}

// basisAhead reads what a draft would be issued on now. The number is the
// year's next, which somebody else may take first.
func (s *db) basisAhead(ctx context.Context, draftID string, revision int) (b Basis, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		if b, _, _, err = readBasis(db, draftID, revision); err != nil {
			return err
		}
		b.At = s.opt.Now().UTC().Truncate(time.Second)
		var years []numberRow
		err := db.Where("year = ?", b.At.Year()).Limit(1).Find(&years).Error
		years = append(years, numberRow{}) // the first of a year
		b.Number = records.NumberOf(b.At.Year(), years[0].Last+1)
		return err
	})
	return b, err
}
