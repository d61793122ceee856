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
func engineer(s *store.Store) store.Person {
	for _, p := range must(s.People(ctx)) {
		if p.Role == store.Engineer && p.Active {
			return p
		}
	}
	return must(s.CreatePerson(ctx, storetest.Actor, store.Person{Name: "Maud Tweddle", Email: "maud@tweddle.example",
		Role: store.Engineer, Active: true,
		CompetenceUntil: records.MustDate("2027-06-30")}))
}

func booking(s *store.Store, a store.Appliance, on string, duties ...store.OpenDuty) store.NewBooking {
	b := store.NewBooking{ApplianceID: a.ID, EngineerID: engineer(s).ID, When: store.When{On: records.MustDate(on)},
		Today: bookingDay}
	for _, d := range duties {
		b.DutyIDs = append(b.DutyIDs, d.ID)
	}
	return b
}

func TestBooking(t *testing.T) {
	s := storetest.MustOpen(t)
	a, d := chased(t, s, 1, "2026-12-20")
	in := booking(s, a, "2026-12-01", d)
	in.From, in.Until, in.Note = "08:00", "10:30", "Key with the neighbour.\nDog."
	b := must(s.Book(ctx, storetest.Actor, in))
	if b.State != store.Booked || b.When.String() != "1 December 2026, 08:00 to 10:30" || len(b.Duties) != 1 ||
		b.Engineer != "Maud Tweddle" || b.Sequence != 0 || b.Contact.Name == "" {
		t.Errorf("booked %+v", b)
	}
	_, err := s.Book(ctx, storetest.Actor, booking(s, a, "2026-12-02", d))
	wantKind(t, err, records.Conflict)

	b = must(s.MoveBooking(ctx, storetest.Actor, b.ID, store.When{On: records.MustDate("2026-12-03")}, b.EngineerID,
		"customer away", bookingDay))
	if b.Sequence != 1 || b.Why != "customer away" || b.When.String() != "3 December 2026" || len(b.Duties) != 1 {
		t.Errorf("moved %+v", b)
	}
	_, err = s.MoveBooking(ctx, storetest.Actor, b.ID, store.When{On: records.MustDate("2026-12-03")}, b.EngineerID,
		"", bookingDay)
	wantKind(t, err, records.Invalid)
	wantKind(t, s.CancelBooking(ctx, storetest.Actor, b.ID, ""), records.Invalid)
	if err := s.CancelBooking(ctx, storetest.Actor, b.ID, "boiler replaced soon"); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.CancelBooking(ctx, storetest.Actor, b.ID, "again"), records.Conflict)
	if b = must(s.Booking(ctx, b.ID)); b.Sequence != 2 || b.State != store.Cancelled {
		t.Errorf("cancelled %+v", b)
	}
	// The duty is free for another visit.
	must(s.Book(ctx, storetest.Actor, booking(s, a, "2026-12-09", d)))
	if err := s.RetireAppliance(ctx, storetest.Actor, a.ID, "taken out"); err != nil {
		t.Fatal(err)
	}
	for _, b := range must(s.ApplianceBookings(ctx, a.ID)) {
		if b.State != store.Cancelled {
			t.Errorf("of a retired appliance: %+v", b)
		}
	}
	_, err = s.Book(ctx, storetest.Actor, booking(s, a, "2026-12-09"))
	wantKind(t, err, records.Conflict)
}

