package worker_test

import (
	"fmt"
	"log/slog"
	"net/url"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store/storetest"
	"gaugebook/server/servertest"
	"gaugebook/server/worker"
)

func TestAutomaticReminders(t *testing.T) {
	site := servertest.Start(t)
	// 4 weeks before, since Sunday
	site.Landlord(1, servertest.ByMail, "2026-12-20")
	// long ago: a person decides
	site.Landlord(2, records.Contact{Name: "Old", Email: "old@home.example", Tenure: records.OwnerOccupier},
		"2025-03-01")
	// 4 weeks late
	site.Landlord(3, records.Contact{Name: "Late", Email: "late@home.example", Tenure: records.OwnerOccupier},
		"2026-10-20")
	// no address
	site.Landlord(4, servertest.ByLetter, "2026-12-20")
	// booked
	a5, d5 := site.Landlord(5, records.Contact{Name: "B", Email: "booked@home.example",
		Tenure: records.OwnerOccupier}, "2026-12-20")
	// stopped
	_, _ = site.Landlord(6, records.Contact{Name: "S", Email: "stopped@home.example",
		Tenure: records.OwnerOccupier}, "2026-12-20")
	site.As(records.RoleOffice).Book(url.Values{"appliance": {a5.ID}, "duty": {d5.ID},
		"engineer": {site.People[records.RoleEngineer].ID}, "on": {"2026-12-01"}})
	if err := site.Store.Chase.StopReminders(t.Context(), storetest.Actor, "stopped@home.example", "rang"); err != nil {
		t.Fatal(err)
	}
	woken := site.Woken.Load()
	look := func() int {
		t.Helper()
		before := len(site.Outbox())
		if err := worker.NewReminderScheduler(site.App,
			slog.New(slog.DiscardHandler)).SendDue(t.Context()); err != nil {
			t.Fatal(err)
		}
		return len(site.Outbox()) - before
	}
	if n := look(); n != 0 {
		t.Errorf("%d went out though it is off", n)
	}
	if err := site.Store.Settings.SaveReminders(t.Context(), storetest.Actor,
		due.ReminderSettings{Steps: due.DefaultLadder, Automatic: true}); err != nil {
		t.Fatal(err)
	}
	site.Clock.Set(time.Date(2026, 11, 26, 7, 59, 0, 0, time.UTC))
	if n := look(); n != 0 {
		t.Errorf("%d went out before eight", n)
	}
	site.Clock.Set(time.Date(2026, 11, 26, 8, 0, 0, 0, time.UTC))
	if n := look(); n != 2 || site.Woken.Load() != woken+1 {
		t.Errorf("%d went out, woken %d", n, site.Woken.Load()-woken)
	}
	if n := look(); n != 0 {
		t.Errorf("%d more after a restart", n)
	}
	// Down over two steps, 1 week before and 1 week late: one message.
	site.Clock.Set(time.Date(2026, 12, 29, 9, 0, 0, 0, time.UTC))
	if n := look(); n != 1 {
		t.Errorf("%d after a month without the program, want 1", n)
	}
	var to []string
	for _, m := range site.Outbox() {
		to = append(to, m.ToEmail)
	}
	if got := fmt.Sprint(to); got != "[odile@parrack.example late@home.example odile@parrack.example]" &&
		got != "[odile@parrack.example odile@parrack.example late@home.example]" {
		t.Errorf("to %s", got)
	}
}
