package store_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// race runs n calls at once and returns their errors.
func race(n int, do func(i int) error) []error {
	errs := make([]error, n)
	begin := make(chan struct{})
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() {
			<-begin
			errs[i] = do(i)
		})
	}
	close(begin)
	wg.Wait()
	return errs
}

// wantWinners fails the test unless so many calls went through and all others
// were refused as of the kind.
func wantWinners(t *testing.T, errs []error, winners int, others records.ErrorKind) {
	t.Helper()
	won := 0
	for _, err := range errs {
		if err == nil {
			won++
		} else {
			wantKind(t, err, others)
		}
	}
	if won != winners {
		t.Errorf("%d of %d went through, want %d", won, len(errs), winners)
	}
}

// Of eight who save the same draft, one does; what the others entered is kept.
func TestOneSaveAtARevision(t *testing.T) {
	s, a := withAppliance(t)
	r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	errs := race(8, func(i int) error {
		mine := must(s.Records.Record(ctx, r.ID))
		mine.Values.Put(records.StandingMbar.Field, fmt.Sprintf("2%d.0", i))
		return errOf(s.Records.SaveDraft(ctx, by, mine, 1))
	})
	wantWinners(t, errs, 1, records.Conflict)
	entered := []string{must(s.Records.Record(ctx, r.ID)).Values[records.StandingMbar.Key].Text()}
	for _, k := range must(s.Records.KeptVersions(ctx, r.ID)) {
		entered = append(entered, k.Record.Values[records.StandingMbar.Key].Text())
		if k.Why != "refused" || k.Revision != 1 || k.By != by.Name || k.At.IsZero() || k.ID == "" {
			t.Errorf("kept %+v", k)
		}
	}
	slices.Sort(entered)
	if got := strings.Join(entered, " "); got != "20.0 21.0 22.0 23.0 24.0 25.0 26.0 27.0" {
		t.Errorf("entered and kept: %s", got)
	}
	wholeRegister(t, s)
}

func TestOneBookingForADuty(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	errs := race(8, func(i int) error {
		return errOf(w.Bookings.Add(ctx, by, w.visitOn(fmt.Sprintf("2026-12-%02d", i+2), w.unbooked.ID)))
	})
	wantWinners(t, errs, 1, records.Conflict)
	open := 0
	for _, b := range must(w.Bookings.OfAppliance(ctx, w.plain.ID)) {
		if b.State == records.BookingOpen && slices.ContainsFunc(b.Duties, func(d records.OpenDuty) bool {
			return d.ID == w.unbooked.ID
		}) {
			open++
		}
	}
	if open != 1 {
		t.Errorf("%d bookings for the duty", open)
	}
}

func TestOneAccountForAnAddress(t *testing.T) {
	s := empty(t)
	errs := race(8, func(i int) error {
		email := "Same@firm.example"
		if i%2 == 0 {
			email = strings.ToLower(email)
		}
		return errOf(s.People.Create(ctx, by, records.Person{Name: "A", Email: email, Role: records.RoleOffice,
			Active: true}))
	})
	wantWinners(t, errs, 1, records.Conflict)
	if n := len(must(s.People.List(ctx))); n != 1 {
		t.Errorf("%d accounts", n)
	}
}

// Two owners who each take the other's rights away: one of them remains.
func TestAnOwnerRemains(t *testing.T) {
	t.Parallel()
	for range 5 {
		s := storetest.MustOpen(t)
		var owners []records.Person
		for _, name := range []string{"Orla", "Rhona"} {
			owners = append(owners, must(s.People.Create(ctx, by, records.Person{Name: name, Active: true,
				Email: name + "@firm.example", Role: records.RoleOwner})))
		}
		errs := race(2, func(i int) error {
			other := owners[1-i]
			other.Role = records.RoleOffice
			return errOf(s.People.Update(ctx, owners[i].Actor(), other))
		})
		wantWinners(t, errs, 1, records.Conflict)
	}
}

func TestOneUseOfAnInvitation(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	before := must(w.People.ByID(ctx, w.engineer.ID))
	errs := race(8, func(i int) error {
		return errOf(w.People.AcceptInvitation(ctx, w.invite.Token, fmt.Sprint("hash ", i)))
	})
	wantWinners(t, errs, 1, records.NotFound)
	winner := slices.Index(errs, nil)
	if p := must(w.People.ByID(ctx, w.engineer.ID)); p.PasswordHash != fmt.Sprint("hash ", winner) ||
		p.SignIns != before.SignIns+1 {
		t.Errorf("%+v after %+v", p, before)
	}
}

// What somebody may have so many of stays at that, however many ask at once.
func TestLimitsHoldAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	keys := race(store.MostKeys+3, func(int) error {
		return errOf(w.People.NewKey(ctx, by, w.owner.ID, "one of many"))
	})
	wantWinners(t, keys, store.MostKeys, records.Conflict)
	feeds := race(store.MostFeeds+3, func(int) error {
		return errOf(w.Bookings.AddFeed(ctx, records.Actor{ID: w.engineer.ID, Name: "Maud"}, w.engineer.ID))
	})
	wantWinners(t, feeds, store.MostFeeds, records.Conflict)
	hooks := race(records.MostWebhooks+3, func(int) error {
		return errOf(w.Webhooks.Add(ctx, by, "https://office.example/", records.WebhookEvents, today, false))
	})
	wantWinners(t, hooks, records.MostWebhooks-1, records.Conflict) // one is in use already
	visits := race(8, func(int) error { return errOf(w.Requests.AddVisit(ctx, w.issued.ID, "Please come.")) })
	wantWinners(t, visits, 4, records.Conflict) // one waits already
	wishes := race(8, func(i int) error {
		return errOf(w.Requests.AskContact(ctx, w.issued.ID, fmt.Sprint("Wish ", i), "", "a@b.example"))
	})
	wantWinners(t, wishes, 3, records.Conflict) // two were made today
	if waiting := must(w.Requests.Contacts(ctx)); len(waiting) != 1 {
		t.Errorf("%d wishes wait, want the latest", len(waiting))
	}
	wholeRegister(t, w.Store)
}

