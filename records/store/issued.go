package store

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"gorm.io/gorm"

	"gaugebook/records"
)

// IssuedRow is an issued record with what proves it.
type IssuedRow struct {
	RecordLine
	Code, SHA256 string
	Canonical    []byte
	Seal         records.Seal
}

type documentRow struct {
	RecordN   int64 `gorm:"primaryKey;autoIncrement:false"`
	Canonical []byte
	Seal      string
}

func (documentRow) TableName() string { return "issued_documents" }

func readIssued(db *gorm.DB, n int64) (IssuedRow, error) {
	rows, err := findLineRows(db.Where("r.n = ?", n))
	if err != nil {
		return IssuedRow{}, err
	}
	var doc documentRow
	if err := db.Where("record_n = ?", n).Take(&doc).Error; err != nil {
		return IssuedRow{}, err
	}
	seal, err := records.UnmarshalSeal([]byte(doc.Seal))
	return IssuedRow{RecordLine: rows[0].line(), Code: rows[0].Rec.Code, SHA256: rows[0].Rec.SHA256,
		Canonical: doc.Canonical, Seal: seal}, err
}

// Issued returns an issued record by its number or id. Errors: NotFound, also
// for a draft.
func (s Records) Issued(ctx context.Context, ref string) (out IssuedRow, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		for _, where := range []string{"number <> '' AND number = ?", "id = ? AND number <> ''"} {
			var n []int64
			if err := db.Model(&recordRow{}).Where(where, ref).Limit(1).Pluck("n", &n).Error; err != nil {
				return err
			}
			if len(n) > 0 {
				out, err = readIssued(db, n[0])
				return err
			}
		}
		return notFound("issued record", ref)
	})
	return out, err
}

// Withdraw ends the standing of an issued record. The record itself, its
// number and its documents stay as they are; its open duties are lifted,
// those it had fulfilled are open again, and messages not yet sent are
// stopped. Errors: Invalid without a reason; NotFound; Conflict when it is a
// draft, amended or withdrawn.
func (s Records) Withdraw(ctx context.Context, actor records.Actor, id, why string) error {
	why, err := records.CheckReason(why)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		var row recordRow
		if err := one(t.Where("id = ?", id), &row, "record", id); err != nil {
			return err
		}
		if row.Stage != string(records.StageIssued) {
			return records.Fail(records.Conflict, "only a record in force can be withdrawn; this one is "+
				row.Stage)
		}
		if err := t.Model(&row).Updates(map[string]any{"stage": string(records.Withdrawn),
			"withdrawn_why": why}).Error; err != nil {
			return err
		}
		row.WithdrawnWhy = why
		if err := t.announceRecord(records.EventRecordWithdrawn, row); err != nil {
			return err
		}
		if err := t.withdrawDuties(row); err != nil {
			return err
		}
		if err := t.cancelMessages(row.ID, "record "+row.Number+" was withdrawn"); err != nil {
			return err
		}
		if err := t.refresh(row.ApplianceN); err != nil {
			return err
		}
		return t.log("record withdrawn", id, detail{"number": row.Number, "why": why})
	})
}

// Unprinted returns the ids of issued records that have no print yet.
func (s Records) Unprinted(ctx context.Context) (ids []string, err error) {
	err = s.read(ctx).Raw(`SELECT r.id FROM records r WHERE r.number <> ''
		AND NOT EXISTS (SELECT 1 FROM issued_prints p WHERE p.record_n = r.n) ORDER BY r.number`).Scan(&ids).Error
	return ids, explain(err)
}

func notAsIssued(number string) error {
	return records.Fail(records.Internal, "record "+number+" is not as it was issued")
}

// verifyPrints looks for a record that the audit log says was printed and that
// has no print. The entries of earlier programs do not say it: they printed
// every record as they issued it.
func verifyPrints(db *gorm.DB) error {
	var lost []string
	err := db.Raw(`SELECT r.number FROM records r JOIN audit l ON l.subject = r.id
		WHERE r.number <> '' AND NOT EXISTS (SELECT 1 FROM issued_prints p WHERE p.record_n = r.n)
		AND (l.what = 'record printed' OR l.what = 'record issued' AND l.detail NOT LIKE '%"printed":false%')
		ORDER BY r.number LIMIT 1`).Scan(&lost).Error
	if err == nil && len(lost) > 0 {
		err = notAsIssued(lost[0])
	}
	return err
}

// verifyNumbers compares the numbers of the records of each year, and those
// passed over, with those given out. They are all different, so as many as the
// highest leave no gap.
func verifyNumbers(db *gorm.DB) error {
	var years []numberRow
	if err := db.Order("year").Find(&years).Error; err != nil {
		return err
	}
	rows, err := db.Raw("SELECT number FROM records WHERE number <> ''").Rows()
	if err != nil {
		return err
	}
	defer rows.Close()
	count, highest := map[int]int{}, map[int]int{}
	var skipped []skippedRow
	if err := db.Order("year, first").Find(&skipped).Error; err != nil {
		return err
	}
	for _, r := range skipped {
		count[r.Year] += r.Last - r.First + 1
		highest[r.Year] = max(highest[r.Year], r.Last)
	}
	for rows.Next() {
		var number string
		if err := rows.Scan(&number); err != nil {
			return err
		}
		year, n, err := records.ParseNumber(number)
		if err != nil {
			return fmt.Errorf("record number %q: %v", number, err)
		}
		count[year]++
		highest[year] = max(highest[year], n)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	given := map[int]int{}
	for _, y := range years {
		given[y.Year] = y.Last
	}
	for year := range count {
		given[year] += 0 // a year of which no number was given out
	}
	for _, year := range slices.Sorted(maps.Keys(given)) {
		if last := given[year]; count[year] != last || highest[year] != last {
			return records.Fail(records.Internal,
				fmt.Sprintf("the numbers of %d have a gap: %d given out, %d records, the highest %d", year, last,
					count[year], highest[year]))
		}
	}
	return nil
}
