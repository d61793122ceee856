package store_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// reading is a call that changes nothing and finds something in a world.
type reading struct {
	name string
	do   func(context.Context, *world) (any, error)
}

var readings = []reading{
	{"firm", func(ctx context.Context, w *world) (any, error) { return w.Settings.Firm(ctx) }},
	{"reminder settings", func(ctx context.Context, w *world) (any, error) { return w.Settings.Reminders(ctx) }},
	{"person", func(ctx context.Context, w *world) (any, error) { return w.People.ByID(ctx, w.owner.ID) }},
	{"person by address", func(ctx context.Context, w *world) (any, error) {
		return w.People.ByEmail(ctx, w.owner.Email)
	}},
	{"person by key", func(ctx context.Context, w *world) (any, error) { return w.People.ByKey(ctx, w.key.Token) }},
	{"people", func(ctx context.Context, w *world) (any, error) { return w.People.List(ctx) }},
	{"keys", func(ctx context.Context, w *world) (any, error) { return w.People.Keys(ctx, w.engineer.ID) }},
	{"invited", func(ctx context.Context, w *world) (any, error) { return w.People.Invited(ctx, w.invite.Token) }},
	{"invitations", func(ctx context.Context, w *world) (any, error) { return w.People.Invitations(ctx) }},
	{"property", func(ctx context.Context, w *world) (any, error) {
		return w.Register.Property(ctx, w.plain.PropertyID)
	}},
	{"properties", func(ctx context.Context, w *world) (any, error) {
		return w.Register.PropertiesIn(ctx, "ab12 3xy")
	}},
	{"appliance", func(ctx context.Context, w *world) (any, error) { return w.Register.Appliance(ctx, w.other.ID) }},
	{"appliances", func(ctx context.Context, w *world) (any, error) {
		return w.Register.AppliancesAt(ctx, w.other.PropertyID)
	}},
	{"register", func(ctx context.Context, w *world) (any, error) {
		rows, _, err := w.Register.Find(ctx, store.Query{Search: "quillwater"})
		return rows, err
	}},
	{"counts", func(ctx context.Context, w *world) (any, error) { return w.Register.Counts(ctx, today) }},
	{"months", func(ctx context.Context, w *world) (any, error) { return w.Register.DueMonths(ctx, today) }},
	{"rates", func(ctx context.Context, w *world) (any, error) {
		_, kinds, err := w.Register.IssueRates(ctx, records.MustDate("2024-01-01"), today)
		return kinds, err
	}},
	{"waiting", func(ctx context.Context, w *world) (any, error) {
		return w.Register.Waiting(ctx, records.DutyKinds, 2)
	}},
	{"visits followed", func(ctx context.Context, w *world) (any, error) {
		return w.Register.Followed(ctx, w.other.ID, 3)
	}},
	{"record", func(ctx context.Context, w *world) (any, error) { return w.Records.Record(ctx, w.draft.ID) }},
	{"issued by number", func(ctx context.Context, w *world) (any, error) {
		return w.Records.Issued(ctx, w.issued.Number)
	}},
	{"issued by id", func(ctx context.Context, w *world) (any, error) { return w.Records.Issued(ctx, w.issued.ID) }},
	{"print", func(ctx context.Context, w *world) (any, error) { return w.Records.PDF(ctx, w.issued.ID) }},
	{"history", func(ctx context.Context, w *world) (any, error) { return w.Records.History(ctx, w.other.ID) }},
	{"drafts", func(ctx context.Context, w *world) (any, error) { return w.Records.Drafts(ctx, by.ID) }},
	{"earlier readings", func(ctx context.Context, w *world) (any, error) {
		return w.Records.Earlier(ctx, w.other.ID, "")
	}},
	{"link", func(ctx context.Context, w *world) (any, error) { return w.Links.ByToken(ctx, w.link.Token) }},
	{"links", func(ctx context.Context, w *world) (any, error) { return w.Links.OfRecord(ctx, w.issued.ID) }},
	{"seen through a link", func(ctx context.Context, w *world) (any, error) { return w.Links.Seen(ctx, w.link) }},
	{"duties", func(ctx context.Context, w *world) (any, error) { return w.Duties.OfAppliance(ctx, w.plain.ID) }},
	{"open duties", func(ctx context.Context, w *world) (any, error) {
		rows, _, err := w.Duties.Find(ctx, store.DutyQuery{})
		return rows, err
	}},
	{"closed duties", func(ctx context.Context, w *world) (any, error) {
		rows, _, err := w.Duties.List(ctx, store.DutyListQuery{Kind: records.BuildingNotice, State: records.Done})
		return rows, err
	}},
	{"booking", func(ctx context.Context, w *world) (any, error) { return w.Bookings.ByID(ctx, w.booking.ID) }},
	{"bookings", func(ctx context.Context, w *world) (any, error) {
		return w.Bookings.OfAppliance(ctx, w.plain.ID)
	}},
	{"bookings of days", func(ctx context.Context, w *world) (any, error) {
		return w.Bookings.Between(ctx, "", today, today.AddDays(30))
	}},
	{"calendar", func(ctx context.Context, w *world) (any, error) { return w.Bookings.FeedByToken(ctx, w.feed.Token) }},
	{"calendars", func(ctx context.Context, w *world) (any, error) { return w.Bookings.Feeds(ctx, w.owner.ID) }},
	{"contact attempts", func(ctx context.Context, w *world) (any, error) {
		return w.Chase.ContactAttempts(ctx, w.plain.ID)
	}},
	{"chase", func(ctx context.Context, w *world) (any, error) {
		rows, _, err := w.Chase.Find(ctx, store.ChaseQuery{Ladder: due.DefaultLadder, Today: today})
		return rows, err
	}},
	{"chased duties", func(ctx context.Context, w *world) (any, error) {
		return w.Chase.OfDuties(ctx, []string{w.service.ID, "none"})
	}},
	{"customer", func(ctx context.Context, w *world) (any, error) { return w.Chase.Customer(ctx, w.plain.PropertyID) }},
	{"stop link", func(ctx context.Context, w *world) (any, error) { return w.Chase.StopLink(ctx, w.stop) }},
	{"suppressed", func(ctx context.Context, w *world) (any, error) { return w.Chase.Suppressed(ctx, stopped) }},
	{"suppressions", func(ctx context.Context, w *world) (any, error) { return w.Chase.Suppressions(ctx) }},
	{"batch", func(ctx context.Context, w *world) (any, error) { return w.Chase.LetterBatch(ctx, w.batch.ID) }},
	{"batches", func(ctx context.Context, w *world) (any, error) { return w.Chase.LetterBatches(ctx) }},
	{"visit requests", func(ctx context.Context, w *world) (any, error) { return w.Requests.Visits(ctx) }},
	{"contact requests", func(ctx context.Context, w *world) (any, error) { return w.Requests.Contacts(ctx) }},
	{"messages", func(ctx context.Context, w *world) (any, error) {
		rows, _, err := w.Outbox.Find(ctx, store.OutboxQuery{})
		return rows, err
	}},
	{"message", func(ctx context.Context, w *world) (any, error) { return w.Outbox.Message(ctx, w.sent) }},
	{"message counts", func(ctx context.Context, w *world) (any, error) { return w.Outbox.Counts(ctx, false) }},
	{"webhook", func(ctx context.Context, w *world) (any, error) { return w.Webhooks.ByID(ctx, w.hook.ID) }},
	{"webhooks", func(ctx context.Context, w *world) (any, error) { return w.Webhooks.List(ctx) }},
	{"deliveries", func(ctx context.Context, w *world) (any, error) {
		rows, _, err := w.Webhooks.Deliveries(ctx, w.hook.ID, "", 5)
		return rows, err
	}},
	{"log", func(ctx context.Context, w *world) (any, error) { return w.Audit.Entries(ctx, "", 0, 5) }},
	{"log of one key", func(ctx context.Context, w *world) (any, error) {
		return w.Audit.Find(ctx, store.AuditQuery{Subject: w.key.ID, What: "key made"})
	}},
	{"actors of the log", func(ctx context.Context, w *world) (any, error) { return w.Audit.Actors(ctx) }},
	{"kinds of the log", func(ctx context.Context, w *world) (any, error) { return w.Audit.Kinds(ctx) }},
	{"signed head", func(ctx context.Context, w *world) (any, error) { return w.Audit.Signed(ctx) }},
	{"id of a key", func(ctx context.Context, w *world) (any, error) { return w.People.KeyID(ctx, w.key.Token) }},
	{"proof", func(ctx context.Context, w *world) (any, error) {
		return w.Audit.Prove(ctx, store.ProofOptions{Keys: ours})
	}},
	{"head of the log", func(ctx context.Context, w *world) (any, error) {
		seq, _, err := w.Audit.Head(ctx)
		return seq, err
	}},
	{"export", func(ctx context.Context, w *world) (any, error) { return w.Bulk.Export(ctx, io.Discard) }},
	{"view", func(ctx context.Context, w *world) (any, error) {
		n := 0
		err := w.Bulk.EachInView(ctx, store.Query{}, func(store.ViewRow) error { n++; return nil })
		return n, err
	}},
	{"list tried", func(ctx context.Context, w *world) (any, error) {
		return w.Bulk.TryList(ctx, store.ListOptions{}, listed(3, nil), func(*store.ListRefusal) {})
	}},
}

