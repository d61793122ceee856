package store_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// chased adds an appliance with a service due.
func chased(t *testing.T, s *store.Store, n int, due string) (store.Appliance, records.OpenDuty) {
	t.Helper()
	a := storetest.MustAppliance(t, s, n)
	return a, must(s.Duties.Add(ctx, storetest.Actor, a.ID, storetest.ServiceDue(due)))
}

func reminder(n int, step due.Step, duties ...records.OpenDuty) store.Reminder {
	r := store.Reminder{Stop: store.NewToken(), Message: records.Message{ToName: "C",
		ToEmail: fmt.Sprintf("customer%d@home.example", n), Subject: "Due", Text: "Due."}}
	for _, d := range duties {
		r.Steps = append(r.Steps, store.DutyStep{DutyID: d.ID, Step: step})
	}
	return r
}

func send(t *testing.T, s *store.Store, rs ...store.Reminder) string {
	t.Helper()
	why, err := s.Chase.SendReminders(ctx, storetest.Actor, rs)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(why, "|")
}

func states(s *store.Store) string {
	var out []string
	messages, _, err := s.Outbox.Find(ctx, store.OutboxQuery{})
	if err != nil {
		return err.Error()
	}
	for _, m := range messages {
		out = append(out, m.ToEmail[:9]+" "+string(m.State))
	}
	return strings.Join(out, ", ")
}

