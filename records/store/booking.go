package store

import (
	"context"

	"gorm.io/gorm"

	"gaugebook/records"
)

type bookingRow struct {
	N                                       int64 `gorm:"primaryKey" line:"-"`
	ID                                      string
	ApplianceN                              int64 `line:"appliances"`
	EngineerID, OnDate, FromTime, UntilTime string
	Note, State, Why                        string
	RecordN                                 *int64 `line:"records"`
	Sequence                                int
	CreatedAt, UpdatedAt                    string
}

func (bookingRow) TableName() string { return "bookings" }

type bookingDutyRow struct {
	DutyN    int64 `gorm:"primaryKey;autoIncrement:false" line:"duties"`
	BookingN int64 `gorm:"primaryKey;autoIncrement:false" line:"bookings"`
}

func (bookingDutyRow) TableName() string { return "booking_duties" }

// Add books a visit; a customer's request that it answers is marked as
// dealt with. Errors: Invalid, also for a person who does not take readings or whose
// competence runs out before the day; NotFound; Conflict when a duty is
// closed or has a booking, or the appliance is retired.
func (s Bookings) Add(ctx context.Context, actor records.Actor, b records.NewBooking) (out records.Booking, err error) {
	if b, err = b.Checked(); err != nil {
		return records.Booking{}, err
	}
	err = s.write(ctx, actor, func(t *tx) error {
		a, err := t.appliance(b.ApplianceID)
		if err != nil {
			return err
		}
		if a.Retired {
			return records.Fail(records.Conflict, "the appliance was retired: "+a.RetiredWhy)
		}
		if err := t.mayVisit(b.EngineerID, b.On); err != nil {
			return err
		}
		row := bookingRow{ID: t.newID(), ApplianceN: a.N, EngineerID: b.EngineerID, OnDate: b.On.String(),
			FromTime: b.From, UntilTime: b.Until, Note: b.Note, State: string(records.BookingOpen),
			CreatedAt: stamp(t.at), UpdatedAt: stamp(t.at)}
		if err := t.Create(&row).Error; err != nil {
			return err
		}
		for _, id := range b.DutyIDs {
			if err := t.bookDuty(row.N, a.N, id); err != nil {
				return err
			}
		}
		if b.RequestID != "" {
			if err := t.handleVisit(b.RequestID); err != nil {
				return err
			}
		}
		if out, err = readBooking(t.DB, row.ID); err != nil {
			return err
		}
		return t.log("visit booked", row.ID, detail{"appliance": b.ApplianceID, "engineer": b.EngineerID,
			"when": b.Appointment.String(), "duties": b.DutyIDs})
	})
	return out, err
}

// mayVisit refuses a person who cannot make the visit.
func (t *tx) mayVisit(id string, on records.Date) error {
	refuse := func(value, want string) error {
		return &records.Error{Kind: records.Invalid, Field: "engineer", Label: "Engineer", Value: clip(value),
			Want: want}
	}
	var p personRow
	if err := one(t.Where("id = ?", id), &p, "person", id); err != nil {
		if records.KindOf(err) == records.NotFound {
			return refuse(id, "an engineer of the firm")
		}
		return err
	}
	if !p.Active || records.Role(p.Role) == records.RoleOffice {
		return refuse(p.Name, "somebody with an open account who takes readings")
	}
	if until := date(p.CompetenceUntil); !until.IsZero() && until.Before(on) {
		return refuse(p.Name, "somebody whose competence runs to the day of the visit; theirs ends on "+until.Long())
	}
	return nil
}

func (t *tx) bookDuty(bookingN, applianceN int64, id string) error {
	var d dutyRow
	if err := one(t.Where("id = ? AND appliance_n = ?", id, applianceN), &d, "duty of this appliance", id); err != nil {
		return err
	}
	if d.State != "open" {
		return records.Fail(records.Conflict, "the "+d.Kind+" is "+d.State+" already: "+d.ClosedWhy)
	}
	var others []bookingRow
	err := t.Where("state = 'booked' AND n IN (SELECT booking_n FROM booking_duties WHERE duty_n = ?)", d.N).
		Limit(1).Find(&others).Error
	if err != nil {
		return err
	}
	if len(others) > 0 {
		return records.Fail(records.Conflict, "a visit for the "+d.Kind+" is booked already, on "+
			date(others[0].OnDate).Long()+": move that one")
	}
	return t.Create(&bookingDutyRow{d.N, bookingN}).Error
}

