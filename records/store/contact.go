package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

type attemptRow struct {
	N                                 int64 `gorm:"primaryKey" line:"-"`
	ID                                string
	ApplianceN                        int64 `line:"appliances"`
	At, ActorID, ActorName, How, Note string
	NextAction                        string
}

func (attemptRow) TableName() string { return "contact_attempts" }

func (r attemptRow) attempt() records.ContactAttempt {
	return records.ContactAttempt{ID: r.ID, At: instant(r.At), By: records.Actor{ID: r.ActorID, Name: r.ActorName},
		How: r.How, Note: r.Note, NextAction: date(r.NextAction)}
}

// AddContactAttempt notes that somebody tried to reach the customer about an
// appliance. Errors: Invalid, NotFound.
func (s Chase) AddContactAttempt(ctx context.Context, actor records.Actor, applianceID, how, text string,
	next records.Date) (records.ContactAttempt, error) {
	entry, err := records.ContactAttempt{How: how, Note: text}.Checked()
	if err != nil {
		return records.ContactAttempt{}, err
	}
	how, text = entry.How, entry.Note
	var row attemptRow
	err = s.write(ctx, actor, func(t *tx) error {
		a, err := t.appliance(applianceID)
		if err != nil {
			return err
		}
		row = attemptRow{ID: t.newID(), ApplianceN: a.N, At: stamp(t.at), ActorID: actor.ID, ActorName: actor.Name,
			How: how, Note: text, NextAction: next.String()}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("contact attempt", applianceID, detail{"how": how, "attempt": row.ID})
	})
	return row.attempt(), err
}

// ContactAttempts returns the chase log of an appliance, newest first.
// Errors: NotFound.
func (s Chase) ContactAttempts(ctx context.Context, applianceID string) (out []records.ContactAttempt, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var a applianceRow
		if err := one(db.Select("n").Where("id = ?", applianceID), &a, "appliance", applianceID); err != nil {
			return err
		}
		var rows []attemptRow
		err := db.Where("appliance_n = ?", a.N).Order("n DESC").Limit(500).Find(&rows).Error
		out = mapped(rows, attemptRow.attempt)
		return err
	})
	return out, err
}

// VisitRequest is a customer's wish for a visit, from the page of their
// record.
type VisitRequest struct {
	ID        string
	Record    RecordLine
	Text      string
	At        time.Time
	HandledAt time.Time // zero: waiting
	HandledBy string
}

type visitRow struct {
	N                              int64 `gorm:"primaryKey" line:"-"`
	ID                             string
	RecordN                        int64 `line:"records"`
	Text, At, HandledAt, HandledBy string
}

func (visitRow) TableName() string { return "visit_requests" }

// openRequests is how many requests about one record may wait at a time: the
// page that makes them is open to whoever has the link.
const openRequests = 5

// AddVisit stores a customer's request. Errors: Invalid; NotFound;
// Conflict when several are waiting already.
func (s Requests) AddVisit(ctx context.Context, recordID, text string) (id string, err error) {
	var errs records.Errors
	if text = records.CheckNote(&errs, "text", "What we can do for you", text, 1, 2000); len(errs) > 0 {
		return "", errs
	}
	err = s.write(ctx, records.Actor{Name: "customer"}, func(t *tx) error {
		var r recordRow
		if err := one(t.Where("id = ? AND number <> ''", recordID), &r, "issued record", recordID); err != nil {
			return err
		}
		var waiting int64
		open := t.Model(&visitRow{}).Where("record_n = ? AND handled_at = ''", r.N)
		if err := open.Count(&waiting).Error; err != nil {
			return err
		}
		if waiting >= openRequests {
			return records.Fail(records.Conflict,
				"your earlier requests have been received and are waiting for an answer")
		}
		row := visitRow{ID: t.newID(), RecordN: r.N, Text: text, At: stamp(t.at)}
		id = row.ID
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		return t.log("visit requested", recordID, detail{"request": id})
	})
	return id, err
}

// Visits returns the requests that wait, oldest first.
func (s Requests) Visits(ctx context.Context) (out []VisitRequest, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		var rows []visitRow
		if err := db.Where("handled_at = ''").Order("n").Limit(500).Find(&rows).Error; err != nil {
			return err
		}
		out, err = mappedErr(rows, func(v visitRow) (VisitRequest, error) {
			lines, err := findLines(db.Where("r.n = ?", v.RecordN))
			if err != nil {
				return VisitRequest{}, err
			}
			return VisitRequest{ID: v.ID, Record: lines[0], Text: v.Text, At: instant(v.At),
				HandledAt: instant(v.HandledAt), HandledBy: v.HandledBy}, nil
		})
		return err
	})
	return out, err
}

// HandleVisit marks a request as dealt with. Errors: NotFound, Conflict when it
// was already.
func (s Requests) HandleVisit(ctx context.Context, actor records.Actor, id string) error {
	return s.write(ctx, actor, func(t *tx) error { return t.handleVisit(id) })
}

func (t *tx) handleVisit(id string) error {
	var row visitRow
	if err := one(t.Where("id = ?", id), &row, "visit request", id); err != nil {
		return err
	}
	if row.HandledAt != "" {
		return records.Fail(records.Conflict, "the request was dealt with by "+row.HandledBy)
	}
	if err := t.Model(&row).Updates(map[string]any{"handled_at": stamp(t.at),
		"handled_by": t.actor.Name}).Error; err != nil {
		return err
	}
	return t.log("visit request handled", id, nil)
}