func TestRemindersAreSentOnce(t *testing.T) {
	s := empty(t)
	a, d := chased(t, s, 1, "2027-01-10")
	if got := send(t, s, reminder(1, -8, d)); got != "" {
		t.Fatalf("first: %s", got)
	}
	for _, again := range []due.Step{-8, -10} {
		if got := send(t, s, reminder(1, again, d)); got != "reminded of already" {
			t.Errorf("step %s after -8: %q", again, got)
		}
	}
	if got := send(t, s, reminder(2, -4, d)); got != "the contact has another address now" {
		t.Errorf("to somebody else: %q", got)
	}
	if got := send(t, s, reminder(1, -4, d)); got != "" {
		t.Errorf("next step: %q", got)
	}
	log := must(s.Chase.ContactAttempts(ctx, a.ID))
	if len(log) != 2 || log[1].How != "e-mail" ||
		log[1].Note != "Reminder: annual service due 10 January 2027, 8 weeks before" {
		t.Errorf("log %+v", log)
	}
	if got := states(s); got != "customer1 due, customer1 due" {
		t.Errorf("outbox: %s", got)
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
}

// Two senders with the same list at the same time: each customer gets one.
func TestTwoSendersAtOnce(t *testing.T) {
	s := empty(t)
	var list []store.Reminder
	const n = 20
	for i := range n {
		_, d := chased(t, s, i+1, "2027-01-10")
		list = append(list, reminder(i+1, -8, d))
	}
	went := make([]int, 4)
	if err := errors.Join(race(len(went), func(g int) error {
		mine := make([]store.Reminder, n)
		for i, r := range list {
			r.Stop = store.NewToken()
			mine[(i+5*g)%n] = r
		}
		for i := 0; i < n; i += 5 {
			why, err := s.Chase.SendReminders(ctx, storetest.Actor, mine[i:i+5])
			if err != nil {
				return err
			}
			for _, w := range why {
				if w == "" {
					went[g]++
				}
			}
		}
		return nil
	})...); err != nil {
		t.Error(err)
	}
	if sum := went[0] + went[1] + went[2] + went[3]; sum != n {
		t.Errorf("%v went in, want %d together", went, n)
	}
	if c := must(s.Outbox.Counts(ctx, false)); c[records.MessageDue] != n {
		t.Errorf("outbox %v", c)
	}
}

// Each of these stops the reminding, before it is put in and while it waits.
func TestWhatStopsReminders(t *testing.T) {
	t.Parallel()
	stop := map[string]func(*store.Store, store.Appliance, records.OpenDuty) error{
		"no longer due": func(s *store.Store, a store.Appliance, d records.OpenDuty) error {
			storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-25", storetest.ServiceDue("2027-11-25"))
			return nil
		},
		"no longer due ": func(s *store.Store, a store.Appliance, d records.OpenDuty) error {
			return s.Duties.Lift(ctx, storetest.Actor, d.ID, "appliance not used")
		},
		"no longer due  ": func(s *store.Store, a store.Appliance, d records.OpenDuty) error {
			return s.Register.RetireAppliance(ctx, storetest.Actor, a.ID, "taken out")
		},
		"a visit is booked": func(s *store.Store, a store.Appliance, d records.OpenDuty) error {
			_, err := s.Bookings.Add(ctx, storetest.Actor, booking(s, a, "2026-12-01", d))
			return err
		},
		"the customer asked for no reminders": func(s *store.Store, a store.Appliance, d records.OpenDuty) error {
			return s.Chase.StopReminders(ctx, storetest.Actor, "CUSTOMER1@home.example", "by telephone")
		},
	}
	for why, do := range stop {
		want := strings.TrimSpace(why)
		s := storetest.MustOpen(t)
		a, d := chased(t, s, 1, "2027-01-10")
		send(t, s, reminder(1, -8, d))
		m, _, err := s.Outbox.Find(ctx, store.OutboxQuery{})
		if err != nil || len(m) != 1 {
			t.Fatalf("outbox %v %v", m, err)
		}
		if got := must(s.Chase.ReminderStands(ctx, m[0].ID)); got != "" {
			t.Errorf("%s: stands before: %q", want, got)
		}
		if err := do(s, a, d); err != nil {
			t.Fatalf("%s: %v", want, err)
		}
		if got := must(s.Chase.ReminderStands(ctx, m[0].ID)); got != want {
			t.Errorf("%s: while it waits: %q", want, got)
		}
		if got := send(t, s, reminder(1, -4, d)); got != want {
			t.Errorf("%s: put in: %q", want, got)
		}
	}
}

// A message about two duties, one of which has been seen to meanwhile, does
// not go out; the other may be reminded of again.
func TestReminderOfTwoDuties(t *testing.T) {
	s := empty(t)
	a, d := chased(t, s, 1, "2027-01-10")
	check := must(s.Duties.Add(ctx, storetest.Actor, a.ID, duty(records.LandlordCheckDue, "2027-01-12")))
	send(t, s, reminder(1, -8, d, check))
	if err := s.Duties.Lift(ctx, storetest.Actor, d.ID, "not used"); err != nil {
		t.Fatal(err)
	}
	m, _, _ := s.Outbox.Find(ctx, store.OutboxQuery{})
	if got := must(s.Chase.ReminderStands(ctx, m[0].ID)); got != "no longer due" {
		t.Errorf("stands: %q", got)
	}
	if got := send(t, s, reminder(1, -8, check)); got != "" {
		t.Errorf("the other duty: %q", got)
	}
	if got := must(s.Chase.ReminderStands(ctx, m[0].ID)); got != "no longer due" {
		t.Errorf("asked again: %q", got)
	}
}

func TestStopLink(t *testing.T) {
	s := empty(t)
	_, d := chased(t, s, 1, "2027-01-10")
	r := reminder(1, -8, d)
	send(t, s, r)
	if got := must(s.Chase.StopLink(ctx, r.Stop)); got != "customer1@home.example" {
		t.Errorf("link of %q", got)
	}
	_, err := s.Chase.StopLink(ctx, store.NewToken())
	wantKind(t, err, records.NotFound)
	for range 2 {
		if err := s.Chase.StopReminders(ctx, records.Actor{Name: "customer"}, "Customer1@Home.example",
			"link in a reminder"); err != nil {
			t.Fatal(err)
		}
	}
	if got := states(s); got != "customer1 failed" {
		t.Errorf("outbox: %s", got)
	}
	if list := must(s.Chase.Suppressions(ctx)); len(list) != 1 || list[0].By != "customer" {
		t.Errorf("list %+v", list)
	}
	wantKind(t, s.Chase.ResumeReminders(ctx, storetest.Actor, "customer1@home.example", ""), records.Invalid)
	if err := s.Chase.ResumeReminders(ctx, storetest.Actor, "customer1@home.example",
		"asked by telephone"); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.Chase.ResumeReminders(ctx, storetest.Actor, "customer1@home.example", "again"), records.NotFound)
	if got := send(t, s, reminder(1, -4, d)); got != "" {
		t.Errorf("resumed: %q", got)
	}
}

