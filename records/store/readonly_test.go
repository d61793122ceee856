package store_test

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// A register that is opened to be read shows what it holds, lets nothing be
// written, and stays as it was, to the byte.
func TestOpenToRead(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	have, newest, err := store.Schema(ctx, w.path)
	if err != nil || have != newest || newest < 22 {
		t.Errorf("schema %d of %d, %v", have, newest, err)
	}
	copied := filepath.Join(t.TempDir(), "copy.db")
	ok(t, w.Backup(ctx, copied))
	was := must(os.ReadFile(copied))
	s := must(store.OpenToRead(ctx, store.Options{Path: copied}))
	if got := must(s.Records.Issued(ctx, w.issued.ID)); got.Number != w.issued.Number {
		t.Errorf("record %s, want %s", got.Number, w.issued.Number)
	}
	if got := must(s.People.ByID(ctx, w.engineer.ID)); got.Name != "Maud" {
		t.Errorf("read %+v", got)
	}
	if err := s.Settings.SaveFirm(ctx, by, records.Firm{Name: "Another"}); err == nil {
		t.Error("the firm was changed")
	}
	if _, err := s.Register.CreateProperty(ctx, by, storetest.Property(90)); err == nil {
		t.Error("a property was added")
	}
	ok(t, s.Close())
	if got := must(os.ReadFile(copied)); !slices.Equal(got, was) {
		t.Error("the file was changed by reading it")
	}
}

// What cannot be read as a register is refused, and nothing is left behind.
func TestOpenToReadRefuses(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := func(name string) string { return filepath.Join(dir, name) }
	write := func(name, text string) { ok(t, os.WriteFile(path(name), []byte(text), 0o600)) }
	write("notes.txt", strings.Repeat("no database at all\n", 100))
	write("empty.db", "")
	storetest.MustOpenAt(t, path("newer.db"), time.Now)
	raw := must(sql.Open("sqlite3", path("newer.db")))
	must(raw.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)"))
	ok(t, raw.Close())
	for name, says := range map[string]string{"none.db": "no such file", "notes.txt": "", "empty.db": "",
		"newer.db": "schema 9999, this program knows up to "} {
		s, err := store.OpenToRead(ctx, store.Options{Path: path(name)})
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", name, err)
		}
		if (name == "newer.db") != (records.KindOf(err) == records.Conflict) {
			t.Errorf("%s: of kind %s", name, records.KindOf(err))
		}
		if s != nil {
			t.Errorf("%s: a store all the same", name)
		}
		if _, _, err := store.Schema(ctx, path(name)); (err == nil) != (name == "newer.db") {
			t.Errorf("schema of %s: %v", name, err)
		}
	}
	if _, err := os.Stat(path("none.db")); !os.IsNotExist(err) {
		t.Errorf("a file was made where none was: %v", err)
	}
}

// The accuracy of an instrument comes back as it was entered, and a wrong one is
// refused by the name of its quantity, with nothing kept.
func TestInstrumentAccuracyIsKept(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	gauge := records.Instrument{Kind: "gauge", Serial: "QM-1", Accuracy: []records.Accuracy{
		{Quantity: records.QuantityPressure, Step: 0.1, Within: 0.2, WithinPercent: 0.5}}}
	gauge = must(s.Settings.SaveInstrument(ctx, by, gauge))
	got := must(s.Settings.Instruments(ctx))
	if len(got) != 1 || !slices.Equal(got[0].Accuracy, gauge.Accuracy) {
		t.Errorf("kept %+v, want %+v", got, gauge)
	}
	for name, wrong := range map[string]records.Accuracy{
		"no such quantity": {Quantity: "noise", Step: 0.1, Within: 1},
		"no step":          {Quantity: records.QuantityPressure, Within: 1},
		"minus":            {Quantity: records.QuantityPressure, Step: 0.1, Within: -1},
	} {
		in := gauge
		in.Accuracy = []records.Accuracy{wrong}
		_, err := s.Settings.SaveInstrument(ctx, by, in)
		if records.KindOf(err) != records.Invalid || !strings.Contains(fieldOf(err), "accuracy") {
			t.Errorf("%s: about %q: %v", name, fieldOf(err), err)
		}
	}
	gauge.Accuracy = nil
	must(s.Settings.SaveInstrument(ctx, by, gauge))
	if got := must(s.Settings.Instruments(ctx)); len(got) != 1 || got[0].Accuracy != nil {
		t.Errorf("taken off: %+v", got)
	}
}

