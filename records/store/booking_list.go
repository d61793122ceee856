package store

import (
	"context"

	"gorm.io/gorm"

	"gaugebook/records"
)

type bookingView struct {
	Booking     bookingRow  `gorm:"embedded;embeddedPrefix:b_"`
	Property    propertyRow `gorm:"embedded;embeddedPrefix:p_"`
	Engineer    string
	ApplianceID string
	MakeModel   string
	Kind        string
	Doc         string
	RecordID    string
	DraftID     string
}

var (
	bookingColumns = `SELECT ` + bookingTable.as("b", "b_") + `,
		` + propertyTable.as("p", "p_") + `,
		e.name AS engineer, a.id AS appliance_id, a.make_model, a.kind, a.doc,
		coalesce((SELECT id FROM records WHERE n = b.record_n), '') AS record_id,
		coalesce((SELECT id FROM records WHERE appliance_n = a.n AND stage = 'draft' ORDER BY n DESC LIMIT 1), '')
			AS draft_id
		FROM bookings b`

	bookingJoins = then + `appliances a ON a.n = b.appliance_n` + then + `properties p ON p.n = a.property_n` +
		then + `people e ON e.id = b.engineer_id
		WHERE `
)

func (v bookingView) booking() (records.Booking, error) {
	r, e := v.Booking, v.Property.entry()
	b := records.Booking{ID: r.ID,
		Appointment: records.Appointment{On: date(r.OnDate), From: r.FromTime, Until: r.UntilTime},
		EngineerID:  r.EngineerID, Engineer: v.Engineer, Note: r.Note, State: records.BookingState(r.State), Why: r.Why,
		RecordID: v.RecordID, Sequence: r.Sequence, CreatedAt: instant(r.CreatedAt), UpdatedAt: instant(r.UpdatedAt),
		ApplianceID: v.ApplianceID, Appliance: v.MakeModel, PropertyID: e.ID, Property: e.Property, Contact: e.Contact,
		DraftID: v.DraftID}
	if b.Appliance == "" {
		b.Appliance = records.ApplianceKind.ChoiceLabel(v.Kind)
	}
	values, err := storedValues(v.Doc)
	b.Location = values.Text(records.ApplianceLocation)
	return b, err
}

// findBookings reads the bookings that where asks for, with their duties. The
// index is named, so that the plan cannot change with the data; "" leaves a
// search by id to itself.
func findBookings(db *gorm.DB, index, where string, args ...any) ([]records.Booking, error) {
	var rows []bookingView
	if index != "" {
		index = by(index)
	}
	if err := db.Raw(bookingColumns+index+bookingJoins+where, args...).Scan(&rows).Error; err != nil {
		return nil, err
	}
	out, err := mappedErr(rows, bookingView.booking)
	if err != nil || len(out) == 0 {
		return out, err
	}
	at := map[int64]int{}
	ns := make([]int64, len(rows))
	for i, r := range rows {
		ns[i], at[r.Booking.N] = r.Booking.N, i
	}
	var links []struct {
		BookingN int64
		ID       string
	}
	if err := db.Raw(`SELECT y.booking_n, d.id FROM booking_duties y JOIN duties d ON d.n = y.duty_n
		WHERE y.booking_n IN ?`, ns).Scan(&links).Error; err != nil {
		return nil, err
	}
	of := map[string][]int{}
	ids := []string{}
	for _, l := range links {
		of[l.ID] = append(of[l.ID], at[l.BookingN])
		ids = append(ids, l.ID)
	}
	duties, err := findDuties(db.Where("d.id IN ?", ids).Order("d.due, d.n"))
	for _, d := range duties {
		for _, i := range of[d.ID] {
			out[i].Duties = append(out[i].Duties, d)
		}
	}
	return out, err
}

func readBooking(db *gorm.DB, id string) (records.Booking, error) {
	found, err := findBookings(db, "", "b.id = ?", id)
	if err == nil && len(found) == 0 {
		err = notFound("booking", id)
	}
	if err != nil {
		return records.Booking{}, err
	}
	return found[0], nil
}

// ByID returns one booking. Errors: NotFound.
func (s Bookings) ByID(ctx context.Context, id string) (b records.Booking, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		b, err = readBooking(db, id)
		return err
	})
	return b, err
}

// mostBookings bounds what one list or feed holds; thirty visits a day for a
// hundred days.
const mostBookings = 3000

// Between returns the bookings of some days, both included, by day
// and time: one engineer's, or everybody's for "". Those called off are among
// them.
func (s Bookings) Between(ctx context.Context, engineerID string,
	from, until records.Date) (out []records.Booking, err error) {
	index, where, args := "bookings_day", "b.on_date BETWEEN ? AND ?", []any{from.String(), until.String()}
	if engineerID != "" {
		index = "bookings_engineer"
		where, args = where+" AND b.engineer_id = ?", append(args, engineerID)
	}
	err = s.view(ctx, func(db *gorm.DB) error {
		out, err = findBookings(db, index, where+" ORDER BY b.on_date, b.from_time = '', b.from_time, b.n LIMIT ?",
			append(args, mostBookings)...)
		return err
	})
	return out, err
}

// OfAppliance returns the bookings of an appliance, newest first.
func (s Bookings) OfAppliance(ctx context.Context, applianceID string) (out []records.Booking, err error) {
	err = s.view(ctx, func(db *gorm.DB) error {
		out, err = findBookings(db, "bookings_appliance",
			"b.appliance_n = (SELECT n FROM appliances WHERE id = ?) ORDER BY b.n DESC LIMIT 50", applianceID)
		return err
	})
	return out, err
}
