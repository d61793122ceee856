package store_test

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// world is a register with one of everything, in each of its states.
type world struct {
	*store.Store
	path  string
	clock *storetest.Clock

	owner, engineer, closed records.Person
	key, ended              store.Key
	invite                  records.Invitation
	passkey                 records.Passkey // of the engineer's
	session                 records.SignIn

	plain, retired, other store.Appliance // other has a history
	service, closedDuty   records.OpenDuty
	unbooked              records.OpenDuty // of plain

	draft, spare               *records.Record // of plain
	issued, amended, withdrawn store.IssuedRow // of other
	unprinted                  store.IssuedRow // of plain
	photo                      records.Photo   // of draft
	loose                      records.Photo   // kept, of no record

	booking, cancelled records.Booking
	visit, handled     string // visit requests
	contact, settled   string // contact requests
	link               store.Link
	feed               store.Feed
	stop               string // token of a reminder's link
	batch              store.LetterBatch

	due, sending, sent, failed, unsure string // messages
	hook, endedHook                    records.Webhook
	delivered, flying                  string // deliveries of hook
}

const stopped = "stopped@home.example"

// firstWorld is made once; every other is a copy of its file.
var firstWorld struct {
	once sync.Once
	world
	file []byte
}

// newWorld opens a register with one of everything.
func newWorld(t *testing.T) *world {
	t.Helper()
	firstWorld.once.Do(func() {
		w := &firstWorld.world
		w.clock, w.path = storetest.NewClock(), filepath.Join(t.TempDir(), "first.db")
		w.Store = storetest.MustOpenAt(t, w.path, w.clock.Now)
		w.people(t)
		w.register(t)
		w.records(t)
		w.chase(t)
		w.messages(t)
		copied := w.path + ".copy"
		ok(t, w.Backup(ctx, copied))
		firstWorld.file = must(os.ReadFile(copied))
	})
	if firstWorld.file == nil {
		t.Fatal("there is no first world")
	}
	w := firstWorld.world
	w.clock, w.path = storetest.NewClock(), filepath.Join(t.TempDir(), "world.db")
	w.clock.Set(storetest.Start.Add(time.Hour))
	ok(t, os.WriteFile(w.path, firstWorld.file, 0o600))
	w.Store = storetest.MustOpenAt(t, w.path, w.clock.Now)
	for _, text := range []string{"one", "two"} {
		must(w.Photos.Keep([]byte(text)))
	}
	return &w
}

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (w *world) people(t *testing.T) {
	ok(t, w.Settings.SaveFirm(ctx, storetest.Actor, records.Firm{Name: "Tweddle and Daughter Heating",
		Email: "post@tweddle.example"}))
	person := func(name string, role records.Role) records.Person {
		return must(w.People.Create(ctx, storetest.Actor, records.Person{Name: name, Role: role, Active: true,
			Email: strings.ToLower(name) + "@tweddle.example", PasswordHash: "hash"}))
	}
	w.owner, w.engineer, w.closed = person("Rhona", records.RoleOwner), person("Maud", records.RoleEngineer),
		person("Piers", records.RoleOffice)
	w.closed.Active = false
	w.closed = must(w.People.Update(ctx, storetest.Actor, w.closed))
	w.key = must(w.People.NewKey(ctx, storetest.Actor, w.engineer.ID, "van"))
	w.ended = must(w.People.NewKey(ctx, storetest.Actor, w.engineer.ID, "old van"))
	ok(t, w.People.RevokeKey(ctx, storetest.Actor, w.engineer.ID, w.ended.ID))
	w.invite = must(w.People.Invite(ctx, storetest.Actor, w.engineer.ID, inviteLetter))
	w.signIns(t)
	w.feed = must(w.Bookings.AddFeed(ctx, records.Actor{ID: w.owner.ID, Name: "Rhona"}, ""))
}

func (w *world) register(t *testing.T) {
	w.plain, w.other = storetest.MustAppliance(t, w.Store, 1), storetest.MustAppliance(t, w.Store, 2)
	w.retired = storetest.MustAppliance(t, w.Store, 3)
	add := func(kind records.DutyKind, due string) records.OpenDuty {
		return must(w.Duties.Add(ctx, storetest.Actor, w.plain.ID, duty(kind, due)))
	}
	w.service, w.closedDuty = add(records.AnnualService, "2026-12-20"), add(records.BuildingNotice, "2026-12-01")
	w.unbooked = add(records.LandlordCheckDue, "2027-01-20")
	ok(t, w.Duties.Finish(ctx, storetest.Actor, w.closedDuty.ID, "reference 12"))
	ok(t, w.Register.RetireAppliance(ctx, storetest.Actor, w.retired.ID, "taken out"))
}

