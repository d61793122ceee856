package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// RecordLine is a record as lists show it.
type RecordLine struct {
	ID           string
	ApplianceID  string
	Number       string // "" for a draft
	Purpose      records.Purpose
	Stage        records.Stage
	Standing     records.Standing
	WorkDate     records.Date
	IssuedAt     time.Time // zero for a draft
	EngineerID   string    // who started it
	Engineer     string
	Revision     int
	Replaces     string // number of the record that it amends
	ReplacedBy   string // number of the record that amends it
	WithdrawnWhy string
	CreatedAt    time.Time
	UpdatedAt    time.Time
	Appliance    string // make and model
	Address      string
}

type lineRow struct {
	Rec                                        recordRow `gorm:"embedded"`
	ApplianceID, MakeModel, Line1, Line2, Town string
	Postcode                                   string
}

var lineColumns = recordTable.list("r", recordDocs...) +
	", a.id AS appliance_id, a.make_model, p.line1, p.line2, p.town, p.postcode"

func (l lineRow) line() RecordLine {
	r, address := l.Rec, records.Property{Line1: l.Line1, Line2: l.Line2, Town: l.Town, Postcode: l.Postcode}
	return RecordLine{
		ID: r.ID, ApplianceID: l.ApplianceID, Number: r.Number, Purpose: records.Purpose(r.Purpose),
		Stage:    records.Stage(r.Stage),
		Standing: records.Standing(r.Standing), WorkDate: date(r.WorkDate), IssuedAt: instant(r.IssuedAt),
		EngineerID: r.EngineerID,
		Engineer:   r.Engineer, Revision: r.Revision, Replaces: r.Replaces, ReplacedBy: r.ReplacedBy,
		WithdrawnWhy: r.WithdrawnWhy,
		CreatedAt:    instant(r.CreatedAt), UpdatedAt: instant(r.UpdatedAt), Appliance: l.MakeModel,
		Address: address.OneLine(),
	}
}

// findLines reads the lines of the records (r) that q asks for.
func findLines(q *gorm.DB) ([]RecordLine, error) {
	rows, err := findLineRows(q)
	return mapped(rows, lineRow.line), err
}

func findLineRows(q *gorm.DB) ([]lineRow, error) {
	var rows []lineRow
	err := q.Table("records r").
		Joins("JOIN appliances a ON a.n = r.appliance_n").
		Joins("JOIN properties p ON p.n = a.property_n").
		Select(lineColumns).Find(&rows).Error
	return rows, err
}

// History returns the records of an appliance, drafts too, the latest visit
// first. Errors: NotFound.
func (s Records) History(ctx context.Context, applianceID string) (lines []RecordLine, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var a applianceRow
		if err := one(db.Select("n").Where("id = ?", applianceID), &a, "appliance", applianceID); err != nil {
			return err
		}
		lines, err = findLines(db.Where("r.appliance_n = ?", a.N).Order("r.work_date DESC, r.n DESC"))
		return err
	})
	return lines, err
}

// Drafts returns the drafts that an engineer started, or everybody's for "",
// the oldest first.
func (s Records) Drafts(ctx context.Context, engineerID string) ([]RecordLine, error) {
	q := s.read(ctx).Where("r.stage = 'draft'").Order("r.created_at, r.n").Limit(500)
	if engineerID != "" {
		q = q.Where("r.engineer_id = ?", engineerID)
	}
	lines, err := findLines(q)
	return lines, explain(err)
}

// Earlier returns the readings of the latest issued record of an appliance,
// which a new one is compared with, or nil. A draft that amends a record
// names it in except: it is no earlier visit.
func (s Records) Earlier(ctx context.Context, applianceID, except string) (vs records.Values, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var a applianceRow
		if err := one(db.Select("n").Where("id = ?", applianceID), &a, "appliance", applianceID); err != nil {
			return err
		}
		vs, err = earlierValues(db, a.N, except)
		return err
	})
	return vs, err
}