func TestLetters(t *testing.T) {
	s := empty(t)
	_, d := chased(t, s, 1, "2027-01-10")
	letter := store.Letter{Name: "C", Address: []string{"1 Quillwater Lane"},
		Steps: []store.DutyStep{{DutyID: d.ID, Step: -8}}}
	b, why, err := s.Chase.AddLetters(ctx, storetest.Actor, records.Firm{Name: "F"}, []store.Letter{letter})
	if err != nil || why[0] != "" || len(b.Letters) != 1 {
		t.Fatalf("%+v %v %v", b, why, err)
	}
	_, _, err = s.Chase.AddLetters(ctx, storetest.Actor, records.Firm{}, []store.Letter{letter})
	wantKind(t, err, records.Conflict)
	if got := must(s.Chase.LetterBatch(ctx, b.ID)); got.Firm.Name != "F" || got.Letters[0].Name != "C" {
		t.Errorf("batch %+v", got)
	}
	if got := must(s.Chase.LetterBatches(ctx)); len(got) != 1 {
		t.Errorf("batches %+v", got)
	}
}

func TestChaseList(t *testing.T) {
	s := empty(t)
	a1, d1 := chased(t, s, 1, "2026-11-20")
	a2, _ := chased(t, s, 2, "2026-12-01")
	chased(t, s, 3, "2027-02-01")
	must(s.Duties.Add(ctx, storetest.Actor, a1.ID, duty(records.TenantCopy, "2026-11-21"))) // paperwork, not chased
	send(t, s, reminder(1, -8, d1))
	must(s.Bookings.Add(ctx, storetest.Actor, booking(s, a1, "2026-12-02", d1)))
	must(s.Chase.AddContactAttempt(ctx, storetest.Actor, a2.ID, "no access", "card left",
		records.MustDate("2026-11-27")))
	for _, c := range []struct {
		name string
		q    store.ChaseQuery
		want string
	}{
		{"all", store.ChaseQuery{}, "1 2 3"},
		{"week", store.ChaseQuery{DueFrom: records.MustDate("2026-11-30"), DueUntil: records.MustDate("2026-12-06")},
			"2"},
		{"booked", store.ChaseQuery{Booked: "yes"}, "1"},
		{"not booked", store.ChaseQuery{Booked: "no"}, "2 3"},
		{"landlords", store.ChaseQuery{Kind: records.LandlordCheckDue}, ""},
		{"to be done", store.ChaseQuery{ActionBy: records.MustDate("2026-11-27")}, "2"},
		{"to be done, the day before", store.ChaseQuery{ActionBy: records.MustDate("2026-11-26")}, ""},
		{"a step is due", store.ChaseQuery{Ladder: due.DefaultLadder, Today: bookingDay}, "1 2"},
		{"a step is due in ten weeks", store.ChaseQuery{Ladder: due.DefaultLadder, Today: bookingDay.AddDays(70)},
			"1 2 3"},
		{"by letter", store.ChaseQuery{Reach: store.ByLetter}, ""},
		{"by e-mail", store.ChaseQuery{Reach: store.ByEmail}, "1 2 3"},
	} {
		c.q.Limit = 2
		var got []string
		for {
			rows, next, err := s.Chase.Find(ctx, c.q)
			if err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			for _, r := range rows {
				got = append(got, strings.Fields(r.Property.Line1)[0])
			}
			if c.q.After = next; next == "" {
				break
			}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %v, want %s", c.name, got, c.want)
		}
	}
	for _, bad := range []store.ChaseQuery{{Kind: records.TenantCopy}, {Booked: "maybe"}, {Reach: "drum"},
		{After: "x"}} {
		_, _, err := s.Chase.Find(ctx, bad)
		wantKind(t, err, records.Invalid)
	}
}

