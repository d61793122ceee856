package store_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// A visit entered late, behind a later one, sets no duty of its own and takes
// nothing over in the register.
func TestVisitEnteredLate(t *testing.T) {
	s, a := withAppliance(t)
	late := withReading(t, s, a.ID, "2026-03-01", "20.1")
	storetest.MustIssue(t, s, a.ID, records.Service, "2026-06-01", storetest.ServiceDue("2027-06-01"))
	mustIssue(t, s, late.ID, late.Revision, storetest.ServiceDue("2027-03-01"))
	if got := dutiesOf(s, a.ID); got != "annual 2027-06-01 open; annual 2027-03-01 done" {
		t.Errorf("duties %s", got)
	}
	got := must(s.Register.Appliance(ctx, a.ID))
	if got.LastRecord.WorkDate != records.MustDate("2026-06-01") || got.Values[records.ApplianceMbar.Key].Present() {
		t.Errorf("the register goes by %+v", got.LastRecord)
	}
	why := ""
	for _, d := range must(s.Duties.OfAppliance(ctx, a.ID)) {
		if d.Closed() {
			why = d.ClosedWhy
		}
	}
	if why != "a later visit set it" {
		t.Errorf("closed because %q", why)
	}
}

// A test of the inhibitor is renewed with each visit; a notice is not.
func TestRecurringDuties(t *testing.T) {
	s, a := withAppliance(t)
	for i, year := range []string{"2025", "2026"} {
		storetest.MustIssue(t, s, a.ID, records.Remedial, year+"-03-01", duty(records.InhibitorRecheck, year+"-12-01"),
			duty(records.BuildingNotice, fmt.Sprintf("%s-04-0%d", year, i+1)))
	}
	if got := dutiesOf(s, a.ID); got != "building-work 2025-04-01 open; building-work 2026-04-02 open; "+
		"inhibitor 2026-12-01 open; inhibitor 2025-12-01 done" {
		t.Errorf("duties %s", got)
	}
}

// A record makes the visits done that it fulfils: booked for its day or before,
// or for duties that it closes.
func TestWhichBookingsARecordFulfils(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		on   string
		duty bool
		done bool
	}{
		"booked for the day":                {"2026-12-01", false, true},
		"booked for the day before":         {"2026-11-30", false, true},
		"booked for the day after":          {"2026-12-02", false, false},
		"booked for later, for this duty":   {"2026-12-20", true, true},
		"booked for that day, for the duty": {"2026-12-01", true, true},
	} {
		s := storetest.MustOpen(t)
		a, d := chased(t, s, 1, "2026-12-20")
		in := booking(s, a, c.on)
		if c.duty {
			in.DutyIDs = []string{d.ID}
		} else {
			in.Note = "to look"
		}
		b := must(s.Bookings.Add(ctx, by, in))
		row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-12-01")
		got := must(s.Bookings.ByID(ctx, b.ID))
		if done := got.State == records.BookingDone; done != c.done || done && got.RecordID != row.ID {
			t.Errorf("%s: %s by %q", name, got.State, got.RecordID)
		}
	}
}

// The day's list goes by time; visits without one come at its end, those called
// off are among them, and another's are not.
func TestDayLists(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for i, from := range []string{"", "14:00", "08:30"} {
		in := w.visitOn("2026-12-10")
		if in.From = from; from != "" {
			in.Until = "18:00"
		}
		if i == 2 {
			in.EngineerID = w.owner.ID
		}
		must(w.Bookings.Add(ctx, by, in))
	}
	day := records.MustDate("2026-12-10")
	times := func(engineer string) string {
		var out []string
		for _, b := range must(w.Bookings.Between(ctx, engineer, day, day)) {
			out = append(out, b.Engineer+" "+b.From)
		}
		return strings.Join(out, ", ")
	}
	if got := times(""); got != "Rhona 08:30, Maud 14:00, Maud " {
		t.Errorf("everybody: %q", got)
	}
	if got := times(w.engineer.ID); got != "Maud 14:00, Maud " {
		t.Errorf("Maud: %q", got)
	}
	off := must(w.Bookings.Between(ctx, "", records.MustDate("2026-12-02"), records.MustDate("2026-12-02")))
	if len(off) != 1 || off[0].State != records.BookingCancelled || off[0].Why != "customer away" {
		t.Errorf("called off: %+v", off)
	}
}