// A duty is reached through its own appliance only.
func TestDutyOfAnAppliance(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, c := range []struct {
		appliance, duty string
		kind            records.ErrorKind // "": it is
	}{
		{w.plain.ID, w.service.ID, ""}, {w.plain.ID, w.closedDuty.ID, ""}, {w.other.ID, w.service.ID, records.NotFound},
		{w.retired.ID, w.service.ID, records.NotFound}, {w.plain.ID, "none", records.NotFound},
		{"none", w.service.ID, records.NotFound}, {"", w.service.ID, records.NotFound},
	} {
		err := w.Duties.Of(ctx, c.appliance, c.duty)
		if c.kind == "" && err != nil || c.kind != "" && records.KindOf(err) != c.kind {
			t.Errorf("duty %s of %s: %v", c.duty, c.appliance, err)
		}
	}
	long := duty(records.TenantCopy, "2027-01-01")
	for n, kept := range map[int]bool{400: true, 401: false} {
		long.Why = strings.Repeat("é", n)
		if _, err := w.Duties.Add(ctx, by, w.plain.ID, long); (err == nil) != kept || !kept && fieldOf(err) != "why" {
			t.Errorf("a reason of %d: %v", n, err)
		}
	}
}

// Issued records without a print, drafts not among them, in the order of their
// numbers, until the print is kept.
func TestUnprintedRecords(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	if got := must(w.Records.Unprinted(ctx)); !slices.Equal(got, []string{w.unprinted.ID}) {
		t.Errorf("unprinted %v, want %s alone", got, w.unprinted.ID)
	}
	must(w.Records.KeepPDF(ctx, by, w.unprinted.ID, []byte("%PDF-1.7 later")))
	if got := must(w.Records.Unprinted(ctx)); len(got) != 0 {
		t.Errorf("still unprinted: %v", got)
	}
}

// What a webhook was told, newest first, by pages, and of that one only.
func TestDeliveriesByPages(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for n := range 5 {
		storetest.MustIssue(t, w.Store, storetest.MustAppliance(t, w.Store, 30+n).ID, records.Service, "2026-11-01")
	}
	all, next, err := w.Webhooks.Deliveries(ctx, w.hook.ID, "", 100)
	if err != nil || next != "" || len(all) < 7 {
		t.Fatalf("%d deliveries, next %q, %v", len(all), next, err)
	}
	id := func(d records.WebhookDelivery) string { return d.ID }
	var got []string
	for after := ""; len(got) <= len(all); {
		page, next, err := w.Webhooks.Deliveries(ctx, w.hook.ID, after, 3)
		ok(t, err)
		if len(page) > 3 || len(page) == 0 {
			t.Fatalf("a page of %d", len(page))
		}
		for _, d := range page {
			if d.WebhookID != w.hook.ID || d.URL != w.hook.URL {
				t.Errorf("delivery of %s to %s", d.WebhookID, d.URL)
			}
		}
		got = append(got, idsOf(page, id)...)
		if after = next; after == "" {
			break
		}
	}
	if want := idsOf(all, id); !slices.Equal(got, want) {
		t.Errorf("by pages %v, at once %v", got, want)
	}
	if at := slices.Index(got, w.delivered); at < 0 || at < slices.Index(got, w.flying) {
		t.Errorf("the older delivery is at %d", at)
	}
	if ended, _, err := w.Webhooks.Deliveries(ctx, w.endedHook.ID, "", 9); err != nil || len(ended) != 0 {
		t.Errorf("the ended webhook was told %d things, %v", len(ended), err)
	}
	for after, kind := range map[string]records.ErrorKind{"!": records.Invalid,
		store.Cursor("duty", "", 1): records.Invalid} {
		if _, _, err := w.Webhooks.Deliveries(ctx, w.hook.ID, after, 3); records.KindOf(err) != kind {
			t.Errorf("after %q: %v", after, err)
		}
	}
	if _, _, err := w.Webhooks.Deliveries(ctx, "none", "", 3); records.KindOf(err) != records.NotFound {
		t.Errorf("no webhook: %v", err)
	}
}