func (w *world) records(t *testing.T) {
	first := storetest.MustIssue(t, w.Store, w.other.ID, records.Service, "2024-11-20",
		storetest.ServiceDue("2025-11-20"))
	w.issued = amend(t, w.Store, w.other, first.Number, records.Service, "2024-11-20",
		storetest.ServiceDue("2025-11-20"))
	w.amended = must(w.Records.Issued(ctx, first.Number))
	w.withdrawn = storetest.MustIssue(t, w.Store, w.other.ID, records.LandlordCheck, "2025-01-20")
	ok(t, w.Records.Withdraw(ctx, storetest.Actor, w.withdrawn.ID, "wrong house"))
	r := storetest.MustDraft(t, w.Store, w.plain.ID, records.Remedial, "2025-02-20")
	by := storetest.Issuer()
	by.Draw = nil
	row, printed, err := w.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
	if ok(t, err); printed {
		t.Fatal("printed without being drawn")
	}
	w.unprinted = row
	w.draft = storetest.MustDraft(t, w.Store, w.plain.ID, records.Service, "2026-11-20")
	w.spare = storetest.MustDraft(t, w.Store, w.plain.ID, records.Service, "2026-11-21")
	w.photo, w.loose = photo(t, w.Store, "one"), photo(t, w.Store, "two")
	w.draft = must(w.Photos.Add(ctx, storetest.Actor, w.draft.ID, w.photo))
	w.link = must(w.Links.Add(ctx, storetest.Actor, w.issued.ID, "Customer", storetest.Start.AddDate(1, 0, 0)))
}

func (w *world) chase(t *testing.T) {
	w.booking = must(w.Bookings.Add(ctx, storetest.Actor, records.NewBooking{ApplianceID: w.plain.ID,
		EngineerID: w.engineer.ID, DutyIDs: []string{w.service.ID}, Today: bookingDay,
		Appointment: records.Appointment{On: records.MustDate("2026-12-01")}}))
	w.cancelled = must(w.Bookings.Add(ctx, storetest.Actor, records.NewBooking{ApplianceID: w.other.ID,
		EngineerID: w.engineer.ID, Note: "to measure", Today: bookingDay,
		Appointment: records.Appointment{On: records.MustDate("2026-12-02")}}))
	ok(t, w.Bookings.Cancel(ctx, storetest.Actor, w.cancelled.ID, "customer away"))
	w.visit = must(w.Requests.AddVisit(ctx, w.issued.ID, "It is cold."))
	w.handled = must(w.Requests.AddVisit(ctx, w.issued.ID, "It drips."))
	ok(t, w.Requests.HandleVisit(ctx, storetest.Actor, w.handled))
	w.settled = must(w.Requests.AskContact(ctx, w.issued.ID, "First Wish", "01632 960 111", "first@home.example"))
	ok(t, w.Requests.RefuseContact(ctx, storetest.Actor, w.settled))
	w.contact = must(w.Requests.AskContact(ctx, w.issued.ID, "Second Wish", "01632 960 112", "second@home.example"))
	ok(t, w.Chase.StopReminders(ctx, storetest.Actor, stopped, "by telephone"))
	r := reminder(1, -4, w.unbooked)
	if why := send(t, w.Store, r); why != "" {
		t.Fatal(why)
	}
	w.stop = r.Stop
	letter := store.Letter{Name: "C", Steps: []store.DutyStep{{DutyID: w.unbooked.ID, Step: -2}}}
	b, _, err := w.Chase.AddLetters(ctx, storetest.Actor, records.Firm{Name: "F"}, []store.Letter{letter})
	ok(t, err)
	w.batch = b
}

