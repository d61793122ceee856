package store_test

import (
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

var bookingDay = records.MustDate("2026-11-25")

// engineer returns the one engineer of the register.
func engineer(s *store.Store) records.Person {
	for _, p := range must(s.People.List(ctx)) {
		if p.Role == records.RoleEngineer && p.Active {
			return p
		}
	}
	return must(s.People.Create(ctx, storetest.Actor, records.Person{Name: "Maud Tweddle",
		Email: "maud@tweddle.example", Role: records.RoleEngineer, Active: true,
		CompetenceUntil: records.MustDate("2027-06-30")}))
}

func booking(s *store.Store, a store.Appliance, on string, duties ...records.OpenDuty) records.NewBooking {
	b := records.NewBooking{ApplianceID: a.ID, EngineerID: engineer(s).ID,
		Appointment: records.Appointment{On: records.MustDate(on)}, Today: bookingDay}
	for _, d := range duties {
		b.DutyIDs = append(b.DutyIDs, d.ID)
	}
	return b
}

func TestBooking(t *testing.T) {
	s := empty(t)
	a, d := chased(t, s, 1, "2026-12-20")
	in := booking(s, a, "2026-12-01", d)
	in.From, in.Until, in.Note = "08:00", "10:30", "Key with the neighbour.\nDog."
	b := must(s.Bookings.Add(ctx, storetest.Actor, in))
	if b.State != records.BookingOpen || b.Appointment.String() != "1 December 2026, 08:00 to 10:30" ||
		len(b.Duties) != 1 ||
		b.Engineer != "Maud Tweddle" || b.Sequence != 0 || b.Contact.Name == "" {
		t.Errorf("booked %+v", b)
	}
	_, err := s.Bookings.Add(ctx, storetest.Actor, booking(s, a, "2026-12-02", d))
	wantKind(t, err, records.Conflict)

	b = must(s.Bookings.Move(ctx, storetest.Actor, b.ID, records.Appointment{On: records.MustDate("2026-12-03")},
		b.EngineerID,
		"customer away", bookingDay))
	if b.Sequence != 1 || b.Why != "customer away" || b.Appointment.String() != "3 December 2026" ||
		len(b.Duties) != 1 {
		t.Errorf("moved %+v", b)
	}
	_, err = s.Bookings.Move(ctx, storetest.Actor, b.ID, records.Appointment{On: records.MustDate("2026-12-03")},
		b.EngineerID,
		"", bookingDay)
	wantKind(t, err, records.Invalid)
	wantKind(t, s.Bookings.Cancel(ctx, storetest.Actor, b.ID, ""), records.Invalid)
	if err := s.Bookings.Cancel(ctx, storetest.Actor, b.ID, "boiler replaced soon"); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.Bookings.Cancel(ctx, storetest.Actor, b.ID, "again"), records.Conflict)
	if b = must(s.Bookings.ByID(ctx, b.ID)); b.Sequence != 2 || b.State != records.BookingCancelled {
		t.Errorf("cancelled %+v", b)
	}
	// The duty is free for another visit.
	must(s.Bookings.Add(ctx, storetest.Actor, booking(s, a, "2026-12-09", d)))
	if err := s.Register.RetireAppliance(ctx, storetest.Actor, a.ID, "taken out"); err != nil {
		t.Fatal(err)
	}
	for _, b := range must(s.Bookings.OfAppliance(ctx, a.ID)) {
		if b.State != records.BookingCancelled {
			t.Errorf("of a retired appliance: %+v", b)
		}
	}
	_, err = s.Bookings.Add(ctx, storetest.Actor, booking(s, a, "2026-12-09"))
	wantKind(t, err, records.Conflict)
}

