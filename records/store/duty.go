package store

import (
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"gaugebook/records"
)

type dutyRow struct {
	N                                        int64 `gorm:"primaryKey" line:"-"`
	ID                                       string
	ApplianceN                               int64 `line:"appliances"`
	Kind, Due, Why                           string
	Source                                   string `line:"json"`
	State                                    string
	RecordN                                  *int64 `line:"records"`
	WorkDate                                 string
	ClosedRecordN                            *int64 `line:"records"`
	ClosedAt, ClosedBy, ClosedWhy, CreatedAt string
	ApplianceKind                            string `line:"-"` // a copy, as Nation is; see refresh
	Nation                                   string `line:"-"`
}

func (dutyRow) TableName() string { return "duties" }

type dutyView struct {
	Duty           dutyRow `gorm:"embedded"`
	ApplianceID    string
	RecordID       string
	ClosedRecordID string
	MakeModel      string
	Line1          string
	Line2          string
	Town           string
	Postcode       string
}

var dutyColumns = dutyTable.list("d") + `,
	a.id AS appliance_id, a.make_model, p.line1, p.line2, p.town, p.postcode,
	coalesce((SELECT id FROM records WHERE n = d.record_n), '') AS record_id,
	coalesce((SELECT id FROM records WHERE n = d.closed_record_n), '') AS closed_record_id`

func (v dutyView) duty() (records.OpenDuty, error) {
	d := records.OpenDuty{
		ID: v.Duty.ID, ApplianceID: v.ApplianceID, Duty: records.Duty{Kind: records.DutyKind(v.Duty.Kind),
			Due: date(v.Duty.Due), Why: v.Duty.Why},
		State: records.DutyState(v.Duty.State), RecordID: v.RecordID, CreatedAt: instant(v.Duty.CreatedAt),
		ClosedAt: instant(v.Duty.ClosedAt),
		ClosedBy: v.Duty.ClosedBy, ClosedWhy: v.Duty.ClosedWhy, ClosedRecordID: v.ClosedRecordID,
		Appliance: v.MakeModel,
		Address:   records.Property{Line1: v.Line1, Line2: v.Line2, Town: v.Town, Postcode: v.Postcode}.OneLine(),
	}
	if d.State == "open" {
		d.State = ""
	}
	return d, fromJSON(v.Duty.Source, &d.Duty.Source)
}

// findDuties reads the duties (d) that q asks for.
func findDuties(q *gorm.DB) ([]records.OpenDuty, error) {
	rows, err := dutyViews(q)
	if err != nil {
		return nil, err
	}
	return mappedErr(rows, dutyView.duty)
}

func dutyViews(q *gorm.DB) (rows []dutyView, err error) {
	err = q.Table("duties d").
		Joins("JOIN appliances a ON a.n = d.appliance_n").
		Joins("JOIN properties p ON p.n = a.property_n").
		Select(dutyColumns).Find(&rows).Error
	return rows, err
}

// DutyQuery asks for open duties.
type DutyQuery struct {
	Kind     records.DutyKind // "" for all
	DueFrom  records.Date     // zero: no bound
	DueUntil records.Date     // inclusive; zero: no bound
	After    string           // cursor of the page before
	Limit    int
}

// Find returns open duties by date, and the cursor of the next page, "" at
// the end. Errors: Invalid for a cursor that is none.
func (s Duties) Find(ctx context.Context, q DutyQuery) (duties []records.OpenDuty, next string, err error) {
	from, n, err := readCursor("duty", q.After)
	if err != nil {
		return nil, "", err
	}
	limit := pageSize(q.Limit)
	db := s.read(ctx).Where("d.state = 'open' AND (d.due, d.n) > (?, ?)", from, n).Order("d.due, d.n").Limit(limit + 1)
	if q.Kind != "" {
		db = db.Where("d.kind = ?", q.Kind)
	}
	if !q.DueFrom.IsZero() {
		db = db.Where("d.due >= ?", q.DueFrom.String())
	}
	if !q.DueUntil.IsZero() {
		db = db.Where("d.due <= ?", q.DueUntil.String())
	}
	rows, err := dutyViews(db)
	if err != nil {
		return nil, "", explain(err)
	}
	rows, next = paged(rows, limit, func(last dutyView) string { return cursor("duty", last.Duty.Due, last.Duty.N) })
	duties, err = mappedErr(rows, dutyView.duty)
	return duties, next, explain(err)
}

// OfAppliance returns every duty that an appliance ever had, open ones
// first, the earliest of them at the top. Errors: NotFound.
func (s Duties) OfAppliance(ctx context.Context, applianceID string) (duties []records.OpenDuty, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var a applianceRow
		if err := one(db.Select("n").Where("id = ?", applianceID), &a, "appliance", applianceID); err != nil {
			return err
		}
		duties, err = findDuties(db.Where("d.appliance_n = ?", a.N).Order("d.state <> 'open', d.due, d.n"))
		return err
	})
	return duties, err
}