func (w *world) messages(t *testing.T) {
	for _, ref := range []string{"sending", "sent", "failed", "unsure", "due"} {
		must(w.Outbox.Enqueue(ctx, storetest.Actor, message(ref)))
	}
	ids := map[string]string{}
	all, _, err := w.Outbox.Find(ctx, store.OutboxQuery{})
	ok(t, err)
	for _, m := range all {
		ids[m.Ref] = m.ID
	}
	w.due, w.sending, w.sent, w.failed, w.unsure = ids["due"], ids["sending"], ids["sent"], ids["failed"], ids["unsure"]
	// The letters to people and about reminders go first, and stay due.
	for range len(all) - 1 {
		m, err := w.Outbox.ClaimDue(ctx, storetest.Start.Add(time.Hour), time.Hour)
		ok(t, err)
		switch m.ID {
		case w.sending:
		case w.sent:
			ok(t, w.Outbox.MarkSent(ctx, m.ID, "250 ok"))
		case w.failed:
			ok(t, w.Outbox.MarkFailed(ctx, m.ID, "550 no such box"))
		case w.unsure:
			ok(t, w.Outbox.MarkUnsure(ctx, m.ID, "the line broke"))
		default:
			ok(t, w.Outbox.MarkRetry(ctx, m.ID, storetest.Start.AddDate(0, 0, 1), "later"))
		}
	}
	add := func() records.Webhook {
		return must(w.Webhooks.Add(ctx, storetest.Actor, "https://office.example/told", records.WebhookEvents, today,
			false))
	}
	w.hook, w.endedHook = add(), add()
	ok(t, w.Webhooks.End(ctx, storetest.Actor, w.endedHook.ID))
	for _, n := range []int{20, 21} { // what the hook is told of
		storetest.MustIssue(t, w.Store, storetest.MustAppliance(t, w.Store, n).ID, records.Service, "2026-11-01")
	}
	claim := func() string {
		d, err := w.Webhooks.ClaimDelivery(ctx, storetest.Start.Add(2*time.Hour), time.Hour)
		if ok(t, err); d == nil {
			t.Fatal("nothing to deliver")
		}
		return d.ID
	}
	w.delivered = claim()
	ok(t, w.Webhooks.MarkDelivered(ctx, w.delivered, 204))
	w.flying = claim()
}

// contents is everything that stands in a database file, by table.
type contents map[string]string

// read reads a file as it is, past the store.
func read(tb testing.TB, path string) contents {
	tb.Helper()
	return reader(tb, path)()
}

// reader returns what reads a file, once for each time that somebody wrote to
// it. The index of the search is checked against the words it was made of.
func reader(tb testing.TB, path string) func() contents {
	tb.Helper()
	db, err := sql.Open("sqlite3", "file:"+path+"?_busy_timeout=5000&_stmt_cache_size=60")
	if err != nil {
		tb.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	tb.Cleanup(func() { _ = db.Close() })
	last, known := "", contents(nil)
	return func() contents {
		tb.Helper()
		// The number changes whenever another connection commits.
		if now := column(tb, db, "PRAGMA data_version")[0]; known == nil || now != last {
			last, known = now, contentsOf(tb, db)
		}
		return known
	}
}

func contentsOf(tb testing.TB, db *sql.DB) contents {
	tb.Helper()
	out := contents{}
	for _, name := range column(tb, db, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE "+
		"'appliance_words%' AND name NOT LIKE 'goose_%'") {
		rows, err := db.Query("SELECT * FROM " + name)
		if err != nil {
			tb.Fatal(err)
		}
		columns, _ := rows.Columns()
		values, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		var lines []string
		for rows.Next() {
			if err := rows.Scan(into...); err != nil {
				tb.Fatal(err)
			}
			lines = append(lines, fmt.Sprint(values))
		}
		if err := rows.Close(); err != nil {
			tb.Fatal(err)
		}
		slices.Sort(lines)
		sum := sha256.Sum256([]byte(strings.Join(lines, "\n")))
		out[name] = hex.EncodeToString(sum[:])
	}
	if _, err := db.Exec("INSERT INTO appliance_words (appliance_words) VALUES ('integrity-check')"); err != nil {
		tb.Errorf("the search index does not hold: %v", err)
	}
	return out
}

func column(tb testing.TB, db *sql.DB, query string) (out []string) {
	tb.Helper()
	rows, err := db.Query(query)
	if err != nil {
		tb.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			tb.Fatal(err)
		}
		out = append(out, s)
	}
	return out
}

// changed are the tables in which two contents differ.
func (c contents) changed(since contents) (names []string) {
	for name, sum := range c {
		if since[name] != sum {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}
