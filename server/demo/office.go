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
	{0, "Anwen", "08:30", "10:30", "Key with the neighbour at number 5."},
	{0, "Anwen", "13:00", "15:00", ""},
	{0, "Dougal", "", "", "Ring on the way."},
	{1, "Anwen", "08:30", "10:30", ""},
	{1, "Dougal", "10:00", "12:00", "Dog in the yard: ring at the front."},
	{4, "Roisin", "", "", ""},
	{9, "Dougal", "09:00", "11:00", "Bring the long ladder."},
}

// bookAndRemind books visits for what falls due next, then reminds the others
// of whom a step is due, as the office does each morning.
func (f *filler) bookAndRemind(ctx context.Context) error {
	office := store.Actor{ID: f.people["Silas"].ID, Name: f.people["Silas"].Name}
	rows, _, err := f.Store.Chase(ctx, store.ChaseQuery{Booked: "no", DueFrom: f.Today.AddDays(-30), Limit: 3 * len(planned)})
	if err != nil {
		return err
	}
	for i, p := range planned {
		if 3*i >= len(rows) {
			break
		}
		row := rows[3*i]
		_, err := f.Store.Book(ctx, office, store.NewBooking{ApplianceID: row.ApplianceID, DutyIDs: []string{row.DutyID}, EngineerID: f.people[p.who].ID,
			When: store.When{On: f.Today.AddDays(p.days), From: p.from, Until: p.until}, Note: p.note, Today: f.Today})
		// The day may have come on which somebody's competence has run out.
		var refused *records.Error
		if err != nil && !(errors.As(err, &refused) && refused.Field == "engineer") {
			return err
		}
	}
	settings, err := f.Store.ChaseSettings(ctx)
	if err != nil {
		return err
	}
	due, _, err := f.Store.Chase(ctx, store.ChaseQuery{Booked: "no", Reach: store.ByEmail, Ladder: settings.Steps, Today: f.Today, DueFrom: f.Today, Limit: 8})
	if err != nil {
		return err
	}
	if err := f.book.Remind(ctx, office, due); err != nil {
		return err
	}
	return f.outbox.Drain(ctx)
}
