package demo

import (
	"context"
	"errors"

	"gaugebook/records"
	"gaugebook/records/store"
)

// planned are visits of the days around the last one: days from today, whose
// round it is, the window.
var planned = []struct {
	days        int
	who         string
	from, until string
	note        string
}{
	{days: 0, who: "Anwen", from: "08:30", until: "10:30", note: "Key with the neighbour at number 5."},
	{days: 0, who: "Anwen", from: "13:00", until: "15:00", note: ""},
	{days: 0, who: "Dougal", from: "", until: "", note: "Ring on the way."},
	{days: 1, who: "Anwen", from: "08:30", until: "10:30", note: ""},
	{days: 1, who: "Dougal", from: "10:00", until: "12:00", note: "Dog in the yard: ring at the front."},
	{days: 4, who: "Roisin", from: "", until: "", note: ""},
	{days: 9, who: "Dougal", from: "09:00", until: "11:00", note: "Bring the long ladder."},
}

// bookAndRemind books visits for what falls due next, then reminds the others
// who are due a step, as the office does each morning.
func (f *filler) bookAndRemind(ctx context.Context) error {
	office := records.Actor{ID: f.people["Silas"].ID, Name: f.people["Silas"].Name}
	rows, _, err := f.Store.Chase.Find(ctx, store.ChaseQuery{Booked: "no", DueFrom: f.Today.AddDays(-30),
		Limit: 3 * len(planned)})
	if err != nil {
		return err
	}
	for i, p := range planned {
		if 3*i >= len(rows) {
			break
		}
		row := rows[3*i]
		_, err := f.Store.Bookings.Add(ctx, office, records.NewBooking{ApplianceID: row.ApplianceID,
			DutyIDs: []string{row.DutyID}, EngineerID: f.people[p.who].ID,
			Appointment: records.Appointment{On: f.Today.AddDays(p.days), From: p.from, Until: p.until}, Note: p.note,
			Today: f.Today})
		// The day may have come on which somebody's competence has run out.
		var refused *records.Error
		if err != nil && !(errors.As(err, &refused) && refused.Field == "engineer") {
			return err
		}
	}
	settings, err := f.Store.Settings.Reminders(ctx)
	if err != nil {
		return err
	}
	due, _, err := f.Store.Chase.Find(ctx, store.ChaseQuery{Booked: "no", Reach: store.ByEmail, Ladder: settings.Steps,
		Today: f.Today, DueFrom: f.Today, Limit: 8})
	if err != nil {
		return err
	}
	if err := f.app.Remind(ctx, office, due); err != nil {
		return err
	}
	return f.sendDue(ctx)
}