func TestBookingRefuses(t *testing.T) {
	s := empty(t)
	a, d := chased(t, s, 1, "2026-12-20")
	other, _ := chased(t, s, 2, "2026-12-20")
	office := must(s.People.Create(ctx, storetest.Actor, records.Person{Name: "Piers", Email: "piers@tweddle.example",
		Role: records.RoleOffice, Active: true}))
	for _, c := range []struct {
		name   string
		change func(*records.NewBooking)
		kind   records.ErrorKind
		field  string
	}{
		{"yesterday", func(b *records.NewBooking) { b.On = records.MustDate("2026-11-24") }, records.Invalid, "on"},
		{"no day", func(b *records.NewBooking) { b.On = records.Date{} }, records.Invalid, "on"},
		{"in three years", func(b *records.NewBooking) {
			b.On = records.MustDate("2029-12-01")
		}, records.Invalid, "on"},
		{"half a window", func(b *records.NewBooking) { b.From = "08:00" }, records.Invalid, "until"},
		{"a window that ends before it begins", func(b *records.NewBooking) {
			b.From, b.Until = "10:00", "09:00"
		}, records.Invalid, "until"},
		{"no time", func(b *records.NewBooking) { b.From, b.Until = "24:00", "25:00" }, records.Invalid, "from"},
		{"somebody of the office", func(b *records.NewBooking) {
			b.EngineerID = office.ID
		}, records.Invalid, "engineer"},
		{"nobody", func(b *records.NewBooking) { b.EngineerID = "" }, records.Invalid, "engineer"},
		{"after the competence ends", func(b *records.NewBooking) {
			b.On = records.MustDate("2027-07-01")
		}, records.Invalid, "engineer"},
		{"the duty of another", func(b *records.NewBooking) { b.ApplianceID = other.ID }, records.NotFound, ""},
		{"no appliance", func(b *records.NewBooking) { b.ApplianceID = "x" }, records.NotFound, ""},
		{"no request", func(b *records.NewBooking) { b.RequestID = "x" }, records.NotFound, ""},
	} {
		in := booking(s, a, "2026-12-01", d)
		c.change(&in)
		_, err := s.Bookings.Add(ctx, storetest.Actor, in)
		wantKind(t, err, c.kind)
		if got := fieldOf(err); got != c.field {
			t.Errorf("%s: field %q of %v", c.name, got, err)
		}
	}
	if list := must(s.Bookings.OfAppliance(ctx, a.ID)); len(list) != 0 {
		t.Errorf("left behind: %+v", list)
	}
}

func fieldOf(err error) string {
	switch e := err.(type) {
	case *records.Error:
		return e.Field
	case records.Errors:
		return e[0].Field
	}
	return ""
}

// A record of the appliance makes the visit done when it was taken on the day
// or after, or has seen to what the visit was for.
func TestRecordAttendsBooking(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, booked, work string
		purpose            records.Purpose
		want               records.BookingState
	}{
		{"on the day", "2026-11-25", "2026-11-25", records.Service, records.BookingDone},
		{"later, for something else", "2026-11-25", "2026-11-26", records.Remedial, records.BookingDone},
		{"earlier, for the duty", "2026-11-27", "2026-11-26", records.Service, records.BookingDone},
		{"earlier, for something else", "2026-11-27", "2026-11-26", records.Remedial, records.BookingOpen},
	} {
		s := storetest.MustOpen(t)
		a, d := chased(t, s, 1, "2026-12-20")
		b := must(s.Bookings.Add(ctx, storetest.Actor, booking(s, a, c.booked, d)))
		row := storetest.MustIssue(t, s, a.ID, c.purpose, c.work)
		b = must(s.Bookings.ByID(ctx, b.ID))
		if b.State != c.want || (b.RecordID == row.ID) != (c.want == records.BookingDone) || b.Sequence != 0 {
			t.Errorf("%s: %+v", c.name, b)
		}
	}
}

