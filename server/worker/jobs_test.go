package worker_test

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
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

func TestBounceFolder(t *testing.T) {
	site := servertest.Start(t)
	_, m := site.Sent()
	dir := filepath.Join(t.TempDir(), "bounces")
	f := worker.BounceFolder{Dir: dir, App: site.App, Log: slog.New(slog.DiscardHandler), Now: time.Now,
		Every: 20 * time.Millisecond}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	group := worker.NewGroup(f.Log)
	group.Add(f.Job())
	go func() { group.Run(ctx); close(done) }()
	servertest.Eventually(t, "the folder is made", func() bool {
		_, err := os.Stat(filepath.Join(dir, "left"))
		return err == nil
	})
	old := time.Now().Add(-time.Minute)
	put := func(name, text string, at time.Time) {
		t.Helper()
		// As mail programs do: whole, then named.
		part := filepath.Join(dir, name+".part")
		if err := os.WriteFile(part, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(part, at, at); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(part, filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	put("a.eml", servertest.BounceReport(m.ID+"@tweddle.example", "failed", "5.2.2", "552 mailbox full"), old)
	put("b.eml", "no report", old)
	put("c.eml", servertest.BounceReport(m.ID+"@tweddle.example", "failed", "5.2.2", "still being written"),
		time.Now().Add(time.Hour))
	there := func(name string) func() bool {
		return func() bool { _, err := os.Stat(filepath.Join(dir, name)); return err == nil }
	}
	servertest.Eventually(t, "a is read", there("read/a.eml"))
	servertest.Eventually(t, "b is left", there("left/b.eml"))
	servertest.Eventually(t, "c waits", there("c.eml"))
	if got, err := site.Store.Outbox.Message(t.Context(), m.ID); err != nil || got.State != records.MessageFailed ||
		got.Problem != "came back: 5.2.2 552 mailbox full" {
		t.Errorf("message %+v, %v", got, err)
	}
	stop()
	<-done
}

// The log is signed once a day, and only when there is something new in it.
func TestLogSigner(t *testing.T) {
	site := servertest.Start(t)
	job := worker.LogSigner{App: site.App}.Job()
	run := func() (entry int64) {
		t.Helper()
		if err := job.Run(t.Context()); err != nil {
			t.Fatal(err)
		}
		h, err := site.Store.Audit.Signed(t.Context())
		if err != nil || h == nil || !h.Holds(storetest.Key.Public().(ed25519.PublicKey)) {
			t.Fatalf("signed %+v, %v", h, err)
		}
		return h.Entry
	}
	first := run()
	storetest.MustAppliance(t, site.Store, 7)
	if again := run(); again != first {
		t.Errorf("signed twice on a day: %d after %d", again, first)
	}
	site.Clock.Set(site.Clock.Now().Add(25 * time.Hour))
	second := run()
	if second != first+2 {
		t.Errorf("signed entry %d a day later, after %d", second, first)
	}
	site.Clock.Set(site.Clock.Now().Add(25 * time.Hour))
	if third := run(); third != second {
		t.Errorf("signed %d, and nothing is new", third)
	}
}