// A visit, a duty and a reminder name an appliance without make and model by its
// kind, so that the office and the customer read what it is.
func TestApplianceWithoutAMakeIsNamedByItsKind(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	vs := records.Values{}
	vs.Put(records.ApplianceKind.Field, records.KindFire)
	vs.Put(records.ApplianceLocation.Field, "Front room")
	a := must(w.Register.CreateAppliance(ctx, by, w.plain.PropertyID, vs))
	b := must(w.Bookings.Add(ctx, by, records.NewBooking{ApplianceID: a.ID, EngineerID: w.engineer.ID, Today: today,
		Appointment: records.Appointment{On: today.AddDays(3)}, Note: "to look at"}))
	if b.Appliance != "Gas fire" || b.Location != "Front room" {
		t.Errorf("booked for %q in %q", b.Appliance, b.Location)
	}
	for name, c := range map[string]struct {
		to     records.Appointment
		why    string
		fields string
	}{
		"to no day":              {records.Appointment{}, "ill", "on"},
		"without a reason":       {records.Appointment{On: today.AddDays(4)}, " ", "why"},
		"to yesterday, no words": {records.Appointment{On: today.AddDays(-1)}, "", "on why"},
		"to half a window":       {records.Appointment{On: today.AddDays(4), From: "09:00"}, "ill", "until"},
		"for too long a reason":  {records.Appointment{On: today.AddDays(4)}, strings.Repeat("x", 401), "why"},
	} {
		_, err := w.Bookings.Move(ctx, by, b.ID, c.to, w.engineer.ID, c.why, today)
		var fields []string
		var errs records.Errors
		if errors.As(err, &errs) {
			for _, e := range errs {
				fields = append(fields, e.Field)
			}
		}
		if strings.Join(fields, " ") != c.fields {
			t.Errorf("moved %s: about %v: %v", name, fields, err)
		}
	}
	moved := must(w.Bookings.Move(ctx, by, b.ID, records.Appointment{On: today.AddDays(4)}, w.owner.ID, "ill", today))
	if moved.Sequence != b.Sequence+1 || moved.Why != "ill" || moved.Engineer != "Rhona" || moved.On != today.AddDays(4) {
		t.Errorf("moved once, the refused not counted: %+v", moved)
	}
	ok(t, w.Bookings.Cancel(ctx, by, b.ID, "sold"))
	_, err := w.Bookings.Move(ctx, by, b.ID, records.Appointment{On: today.AddDays(5)}, w.owner.ID, "again", today)
	if records.KindOf(err) != records.Conflict || !strings.Contains(err.Error(), "cancelled already") {
		t.Errorf("moved after it was called off: %v", err)
	}
}

// Messages that are not sent are counted by state; what is
// about accounts is left out where only those to customers are asked for.
func TestCountsLeaveAccountsOut(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	all, customers := must(w.Outbox.Counts(ctx, false)), must(w.Outbox.Counts(ctx, true))
	want := map[records.MessageState]int{}
	found, _, err := w.Outbox.Find(ctx, store.OutboxQuery{})
	ok(t, err)
	for _, m := range found {
		if m.State != records.MessageSent && !m.AboutAccount() {
			want[m.State]++
		}
	}
	accounts := 0
	for state, n := range all {
		accounts += n - customers[state]
		if customers[state] != want[state] {
			t.Errorf("%s: %d, want %d", state, customers[state], want[state])
		}
	}
	if accounts == 0 {
		t.Error("no message about an account was left out")
	}
}