// Reminders of a customer stop and go on by address, whatever the case.
func TestSuppressedByAddress(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for email, want := range map[string]bool{stopped: true, strings.ToUpper(stopped): true, "": false,
		"other@home.example": false} {
		got, err := w.Chase.Suppressed(ctx, email)
		if err != nil || (got != nil) != want || got != nil && (got.How != "by telephone" || got.By != by.Name) {
			t.Errorf("%q: %+v, %v", email, got, err)
		}
	}
}

// Customers are told apart by address, else by name and telephone, else they
// are the property; each is written to as they can be.
func TestCustomersApart(t *testing.T) {
	s := empty(t)
	contacts := map[string]records.Contact{
		"by e-mail":     {Name: "A", Email: "a@home.example", Tenure: records.Landlord},
		"by e-mail too": {Name: "B", Email: "A@home.example", Tenure: records.Landlord},
		"by name":       {Name: "Odile", Phone: "01632 960 300", Tenure: records.Landlord},
		"by name too":   {Name: "ODILE", Phone: "01632 960 300", Tenure: records.Landlord},
		"nobody":        {},
		"nobody either": {},
		"stopped":       {Name: "S", Email: stopped, Tenure: records.Landlord},
	}
	ok(t, s.Chase.StopReminders(ctx, by, stopped, "by telephone"))
	rows, at := map[string]store.ChaseRow{}, map[string]string{}
	n := 0
	for name, k := range contacts {
		n++
		p := storetest.Property(n)
		p.Contact = k
		p = must(s.Register.CreateProperty(ctx, by, p))
		a := must(s.Register.CreateAppliance(ctx, by, p.ID, storetest.ApplianceValues(n)))
		d := must(s.Duties.Add(ctx, by, a.ID, storetest.ServiceDue("2026-12-20")))
		rows[name], at[name] = must(s.Chase.OfDuties(ctx, []string{d.ID}))[0], p.ID
	}
	for _, pair := range [][2]string{{"by e-mail", "by e-mail too"}, {"by name", "by name too"}} {
		if rows[pair[0]].Customer() != rows[pair[1]].Customer() {
			t.Errorf("%v are two customers", pair)
		}
		if c := must(s.Chase.Customer(ctx, at[pair[0]])); len(c.Properties) != 2 || len(c.Duties) != 2 {
			t.Errorf("%v: %+v", pair, c.Properties)
		}
	}
	if rows["nobody"].Customer() == rows["nobody either"].Customer() {
		t.Error("two properties without a contact are one customer")
	}
	if c := must(s.Chase.Customer(ctx, at["nobody"])); len(c.Properties) != 1 {
		t.Errorf("a property without a contact is one of %d", len(c.Properties))
	}
	for name, want := range map[string]store.Reach{"by e-mail": store.ByEmail, "by name": store.ByLetter,
		"nobody": store.ByLetter, "stopped": store.NoReminders} {
		if got := rows[name].Reach(); got != want {
			t.Errorf("%s: %s", name, got)
		}
		found := false
		list, _, err := s.Chase.Find(ctx, store.ChaseQuery{Reach: want})
		ok(t, err)
		for _, r := range list {
			found = found || r.DutyID == rows[name].DutyID
			if r.Reach() != want {
				t.Errorf("%s in the list of %s", r.Reach(), want)
			}
		}
		if !found {
			t.Errorf("%s is not in the list of %s", name, want)
		}
	}
	if c := must(s.Chase.Customer(ctx, at["stopped"])); c.Stopped == nil || c.Stopped.Email != stopped {
		t.Errorf("stopped %+v", c.Stopped)
	}
}