func TestCustomer(t *testing.T) {
	s := empty(t)
	p := storetest.Property(1)
	p.Contact = records.Contact{Name: "Odile Parrack", Phone: "01632 960 300", Tenure: records.Landlord}
	for n := range 3 {
		q := storetest.Property(n + 10)
		q.Contact = p.Contact
		if n == 2 {
			q.Contact.Phone = "01632 960 301" // another of the name
		}
		q = must(s.Register.CreateProperty(ctx, storetest.Actor, q))
		a := must(s.Register.CreateAppliance(ctx, storetest.Actor, q.ID, storetest.ApplianceValues(n)))
		must(s.Duties.Add(ctx, storetest.Actor, a.ID, storetest.ServiceDue("2027-01-10")))
		must(s.Chase.AddContactAttempt(ctx, storetest.Actor, a.ID, "telephone", "no answer", records.Date{}))
		if n == 1 {
			c := must(s.Chase.Customer(ctx, q.ID))
			if len(c.Properties) != 2 || len(c.Appliances) != 2 || len(c.Duties) != 2 || len(c.Log) != 2 ||
				c.Stopped != nil {
				t.Errorf("customer %+v", c)
			}
			if c.Duties[0].Customer() != c.Duties[1].Customer() || c.Duties[0].Reach() != store.ByLetter {
				t.Errorf("rows %+v", c.Duties)
			}
		}
	}
}

func TestDutyList(t *testing.T) {
	s, a := withAppliance(t)
	today := records.MustDate("2026-11-25")
	for _, d := range []string{"2026-11-24", "2026-11-25", "2027-01-20", "2027-01-21"} {
		must(s.Duties.Add(ctx, storetest.Actor, a.ID, duty(records.BuildingNotice, d)))
	}
	done := must(s.Duties.Add(ctx, storetest.Actor, a.ID, duty(records.BuildingNotice, "2026-10-01")))
	if err := s.Duties.Finish(ctx, storetest.Actor, done.ID, "reference 12"); err != nil {
		t.Fatal(err)
	}
	for state, want := range map[records.DutyState]string{records.Late: "2026-11-24",
		records.Near: "2026-11-25 2027-01-20", records.Ahead: "2027-01-21", records.Done: "2026-10-01",
		records.Lifted: ""} {
		var got []string
		rows, _, err := s.Duties.List(ctx, store.DutyListQuery{Kind: records.BuildingNotice, State: state,
			Today: today})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			got = append(got, r.Duty.Due.String())
			if r.StateOn(today) != state {
				t.Errorf("%s in the list of %s", r.StateOn(today), state)
			}
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s: %v, want %s", state, got, want)
		}
	}
	_, _, err := s.Duties.List(ctx, store.DutyListQuery{State: records.Done, Today: today})
	wantKind(t, err, records.Invalid)
}

func TestChaseSettings(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpenAt(t, filepath.Join(t.TempDir(), "s.db"), time.Now)
	c := must(s.Settings.Reminders(ctx))
	if len(c.Steps) != 5 || c.Automatic {
		t.Errorf("at first %+v", c)
	}
	c.Steps, c.Automatic = due.Ladder{2, -6}, true
	if err := s.Settings.SaveReminders(ctx, storetest.Actor, c); err != nil {
		t.Fatal(err)
	}
	if c = must(s.Settings.Reminders(ctx)); fmt.Sprint(c.Steps, c.Automatic) != "[6 weeks before 2 weeks late] true" {
		t.Errorf("saved %+v", c)
	}
	c.Steps = due.Ladder{30}
	wantKind(t, s.Settings.SaveReminders(ctx, storetest.Actor, c), records.Invalid)
}