// Every reading finds something, finds the same when asked again, changes
// nothing, and ends with the request.
func TestReadings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	if _, err := w.People.ByKey(ctx, w.key.Token); err != nil { // notes the use, once in a while
		t.Fatal(err)
	}
	was := read(t, w.path)
	for _, r := range readings {
		first, err := r.do(ctx, w)
		if err != nil {
			t.Errorf("%s: %v", r.name, err)
			continue
		}
		if v := reflect.ValueOf(first); !v.IsValid() || v.IsZero() ||
			(v.Kind() == reflect.Slice || v.Kind() == reflect.Map) && v.Len() == 0 {
			t.Errorf("%s finds nothing", r.name)
		}
		if again, err := r.do(ctx, w); err != nil || !reflect.DeepEqual(first, again) {
			t.Errorf("%s finds something else when asked again: %v", r.name, err)
		}
		if _, err := r.do(gone(), w); !errors.Is(err, context.Canceled) {
			t.Errorf("%s of a request that ended: %v", r.name, err)
		}
	}
	if changed := read(t, w.path).changed(was); len(changed) > 0 {
		t.Errorf("reading changed %v", changed)
	}
}

// A reading of a file that has lost a table is an error, not an empty answer.
func TestReadingsOfADamagedFile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	db := behind(t, w.path)
	for _, name := range []string{"outbox", "duties", "people", "bookings", "webhooks", "keys"} {
		if _, err := db.Exec("ALTER TABLE " + name + " RENAME TO lost_" + name); err != nil {
			t.Fatal(err)
		}
	}
	for name, err := range map[string]error{
		"messages": second3(w.Outbox.Find(ctx, store.OutboxQuery{})),
		"counts":   errOf(w.Outbox.Counts(ctx, false)), "duties": second3(w.Duties.Find(ctx, store.DutyQuery{})),
		"people": errOf(w.People.List(ctx)), "person": errOf(w.People.ByID(ctx, w.owner.ID)),
		"bookings": errOf(w.Bookings.Between(ctx, "", today, today)), "webhooks": errOf(w.Webhooks.List(ctx)),
		"key": errOf(w.People.ByKey(ctx, w.key.Token)), "export": errOf(w.Bulk.Export(ctx, io.Discard)),
		"claim": errOf(w.Outbox.ClaimDue(ctx, storetest.Start, 0)),
	} {
		if err == nil || records.KindOf(err) != records.Internal || !strings.Contains(err.Error(), "no such table") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func second3[A, B any](_ A, _ B, err error) error { return err }

// Documents that are no JSON of ours are an error that says so.
func TestReadingsOfDamagedDocuments(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	db := behind(t, w.path)
	for _, stmt := range []string{
		"UPDATE firm SET doc = '[]'", "UPDATE webhooks SET events = '7'", "UPDATE letter_batches SET doc = '[]'",
		"UPDATE duties SET source = '[]'", "UPDATE appliances SET doc = '[]'", "UPDATE contact_requests SET was = '[]'",
		"UPDATE records SET rejected = '[]' WHERE stage = 'draft'",
	} {
		if _, err := db.Exec(stmt); err != nil {
			t.Fatalf("%s: %v", stmt, err)
		}
	}
	for name, err := range map[string]error{
		"firm": errOf(w.Settings.Firm(ctx)), "webhook": errOf(w.Webhooks.ByID(ctx, w.hook.ID)),
		"webhooks": errOf(w.Webhooks.List(ctx)), "batch": errOf(w.Chase.LetterBatch(ctx, w.batch.ID)),
		"batches": errOf(w.Chase.LetterBatches(ctx)), "duties": errOf(w.Duties.OfAppliance(ctx, w.plain.ID)),
		"appliance": errOf(w.Register.Appliance(ctx, w.plain.ID)),
		"view":      w.Bulk.EachInView(ctx, store.Query{}, func(store.ViewRow) error { return nil }),
		"wish":      errOf(w.Requests.Contacts(ctx)), "record": errOf(w.Records.Record(ctx, w.draft.ID)),
		"issue": issueAs(w, w.draft.ID, 1), "late": errOf(w.Webhooks.AnnounceLate(ctx, today)),
		"confirm": w.Requests.ConfirmContact(ctx, by, w.contact),
	} {
		if err == nil || records.KindOf(err) != records.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The file lies where the store says, and its pictures beside it.
func TestFolders(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	if w.Dir() != filepath.Dir(w.path) || w.Photos.Dir() != filepath.Join(w.Dir(), "photos") {
		t.Errorf("%s, %s", w.Dir(), w.Photos.Dir())
	}
}

// An export says how many lines it wrote, and passes on what the writer says.
func TestExportCountsAndFails(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	var b bytes.Buffer
	n, err := w.Bulk.Export(ctx, &b)
	if ok(t, err); n != bytes.Count(b.Bytes(), []byte("\n"))-1 || !bytes.HasSuffix(b.Bytes(), []byte("}\n")) {
		t.Errorf("%d lines, the file has %d", n, bytes.Count(b.Bytes(), []byte("\n")))
	}
	full := errors.New("the disk is full")
	if _, err := w.Bulk.Export(ctx, writerFunc(func([]byte) (int, error) { return 0, full })); !errors.Is(err, full) {
		t.Errorf("error %v", err)
	}
}