func TestVisitRequestBecomesBooking(t *testing.T) {
	s := empty(t)
	a, d := chased(t, s, 1, "2026-12-20")
	row := storetest.MustIssue(t, s, a.ID, records.Remedial, "2026-11-20")
	id := must(s.Requests.AddVisit(ctx, row.ID, "mornings"))
	in := booking(s, a, "2026-12-01", d)
	in.RequestID = id
	must(s.Bookings.Add(ctx, storetest.Actor, in))
	if list := must(s.Requests.Visits(ctx)); len(list) != 0 {
		t.Errorf("still waiting: %+v", list)
	}
	in.DutyIDs = nil
	_, err := s.Bookings.Add(ctx, storetest.Actor, in)
	wantKind(t, err, records.Conflict)
}

func TestDayList(t *testing.T) {
	s := empty(t)
	for i, from := range []string{"", "13:00", "08:00"} {
		a, d := chased(t, s, i+1, "2026-12-20")
		in := booking(s, a, "2026-12-01", d)
		if from != "" {
			in.From, in.Until = from, "18:00"
		}
		must(s.Bookings.Add(ctx, storetest.Actor, in))
	}
	day := records.MustDate("2026-12-01")
	var got []string
	for _, b := range must(s.Bookings.Between(ctx, engineer(s).ID, day, day)) {
		got = append(got, b.From+" "+strings.Fields(b.Property.Line1)[0])
	}
	if strings.Join(got, ", ") != "08:00 3, 13:00 2,  1" {
		t.Errorf("day list %q", got)
	}
	if rest := must(s.Bookings.Between(ctx, "", day.AddDays(1), day.AddDays(9))); len(rest) != 0 {
		t.Errorf("other days %+v", rest)
	}
}

func TestFeeds(t *testing.T) {
	s := empty(t)
	who := engineer(s)
	office := must(s.People.Create(ctx, storetest.Actor, records.Person{Name: "Piers", Email: "piers@tweddle.example",
		Role: records.RoleOffice, Active: true}))
	must(s.People.Create(ctx, storetest.Actor, records.Person{Name: "Rhona", Email: "rhona@tweddle.example",
		Role: records.RoleOwner, Active: true}))
	mine := must(s.Bookings.AddFeed(ctx, records.Actor{ID: who.ID}, who.ID))
	all := must(s.Bookings.AddFeed(ctx, records.Actor{ID: office.ID}, ""))
	if f := must(s.Bookings.FeedByToken(ctx, mine.Token)); f.PersonID != who.ID || f.Token != "" ||
		f.Owner != who.Name {
		t.Errorf("feed %+v", f)
	}
	if f := must(s.Bookings.FeedByToken(ctx, all.Token)); f.PersonID != "" {
		t.Errorf("feed %+v", f)
	}
	wantKind(t, s.Bookings.EndFeed(ctx, storetest.Actor, office.ID, mine.ID), records.NotFound)
	for range 2 {
		if err := s.Bookings.EndFeed(ctx, storetest.Actor, who.ID, mine.ID); err != nil {
			t.Fatal(err)
		}
	}
	_, err := s.Bookings.FeedByToken(ctx, mine.Token)
	wantKind(t, err, records.NotFound)
	// Who may no longer see everything, or has no account any more, reads
	// nothing.
	office.Role = records.RoleEngineer
	must(s.People.Update(ctx, storetest.Actor, office))
	_, err = s.Bookings.FeedByToken(ctx, all.Token)
	wantKind(t, err, records.NotFound)
	again := must(s.Bookings.AddFeed(ctx, records.Actor{ID: who.ID}, who.ID))
	who.Active = false
	must(s.People.Update(ctx, storetest.Actor, who))
	_, err = s.Bookings.FeedByToken(ctx, again.Token)
	wantKind(t, err, records.NotFound)
	_, err = s.Bookings.AddFeed(ctx, records.Actor{ID: office.ID}, "nobody")
	wantKind(t, err, records.NotFound)
	if list := must(s.Bookings.Feeds(ctx, "")); len(list) != 2 {
		t.Errorf("feeds %+v", list)
	}
}