func TestBookingRefuses(t *testing.T) {
	s := storetest.MustOpen(t)
	a, d := chased(t, s, 1, "2026-12-20")
	other, _ := chased(t, s, 2, "2026-12-20")
	office := must(s.CreatePerson(ctx, storetest.Actor, store.Person{Name: "Piers", Email: "piers@tweddle.example",
		Role: store.Office, Active: true}))
	for _, c := range []struct {
		name   string
		change func(*store.NewBooking)
		kind   records.ErrorKind
		field  string
	}{
		{"yesterday", func(b *store.NewBooking) { b.On = records.MustDate("2026-11-24") }, records.Invalid, "on"},
		{"no day", func(b *store.NewBooking) { b.On = records.Date{} }, records.Invalid, "on"},
		{"in three years", func(b *store.NewBooking) { b.On = records.MustDate("2029-12-01") }, records.Invalid, "on"},
		{"half a window", func(b *store.NewBooking) { b.From = "08:00" }, records.Invalid, "until"},
		{"a window that ends before it begins", func(b *store.NewBooking) {
			b.From, b.Until = "10:00", "09:00"
		}, records.Invalid, "until"},
		{"no time", func(b *store.NewBooking) { b.From, b.Until = "24:00", "25:00" }, records.Invalid, "from"},
		{"somebody of the office", func(b *store.NewBooking) { b.EngineerID = office.ID }, records.Invalid, "engineer"},
		{"nobody", func(b *store.NewBooking) { b.EngineerID = "" }, records.Invalid, "engineer"},
		{"after the competence ends", func(b *store.NewBooking) {
			b.On = records.MustDate("2027-07-01")
		}, records.Invalid, "engineer"},
		{"the duty of another", func(b *store.NewBooking) { b.ApplianceID = other.ID }, records.NotFound, ""},
		{"no appliance", func(b *store.NewBooking) { b.ApplianceID = "x" }, records.NotFound, ""},
		{"no request", func(b *store.NewBooking) { b.RequestID = "x" }, records.NotFound, ""},
	} {
		in := booking(s, a, "2026-12-01", d)
		c.change(&in)
		_, err := s.Book(ctx, storetest.Actor, in)
		wantKind(t, err, c.kind)
		if got := fieldOf(err); got != c.field {
			t.Errorf("%s: field %q of %v", c.name, got, err)
		}
	}
	if list := must(s.ApplianceBookings(ctx, a.ID)); len(list) != 0 {
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
	for _, c := range []struct {
		name, booked, work string
		purpose            records.Purpose
		want               store.BookingState
	}{
		{"on the day", "2026-11-25", "2026-11-25", records.Service, store.Attended},
		{"later, for something else", "2026-11-25", "2026-11-26", records.Remedial, store.Attended},
		{"earlier, for the duty", "2026-11-27", "2026-11-26", records.Service, store.Attended},
		{"earlier, for something else", "2026-11-27", "2026-11-26", records.Remedial, store.Booked},
	} {
		s := storetest.MustOpen(t)
		a, d := chased(t, s, 1, "2026-12-20")
		b := must(s.Book(ctx, storetest.Actor, booking(s, a, c.booked, d)))
		row := storetest.MustIssue(t, s, a.ID, c.purpose, c.work)
		b = must(s.Booking(ctx, b.ID))
		if b.State != c.want || (b.RecordID == row.ID) != (c.want == store.Attended) || b.Sequence != 0 {
			t.Errorf("%s: %+v", c.name, b)
		}
	}
}

func TestVisitRequestBecomesBooking(t *testing.T) {
	s := storetest.MustOpen(t)
	a, d := chased(t, s, 1, "2026-12-20")
	row := storetest.MustIssue(t, s, a.ID, records.Remedial, "2026-11-20")
	id := must(s.AddVisitRequest(ctx, row.ID, "mornings"))
	in := booking(s, a, "2026-12-01", d)
	in.RequestID = id
	must(s.Book(ctx, storetest.Actor, in))
	if list := must(s.VisitRequests(ctx)); len(list) != 0 {
		t.Errorf("still waiting: %+v", list)
	}
	in.DutyIDs = nil
	_, err := s.Book(ctx, storetest.Actor, in)
	wantKind(t, err, records.Conflict)
}

func TestDayList(t *testing.T) {
	s := storetest.MustOpen(t)
	for i, from := range []string{"", "13:00", "08:00"} {
		a, d := chased(t, s, i+1, "2026-12-20")
		in := booking(s, a, "2026-12-01", d)
		if from != "" {
			in.From, in.Until = from, "18:00"
		}
		must(s.Book(ctx, storetest.Actor, in))
	}
	day := records.MustDate("2026-12-01")
	var got []string
	for _, b := range must(s.BookingsBetween(ctx, engineer(s).ID, day, day)) {
		got = append(got, b.From+" "+strings.Fields(b.Property.Line1)[0])
	}
	if strings.Join(got, ", ") != "08:00 3, 13:00 2,  1" {
		t.Errorf("day list %q", got)
	}
	if rest := must(s.BookingsBetween(ctx, "", day.AddDays(1), day.AddDays(9))); len(rest) != 0 {
		t.Errorf("other days %+v", rest)
	}
}

func TestFeeds(t *testing.T) {
	s := storetest.MustOpen(t)
	who := engineer(s)
	office := must(s.CreatePerson(ctx, storetest.Actor, store.Person{Name: "Piers", Email: "piers@tweddle.example",
		Role: store.Office, Active: true}))
	must(s.CreatePerson(ctx, storetest.Actor, store.Person{Name: "Rhona", Email: "rhona@tweddle.example",
		Role: store.Owner, Active: true}))
	mine := must(s.NewFeed(ctx, store.Actor{ID: who.ID}, who.ID))
	all := must(s.NewFeed(ctx, store.Actor{ID: office.ID}, ""))
	if f := must(s.FeedByToken(ctx, mine.Token)); f.PersonID != who.ID || f.Token != "" || f.Owner != who.Name {
		t.Errorf("feed %+v", f)
	}
	if f := must(s.FeedByToken(ctx, all.Token)); f.PersonID != "" {
		t.Errorf("feed %+v", f)
	}
	wantKind(t, s.RevokeFeed(ctx, storetest.Actor, office.ID, mine.ID), records.NotFound)
	for range 2 {
		if err := s.RevokeFeed(ctx, storetest.Actor, who.ID, mine.ID); err != nil {
			t.Fatal(err)
		}
	}
	_, err := s.FeedByToken(ctx, mine.Token)
	wantKind(t, err, records.NotFound)
	// Who may no longer see everything, or has no account any more, reads
	// nothing.
	office.Role = store.Engineer
	must(s.UpdatePerson(ctx, storetest.Actor, office))
	_, err = s.FeedByToken(ctx, all.Token)
	wantKind(t, err, records.NotFound)
	again := must(s.NewFeed(ctx, store.Actor{ID: who.ID}, who.ID))
	who.Active = false
	must(s.UpdatePerson(ctx, storetest.Actor, who))
	_, err = s.FeedByToken(ctx, again.Token)
	wantKind(t, err, records.NotFound)
	_, err = s.NewFeed(ctx, store.Actor{ID: office.ID}, "nobody")
	wantKind(t, err, records.NotFound)
	if list := must(s.Feeds(ctx, "")); len(list) != 2 {
		t.Errorf("feeds %+v", list)
	}
}