// Add adds a duty that no record gave rise to, such as a service that is
// due when an appliance is taken over. Errors: Invalid, NotFound, Conflict
// when the appliance is retired.
func (s Duties) Add(ctx context.Context, actor records.Actor, applianceID string,
	d records.Duty) (records.OpenDuty, error) {
	if !slices.Contains(records.DutyKinds, d.Kind) {
		return records.OpenDuty{}, &records.Error{Kind: records.Invalid, Field: "kind", Label: "Duty",
			Value: clip(string(d.Kind)), Want: fmt.Sprintf("one of %v", records.DutyKinds)}
	}
	if d.Due.IsZero() {
		return records.OpenDuty{}, &records.Error{Kind: records.Invalid, Field: "due", Label: "Due",
			Want: "a date as YYYY-MM-DD"}
	}
	var errs records.Errors
	if d.Why = records.CheckLine(&errs, "why", "Why", d.Why, 0, 400); len(errs) > 0 {
		return records.OpenDuty{}, errs
	}
	var out []records.OpenDuty
	err := s.write(ctx, actor, func(t *tx) error {
		a, err := t.appliance(applianceID)
		if err != nil {
			return err
		}
		if a.Retired {
			return records.Fail(records.Conflict, "the appliance was retired: "+a.RetiredWhy)
		}
		row, err := t.openDuty(a.N, nil, records.Date{}, d) // no visit: any visit fulfils it
		if err != nil {
			return err
		}
		if err := t.refresh(a.N); err != nil {
			return err
		}
		if out, err = findDuties(t.Where("d.n = ?", row.N)); err != nil {
			return err
		}
		return t.log("duty added", row.ID, detail{"appliance": applianceID, "kind": d.Kind, "due": d.Due})
	})
	if err != nil {
		return records.OpenDuty{}, err
	}
	return out[0], nil
}

func (t *tx) openDuty(applianceN int64, recordN *int64, work records.Date, d records.Duty) (dutyRow, error) {
	source, err := toJSON(d.Source)
	if err != nil {
		return dutyRow{}, err
	}
	row := dutyRow{ID: t.newID(), ApplianceN: applianceN, Kind: string(d.Kind), Due: d.Due.String(), Why: d.Why,
		Source: source, State: "open", RecordN: recordN, WorkDate: work.String(), CreatedAt: stamp(t.at)}
	return row, t.Create(&row).Error
}

// closeDuties closes the open duties that where selects.
func (t *tx) closeDuties(state records.DutyState, recordN *int64, why, where string, args ...any) error {
	return t.Model(&dutyRow{}).Where("state = 'open'").Where(where, args...).Updates(map[string]any{
		"state": string(state), "closed_record_n": recordN, "closed_at": stamp(t.at), "closed_by": t.actor.Name,
		"closed_why": why}).Error
}

// Lift closes a duty that no longer holds. Errors: Invalid without a
// reason; NotFound; Conflict when it is closed already.
func (s Duties) Lift(ctx context.Context, actor records.Actor, id, why string) error {
	return s.close(ctx, actor, id, records.Lifted, why)
}

// Finish closes a duty that was fulfilled other than by a record, such as
// a notification that has been sent. Errors: as Lift.
func (s Duties) Finish(ctx context.Context, actor records.Actor, id, how string) error {
	return s.close(ctx, actor, id, records.Done, how)
}

// Of refuses a duty that is not of the appliance: it is reached through its own
// only. Errors: NotFound.
func (s Duties) Of(ctx context.Context, applianceID, id string) error {
	var n int64
	err := s.read(ctx).Model(&dutyRow{}).
		Where("id = ? AND appliance_n = (SELECT n FROM appliances WHERE id = ?)", id, applianceID).Count(&n).Error
	if err == nil && n == 0 {
		err = notFound("duty", id)
	}
	return explain(err)
}

func (s Duties) close(ctx context.Context, actor records.Actor, id string, state records.DutyState, why string) error {
	why, err := records.CheckReason(why)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		var row dutyRow
		if err := one(t.Where("id = ?", id), &row, "duty", id); err != nil {
			return err
		}
		if row.State != "open" {
			return records.Fail(records.Conflict, "this duty is already "+row.State+": "+row.ClosedWhy)
		}
		if err := t.closeDuties(state, nil, why, "n = ?", row.N); err != nil {
			return err
		}
		if err := t.refresh(row.ApplianceN); err != nil {
			return err
		}
		return t.log("duty "+string(state), id, detail{"kind": row.Kind, "due": row.Due, "why": why})
	})
}
