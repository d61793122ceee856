package store

import (
	"bytes"
	"context"
	"errors"

	"gaugebook/records"
)

type printRow struct {
	RecordN int64 `gorm:"primaryKey;autoIncrement:false"`
	PDF     []byte
}

func (printRow) TableName() string { return "issued_prints" }

func isPDF(data []byte) bool { return bytes.HasPrefix(data, []byte("%PDF-")) }

var errNoPDF = errors.New("the printed record is no PDF")

// PDF returns the printed record as it was issued, by the record's id.
// Errors: NotFound, also for a record that has not been printed yet.
func (s Records) PDF(ctx context.Context, id string) ([]byte, error) {
	var row printRow
	err := one(s.read(ctx).Where("record_n = (SELECT n FROM records WHERE id = ?)", id), &row, "printed record", id)
	return row.PDF, explain(err)
}

// KeepPDF stores the print of an issued record that has none, and returns the
// one that is stored from then on. Errors: NotFound; Internal for what is no
// PDF.
func (s Records) KeepPDF(ctx context.Context, actor records.Actor, id string, pdf []byte) (kept []byte, err error) {
	if !isPDF(pdf) {
		return nil, explain(errNoPDF)
	}
	err = s.write(ctx, actor, func(t *tx) error {
		row, err := t.issuedRecord(id)
		if err != nil {
			return err
		}
		var prints []printRow
		if err := t.Where("record_n = ?", row.N).Limit(1).Find(&prints).Error; err != nil {
			return err
		}
		if len(prints) > 0 {
			kept = prints[0].PDF
			return nil
		}
		kept = pdf
		if err := t.Create(&printRow{row.N, pdf}).Error; err != nil {
			return err
		}
		return t.log("record printed", id, detail{"number": row.Number})
	})
	return kept, err
}
