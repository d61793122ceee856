package store_test

import (
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func message(ref string) records.Message {
	return records.Message{Kind: "service due", Ref: ref, ToName: "A. Customer", ToEmail: "a@home.example",
		Subject: "Your service is due", Text: "Please call."}
}

func claim(t *testing.T, s *store.Store, now time.Time) *records.Message {
	t.Helper()
	m, err := s.Outbox.ClaimDue(ctx, now, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestOutboxSendsEachOnce(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	now := storetest.Start.Add(time.Hour)
	same := message("d1")
	same.ToEmail = "A@HOME.example"
	if n := must(s.Outbox.Enqueue(ctx, storetest.Actor, message("d1"), message("d2"), same)); n != 2 {
		t.Errorf("%d new messages, want 2", n)
	}
	one, two := claim(t, s, now), claim(t, s, now)
	if one == nil || two == nil || one.ID == two.ID || one.Ref != "d1" || one.Attempts != 1 || claim(t, s, now) != nil {
		t.Fatalf("claimed %+v and %+v", one, two)
	}
	if err := s.Outbox.MarkSent(ctx, one.ID, "250 ok"); err != nil {
		t.Fatal(err)
	}
	if err := s.Outbox.MarkRetry(ctx, two.ID, now.Add(time.Minute), "451 later"); err != nil {
		t.Fatal(err)
	}
	if m := claim(t, s, now.Add(59*time.Second)); m != nil {
		t.Errorf("claimed before its time: %+v", m)
	}
	if m := claim(t, s, now.Add(time.Minute)); m == nil || m.ID != two.ID || m.Attempts != 2 ||
		m.Problem != "451 later" {
		t.Errorf("claimed %+v", m)
	}
	if err := s.Outbox.MarkFailed(ctx, two.ID, "550 no such box"); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.Outbox.MarkSent(ctx, two.ID, "late"), records.Conflict)
	wantKind(t, s.Outbox.MarkSent(ctx, "none", ""), records.NotFound)
	wantKind(t, s.Outbox.Requeue(ctx, storetest.Actor, one.ID), records.Conflict)
	if err := s.Outbox.Requeue(ctx, storetest.Actor, two.ID); err != nil {
		t.Fatal(err)
	}
	if m := claim(t, s, now.Add(2*time.Minute)); m == nil || m.ID != two.ID {
		t.Errorf("claimed %+v", m)
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
}

func TestOutboxNeverSendsTwiceBySilence(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	now := storetest.Start.Add(time.Hour)
	must(s.Outbox.Enqueue(ctx, storetest.Actor, message("crash"), message("hang")))
	crash := claim(t, s, now)
	if n := must(s.Outbox.RecoverSending(ctx)); n != 1 {
		t.Errorf("recovered %d", n)
	}
	hang := claim(t, s, now)
	for range 3 { // the lease runs out; nothing is claimed again
		if m := claim(t, s, now.Add(time.Hour)); m != nil {
			t.Fatalf("sent again: %+v", m)
		}
	}
	for _, id := range []string{crash.ID, hang.ID} {
		if m := must(s.Outbox.Message(ctx, id)); m.State != records.MessageUnsure || m.Problem == "" {
			t.Errorf("message %+v", m)
		}
	}
	if c := must(s.Outbox.Counts(ctx, false)); c[records.MessageUnsure] != 2 || c[records.MessageDue] != 0 {
		t.Errorf("counts %v", c)
	}
	if err := s.Outbox.MarkSent(ctx, hang.ID, "250 after all"); err != nil {
		t.Errorf("late news: %v", err)
	}
	if err := s.Outbox.SettleSent(ctx, storetest.Actor, crash.ID, "the customer has it"); err != nil {
		t.Error(err)
	}
}

func TestOutboxPagesAndRefusals(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	for _, ref := range []string{"1", "2", "3", "4", "5"} {
		must(s.Outbox.Enqueue(ctx, storetest.Actor, message(ref)))
	}
	got := ""
	for q := (store.OutboxQuery{State: records.MessageDue, Limit: 2}); ; {
		page, next, err := s.Outbox.Find(ctx, q)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range page {
			got += m.Ref
		}
		if q.After = next; next == "" {
			break
		}
	}
	if got != "54321" {
		t.Errorf("pages gave %s", got)
	}
	bad := message("bad")
	bad.Subject = "two\nlines"
	_, err := s.Outbox.Enqueue(ctx, storetest.Actor, message("good"), bad)
	wantKind(t, err, records.Invalid)
	if c := must(s.Outbox.Counts(ctx, false)); c[records.MessageDue] != 5 {
		t.Errorf("part of a batch was put in: %v", c)
	}
}

func TestMessagesOfARecordThatFellAreStopped(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	a := storetest.MustAppliance(t, s, 1)
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20")
	m := message("x")
	m.RecordID = row.ID
	must(s.Outbox.Enqueue(ctx, storetest.Actor, m))
	if err := s.Records.Withdraw(ctx, storetest.Actor, row.ID, "wrong address"); err != nil {
		t.Fatal(err)
	}
	if m := claim(t, s, storetest.Start.Add(time.Hour)); m != nil {
		t.Errorf("would send %+v", m)
	}
}