// Each message and each event goes to one of those who send.
func TestEachIsClaimedOnce(t *testing.T) {
	s := empty(t)
	must(s.Webhooks.Add(ctx, by, "https://office.example/", records.WebhookEvents, today, false))
	const most = 40
	for i := range most {
		must(s.Outbox.Enqueue(ctx, by, message(fmt.Sprint(i))))
		if i < 10 {
			storetest.MustIssue(t, s, storetest.MustAppliance(t, s, i).ID, records.Service, "2026-11-20")
		}
	}
	now := storetest.Start.Add(time.Hour)
	var mu sync.Mutex
	messages, events := map[string]int{}, map[string]int{}
	errs := race(8, func(int) error {
		for {
			m, err1 := s.Outbox.ClaimDue(ctx, now, time.Hour)
			d, err2 := s.Webhooks.ClaimDelivery(ctx, now, time.Hour)
			if err := errors.Join(err1, err2); err != nil || m == nil && d == nil {
				return err
			}
			mu.Lock()
			if m != nil {
				messages[m.Ref]++
			}
			if d != nil {
				events[d.EventID]++
			}
			mu.Unlock()
		}
	})
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
	for what, claimed := range map[string]map[string]int{"messages": messages, "events": events} {
		for id, n := range claimed {
			if n != 1 {
				t.Errorf("%s of the %s was claimed %d times", id, what, n)
			}
		}
	}
	if len(messages) != most || len(events) != 10 {
		t.Errorf("%d messages and %d events claimed", len(messages), len(events))
	}
}

// The same request sent eight times at once is done once; the others get its
// answer or are told that it is still being worked on.
func TestOnceAtOnce(t *testing.T) {
	s := empty(t)
	var mu sync.Mutex
	ran, replayed := 0, 0
	errs := race(8, func(int) error {
		a, err := s.Once(ctx, "p", "key-00001", "POST /x", adding(s, 1, func(string) (store.Answer, error) {
			mu.Lock()
			defer mu.Unlock()
			ran++
			return store.Answer{Status: 201, Body: []byte(fmt.Sprint("run ", ran))}, nil
		}))
		if err == nil && string(a.Body) != "run 1" {
			err = fmt.Errorf("answered %q", a.Body)
		}
		mu.Lock()
		defer mu.Unlock()
		if a.Replayed {
			replayed++
		}
		return err
	})
	for _, err := range errs {
		if err != nil {
			wantKind(t, err, records.Conflict)
		}
	}
	if ran != 1 {
		t.Errorf("ran %d times, %d answers replayed", ran, replayed)
	}
	if a := must(s.Once(ctx, "p", "key-00001", "POST /x", store.Deed{})); !a.Replayed || a.Status != 201 {
		t.Errorf("afterwards %+v", a)
	}
}

// Readers see a whole transaction or nothing of it, and the log holds at any
// moment, while four write.
func TestReadersSeeWholeTransactions(t *testing.T) {
	s, a := withAppliance(t)
	stop := make(chan struct{})
	var writers sync.WaitGroup
	for g := range 4 {
		writers.Go(func() {
			for i := 0; ; i++ {
				select {
				case <-stop:
					return
				default:
				}
				p := storetest.Property(1)
				p.ID = a.PropertyID
				p.Line1 = fmt.Sprintf("%d Row", g)
				p.Contact.Name = fmt.Sprintf("Owner of %d Row", g)
				if _, err := s.Register.UpdateProperty(ctx, by, p); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	for i := range 30 {
		got := must(s.Register.Appliance(ctx, a.ID))
		if got.Property.Line1 != "1 Quillwater Lane" && got.Contact.Name != "Owner of "+got.Property.Line1 {
			t.Errorf("half of a change: %+v %+v", got.Property, got.Contact)
		}
		rows, _, err := s.Register.Find(ctx, store.Query{Search: "row"})
		if err != nil || len(rows) > 0 && rows[0].Name != "Owner of "+rows[0].Property.Line1 {
			t.Errorf("half of a change: %+v, %v", rows, err)
		}
		if i%10 > 0 { // the log grows all the time, and a proof reads all of it
			continue
		}
		if err := s.Audit.Proved(ctx); err != nil {
			t.Error(err)
		}
	}
	close(stop)
	writers.Wait()
	wholeRegister(t, s)
}

// Two programs on one file, as while one takes over from the other: both
// write, the log has one chain and the numbers have no gap.
func TestTwoStoresOnOneFile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	second := storetest.MustOpenAt(t, w.path, w.clock.Now)
	errs := race(6, func(i int) error {
		s := []*store.Store{w.Store, second}[i%2]
		for n := range 4 {
			p, err := s.Register.CreateProperty(ctx, by, storetest.Property(100+i*10+n))
			if err != nil {
				return err
			}
			a, err := s.Register.CreateAppliance(ctx, by, p.ID, storetest.ApplianceValues(n))
			if err != nil {
				return err
			}
			r, err := s.Records.StartDraft(ctx, by, storetest.Draft(a.ID, records.Service, "2026-11-20"))
			if err != nil {
				return err
			}
			if _, _, err := s.Records.Issue(ctx, by, r.ID, r.Revision, storetest.Issuer()); err != nil {
				return err
			}
		}
		return nil
	})
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
	wholeRegister(t, second)
}