// A wish for another contact is granted only against the contact it was made
// from.
func TestContactWishes(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	waiting := must(w.Requests.Contacts(ctx))
	if len(waiting) != 1 || waiting[0].Wanted.Name != "Second Wish" || waiting[0].Was != w.other.Contact ||
		waiting[0].Issued != w.other.Contact || waiting[0].Outdated || waiting[0].Record.Number != w.issued.Number {
		t.Fatalf("waiting %+v", waiting)
	}
	p := must(w.Register.Property(ctx, w.other.PropertyID))
	p.Contact.Phone = "01632 960 999"
	must(w.Register.UpdateProperty(ctx, by, p))
	if waiting = must(w.Requests.Contacts(ctx)); !waiting[0].Outdated {
		t.Error("the contact changed, and the wish is not outdated")
	}
	err := w.Requests.ConfirmContact(ctx, by, w.contact)
	if wantKind(t, err, records.Conflict); !strings.Contains(err.Error(), "has changed since") {
		t.Errorf("error %v", err)
	}
	// A later wish takes the place of the one that waits, and is granted.
	id := must(w.Requests.AskContact(ctx, w.issued.ID, "Third Wish", "", "third@home.example"))
	ok(t, w.Requests.ConfirmContact(ctx, by, id))
	if got := must(w.Register.Property(ctx, w.other.PropertyID)).Contact; got.Name != "Third Wish" ||
		got.Email != "third@home.example" || got.Tenure != w.other.Contact.Tenure {
		t.Errorf("contact %+v", got)
	}
	if rows, _, err := w.Register.Find(ctx, store.Query{Search: "third wish"}); err != nil || len(rows) != 1 {
		t.Errorf("found %d: %v", len(rows), err)
	}
	if left := must(w.Requests.Contacts(ctx)); len(left) > 0 {
		t.Errorf("waiting %+v", left)
	}
	// What was issued before keeps the contact it was issued to.
	if r := must(w.Records.Record(ctx, w.issued.ID)); r.Contact != w.other.Contact {
		t.Errorf("issued to %+v", r.Contact)
	}
}

// Webhooks that ended are told of nothing, also of what waited for them.
func TestEndedWebhooks(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ok(t, w.Webhooks.End(ctx, by, w.hook.ID))
	ok(t, w.Webhooks.End(ctx, by, w.hook.ID)) // once more changes nothing
	list, _, err := w.Webhooks.Deliveries(ctx, w.hook.ID, "", 50)
	ok(t, err)
	for _, d := range list {
		if d.State != records.WebhookDelivered && (d.State != records.WebhookFailed ||
			d.Problem != "the webhook was ended") {
			t.Errorf("delivery %+v", d)
		}
	}
	wantKind(t, w.Webhooks.Resend(ctx, by, w.hook.ID, w.delivered), records.Conflict)
	hooks := must(w.Webhooks.List(ctx))
	if len(hooks) != 2 || slices.ContainsFunc(hooks, func(h records.Webhook) bool { return h.EndedAt.IsZero() }) {
		t.Errorf("webhooks %+v", hooks)
	}
	storetest.MustIssue(t, w.Store, storetest.MustAppliance(t, w.Store, 60).ID, records.Service, "2026-11-20")
	if d, err := w.Webhooks.ClaimDelivery(ctx, w.clock.Now().Add(time.Hour), time.Hour); d != nil || err != nil {
		t.Errorf("told of %+v, %v", d, err)
	}
}

// The error of a stale save says what became of the draft.
func TestStaleSaveSaysWhy(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	r := *w.draft
	r.AmendReason = "mine"
	_, err := w.Records.SaveDraft(ctx, by, &r, 5)
	if err == nil || !strings.Contains(err.Error(), "somebody else saved this draft") {
		t.Errorf("saved by somebody else: %v", err)
	}
	mustIssue(t, w.Store, w.draft.ID, w.draft.Revision)
	_, err = w.Records.SaveDraft(ctx, by, &r, 1)
	if err == nil || !strings.Contains(err.Error(), "was issued meanwhile") {
		t.Errorf("issued meanwhile: %v", err)
	}
}
