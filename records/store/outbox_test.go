package store_test

import (
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func TestBounce(t *testing.T) {
	s := empty(t)
	if _, err := s.Outbox.Enqueue(ctx, storetest.Actor, records.Message{Kind: "record issued",
		ToEmail: "a@home.example", Subject: "s", Text: "t"}); err != nil {
		t.Fatal(err)
	}
	messages, _, err := s.Outbox.Find(ctx, store.OutboxQuery{})
	if err != nil {
		t.Fatal(err)
	}
	id := messages[0].ID
	wantKind(t, s.Outbox.Bounce(ctx, storetest.Actor, id, "no such box"), records.Conflict) // not handed over yet
	must(s.Outbox.ClaimDue(ctx, storetest.Start.Add(time.Hour), time.Minute))
	if err := s.Outbox.MarkSent(ctx, id, "250 ok"); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.Outbox.Bounce(ctx, storetest.Actor, id, "  "), records.Invalid)
	wantKind(t, s.Outbox.Bounce(ctx, storetest.Actor, "none", "why"), records.NotFound)
	if err := s.Outbox.Bounce(ctx, storetest.Actor, id, "no such\nbox"); err != nil {
		t.Fatal(err)
	}
	m := must(s.Outbox.Message(ctx, id))
	if m.State != records.MessageFailed || m.Problem != "came back: no such box" || m.Receipt != "250 ok" {
		t.Errorf("message %+v", m)
	}
	wantKind(t, s.Outbox.Bounce(ctx, storetest.Actor, id, "again"), records.Conflict)
	if err := s.Outbox.Requeue(ctx, storetest.Actor, id); err != nil {
		t.Error(err)
	}
}

// A link shows what was issued to the same address at the same property, and
// nothing of whoever lived there before or of other properties.
func TestSeenThroughALink(t *testing.T) {
	s, a := withAppliance(t)
	second := must(s.Register.CreateAppliance(ctx, storetest.Actor, a.PropertyID, storetest.ApplianceValues(9)))
	elsewhere := storetest.MustAppliance(t, s, 2)
	move := func(propertyID, name, email string) {
		t.Helper()
		p := must(s.Register.Property(ctx, propertyID))
		p.Contact.Name, p.Contact.Email = name, email
		must(s.Register.UpdateProperty(ctx, storetest.Actor, p))
	}
	move(a.PropertyID, "First Tenant", "first@home.example")
	first := storetest.MustIssue(t, s, a.ID, records.Service, "2024-11-20")
	move(a.PropertyID, "Second Tenant", "second@home.example")
	one := storetest.MustIssue(t, s, a.ID, records.Service, "2025-11-20")
	other := storetest.MustIssue(t, s, second.ID, records.Service, "2025-11-21")
	move(a.PropertyID, "Second Tenant", "Second@home.example")
	two := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20")
	storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-21")
	move(elsewhere.PropertyID, "Second Tenant", "second@home.example")
	storetest.MustIssue(t, s, elsewhere.ID, records.Service, "2026-11-20")

	numbers := func(l store.Link) string {
		t.Helper()
		var out []string
		for _, line := range must(s.Links.Seen(ctx, l)) {
			out = append(out, line.Number)
		}
		return strings.Join(out, " ")
	}
	expires := storetest.Start.AddDate(1, 0, 0)
	all := two.Number + " " + other.Number + " " + one.Number
	if got := numbers(must(s.Links.Add(ctx, storetest.Actor, one.ID, "Second Tenant", expires))); got != all {
		t.Errorf("second tenant sees %q, want %q", got, all)
	}
	if got := numbers(must(s.Links.Add(ctx, storetest.Actor, first.ID, "First Tenant", expires))); got != first.Number {
		t.Errorf("first tenant sees %q", got)
	}
	// The first record, sent to another address: itself and what that address has.
	l := must(s.Links.AddTo(ctx, storetest.Actor, first.ID, records.Contact{Name: "Agent", Email: "agent@let.example"},
		expires))
	if got := must(s.Links.ByToken(ctx, l.Token)); got.ForEmail != "agent@let.example" || numbers(got) != first.Number {
		t.Errorf("agent: %+v sees %q", got, numbers(got))
	}
	// Without any address nothing but the record itself.
	move(a.PropertyID, "Nobody Known", "")
	third := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-22")
	if got := numbers(must(s.Links.Add(ctx, storetest.Actor, third.ID, "", expires))); got != third.Number {
		t.Errorf("without an address: %q", got)
	}
}