// Move moves a visit to another day, window or engineer. Errors:
// Invalid, also without a reason; NotFound; Conflict when it is not booked
// any more.
func (s Bookings) Move(ctx context.Context, actor records.Actor, id string, w records.Appointment, engineerID,
	why string, today records.Date) (out records.Booking, err error) {
	var errs records.Errors
	if w, err = w.Checked(today); err != nil {
		errs = err.(records.Errors)
	}
	why = records.CheckLine(&errs, "why", "Why", why, 1, 400)
	if len(errs) > 0 {
		return records.Booking{}, errs
	}
	err = s.change(ctx, actor, id, func(t *tx, row *bookingRow) error {
		if err := t.mayVisit(engineerID, w.On); err != nil {
			return err
		}
		row.OnDate, row.FromTime, row.UntilTime, row.EngineerID, row.Why = w.On.String(), w.From, w.Until, engineerID,
			why
		return t.log("visit moved", id, detail{"when": w.String(), "engineer": engineerID, "why": why})
	}, &out)
	return out, err
}

// Cancel calls a visit off; what it was for is chased again. Errors:
// Invalid without a reason; NotFound; Conflict when it is not booked any more.
func (s Bookings) Cancel(ctx context.Context, actor records.Actor, id, why string) error {
	why, err := records.CheckReason(why)
	if err != nil {
		return err
	}
	return s.change(ctx, actor, id, func(t *tx, row *bookingRow) error {
		row.State, row.Why = string(records.BookingCancelled), why
		return t.log("visit cancelled", id, detail{"why": why})
	}, nil)
}

func (s Bookings) change(ctx context.Context, actor records.Actor, id string, change func(*tx, *bookingRow) error,
	out *records.Booking) error {
	return s.write(ctx, actor, func(t *tx) error {
		var row bookingRow
		if err := one(t.Where("id = ?", id), &row, "booking", id); err != nil {
			return err
		}
		if row.State != string(records.BookingOpen) {
			return records.Fail(records.Conflict, "this visit is "+row.State+" already")
		}
		if err := change(t, &row); err != nil {
			return err
		}
		row.Sequence++
		row.UpdatedAt = stamp(t.at)
		err := t.Save(&row).Error
		if err == nil && out != nil {
			*out, err = readBooking(t.DB, id)
		}
		return err
	})
}

// attendBookings marks the visits that a record makes done: those booked for
// its day or before, and those all of whose duties are closed now.
func (t *tx) attendBookings(record *recordRow) error {
	var rows []bookingRow
	err := t.Where(`appliance_n = ? AND state = 'booked' AND (on_date <= ? OR (
		EXISTS (SELECT 1 FROM booking_duties WHERE booking_n = bookings.n)
		AND NOT EXISTS (SELECT 1 FROM booking_duties y JOIN duties d ON d.n = y.duty_n
			WHERE y.booking_n = bookings.n AND d.state = 'open')))`,
		record.ApplianceN, record.WorkDate).Find(&rows).Error
	if err != nil {
		return err
	}
	for _, row := range rows {
		if err := t.Model(&row).Updates(map[string]any{"state": string(records.BookingDone), "record_n": record.N,
			"updated_at": stamp(t.at)}).Error; err != nil {
			return err
		}
		if err := t.log("visit done", row.ID, detail{"record": record.Number}); err != nil {
			return err
		}
	}
	return nil
}

// cancelBookings calls off the visits to an appliance that is no longer there.
func (t *tx) cancelBookings(applianceN int64, why string) error {
	return t.Model(&bookingRow{}).Where("appliance_n = ? AND state = 'booked'", applianceN).Updates(map[string]any{
		"state": string(records.BookingCancelled), "why": why, "sequence": gorm.Expr("sequence + 1"),
		"updated_at": stamp(t.at)}).Error
}