func TestContactRequests(t *testing.T) {
	s, a := withAppliance(t)
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20")
	was := must(s.Register.Property(ctx, a.PropertyID)).Contact
	for _, bad := range [][3]string{{"", "", ""}, {was.Name, was.Phone, was.Email}, {"A", "", "not an address"},
		{"A\nB", "", "a@home.example"}, {strings.Repeat("x", 81), "", ""}} {
		_, err := s.Requests.AskContact(ctx, row.ID, bad[0], bad[1], bad[2])
		wantKind(t, err, records.Invalid)
	}
	_, err := s.Requests.AskContact(ctx, "none", "A", "", "")
	wantKind(t, err, records.NotFound)

	must(s.Requests.AskContact(ctx, row.ID, "Mistyped", "", "x@home.example"))
	id := must(s.Requests.AskContact(ctx, row.ID, "New Name", "01632 960 777", "new@home.example"))
	open := must(s.Requests.Contacts(ctx))
	if len(open) != 1 || open[0].ID != id || open[0].Outdated || open[0].Was != was || open[0].Issued != was ||
		open[0].Wanted.Email != "new@home.example" || open[0].Record.Number != row.Number {
		t.Fatalf("open %+v", open)
	}
	if got := must(s.Register.Property(ctx, a.PropertyID)).Contact; got != was {
		t.Errorf("changed before it was confirmed: %+v", got)
	}
	if err := s.Requests.ConfirmContact(ctx, storetest.Actor, id); err != nil {
		t.Fatal(err)
	}
	want := records.Contact{Name: "New Name", Phone: "01632 960 777", Email: "new@home.example", Tenure: was.Tenure,
		Address: was.Address}
	if got := must(s.Register.Property(ctx, a.PropertyID)).Contact; got != want {
		t.Errorf("contact %+v", got)
	}
	if rows, _, err := s.Register.Find(ctx, store.Query{Search: "new name"}); err != nil || len(rows) != 1 {
		t.Errorf("the register finds %d, %v", len(rows), err)
	}
	wantKind(t, s.Requests.ConfirmContact(ctx, storetest.Actor, id), records.Conflict)
	wantKind(t, s.Requests.RefuseContact(ctx, storetest.Actor, "none"), records.NotFound)

	// Somebody else moves in while a wish waits: it must not change them.
	id = must(s.Requests.AskContact(ctx, row.ID, "Third Name", "", "third@home.example"))
	p := must(s.Register.Property(ctx, a.PropertyID))
	p.Contact.Name = "Next Tenant"
	must(s.Register.UpdateProperty(ctx, storetest.Actor, p))
	if open := must(s.Requests.Contacts(ctx)); len(open) != 1 || !open[0].Outdated {
		t.Errorf("open %+v", open)
	}
	wantKind(t, s.Requests.ConfirmContact(ctx, storetest.Actor, id), records.Conflict)
	if err := s.Requests.RefuseContact(ctx, storetest.Actor, id); err != nil {
		t.Error(err)
	}
	for _, name := range []string{"Fourth Name", "Fifth Name"} {
		must(s.Requests.AskContact(ctx, row.ID, name, "", ""))
	}
	_, err = s.Requests.AskContact(ctx, row.ID, "Sixth Name", "", "")
	wantKind(t, err, records.Conflict)
	if open := must(s.Requests.Contacts(ctx)); len(open) != 1 || open[0].Wanted.Name != "Fifth Name" {
		t.Errorf("open %+v", open)
	}
	if err := s.Requests.RefuseContact(ctx, storetest.Actor, must(s.Requests.Contacts(ctx))[0].ID); err != nil {
		t.Error(err)
	}
	if open := must(s.Requests.Contacts(ctx)); len(open) != 0 {
		t.Errorf("open %+v", open)
	}
}

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
	s := empty(t)
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
	s := empty(t)
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
	s := empty(t)
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
	s, a := withAppliance(t)
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
