package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// The world exported, restored and exported once more is the same, to the byte.
func TestWorldExportedAndRestored(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	// A document may have been stored on several lines; a line is one.
	if _, err := behind(t, w.path).Exec("UPDATE firm SET doc = '{' || char(10) || substr(doc, 2)"); err != nil {
		t.Fatal(err)
	}
	was := export(t, w.Store)
	to := storetest.MustOpen(t)
	count, err := to.Bulk.Restore(ctx, by, store.RestoreOptions{Source: "world"}, bytes.NewReader(was))
	ok(t, err)
	if is := export(t, to); !bytes.Equal(was, is) {
		t.Errorf("it came back otherwise:\n%s", firstDifference(was, is))
	}
	for kind, want := range map[string]int{"property": 5, "appliance": 5, "person": 3, "booking": 2, "letters": 1,
		"no reminders": 1, "visit request": 2, "contact request": 2, "numbers": 1, "firm": 1} {
		if count[kind] != want {
			t.Errorf("%d lines of %s, want %d", count[kind], kind, want)
		}
	}
	// What travels is what can be seen; what does not, is not there.
	for _, id := range []string{w.plain.ID, w.other.ID, w.retired.ID} {
		a, b := must(w.Register.Appliance(ctx, id)), must(to.Register.Appliance(ctx, id))
		if fmt.Sprint(a) == "" || a.Retired != b.Retired || a.Contact != b.Contact ||
			(a.NextDuty == nil) != (b.NextDuty == nil) {
			t.Errorf("%+v came back as %+v", a, b)
		}
	}
	if p := must(to.People.ByID(ctx, w.engineer.ID)); p.PasswordHash != "" || p.SignIns != 0 {
		t.Errorf("person %+v", p)
	}
	_, err = to.People.ByKey(ctx, w.key.Token)
	wantKind(t, err, records.NotFound)
	_, err = to.Links.ByToken(ctx, w.link.Token)
	wantKind(t, err, records.NotFound)
	if messages, _, err := to.Outbox.Find(ctx, store.OutboxQuery{}); err != nil || len(messages) > 0 {
		t.Errorf("messages %+v, %v", messages, err)
	}
	if got := must(to.Records.PDF(ctx, w.issued.ID)); !bytes.Equal(got, must(w.Records.PDF(ctx, w.issued.ID))) {
		t.Error("another print")
	}
	_, err = to.Records.PDF(ctx, w.unprinted.ID)
	wantKind(t, err, records.NotFound)
	wholeRegister(t, to)
	// The restored register goes on where the old one was.
	if row := storetest.MustIssue(t, to, w.other.ID, records.Service, "2026-11-20"); row.Number != "2026-00007" {
		t.Errorf("the next number is %s", row.Number)
	}
	if d := must(to.Duties.Add(ctx, by, w.plain.ID, duty(records.TenantCopy, "2027-01-01"))); d.ID == "" {
		t.Error("no duty")
	}
}

// A restore whose request ends, or whose file breaks off in the reading, leaves
// an empty register that can be filled after all.
func TestRestoreThatEndsEarly(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	was := export(t, w.Store)
	to := storetest.MustOpen(t)
	half := len(was) / 2
	leaving, leave := context.WithCancel(ctx)
	broken := errors.New("the cable was pulled")
	for name, c := range map[string]struct {
		ctx  context.Context
		in   io.Reader
		want error
	}{
		"request": {leaving, io.MultiReader(bytes.NewReader(was[:half]), readerFunc(func([]byte) (int, error) {
			leave()
			return 0, io.EOF
		}), bytes.NewReader(was[half:])), context.Canceled},
		"reader": {ctx, io.MultiReader(bytes.NewReader(was[:half]), readerFunc(func([]byte) (int, error) {
			return 0, broken
		})), broken},
	} {
		if count, err := to.Bulk.Restore(c.ctx, by, store.RestoreOptions{}, c.in); !errors.Is(err, c.want) ||
			count != nil {
			t.Errorf("%s: %v, %v", name, count, err)
		}
		if n := count(t, to); n != 0 {
			t.Errorf("%s: %d appliances stayed", name, n)
		}
	}
	if _, err := to.Bulk.Restore(ctx, by, store.RestoreOptions{}, bytes.NewReader(was)); err != nil {
		t.Error(err)
	}
	wholeRegister(t, to)
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// Lines that say something else than they could have been exported with are
// refused by name.
func TestRestoreRefusesLines(t *testing.T) {
	t.Parallel()
	was := string(export(t, newWorld(t).Store))
	for name, c := range map[string]struct{ old, new, want string }{
		"retired":         {`"retired":1`, `"retired":7`, "retired is neither"},
		"text for number": {`"sequence":0`, `"sequence":{}`, "neither text nor a whole number"},
		"draft":           {`"rejected":null`, `"rejected":[]`, "record"},
		"draft's date":    {`"purpose":"service","standing"`, `"purpose":7,"standing"`, "purpose"},
		"stage":           {`"stage":"amended"`, `"stage":"mended"`, "record"},
		"two people":      {`"email":"maud@tweddle.example"`, `"email":"rhona@tweddle.example"`, "person"},
		"base 64":         {`"pdf":"JVBE`, `"pdf":"????`, "no PDF in base 64"},
		"seal":            {`"signature":"`, `"signature":7,"x":"`, "record"},
	} {
		if !strings.Contains(was, c.old) {
			t.Errorf("%s: the export holds no %s", name, c.old)
			continue
		}
		s := storetest.MustOpen(t)
		_, err := s.Bulk.Restore(ctx, by, store.RestoreOptions{},
			strings.NewReader(strings.Replace(was, c.old, c.new, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) || records.KindOf(err) != records.Invalid {
			t.Errorf("%s: %v (%s), want %q", name, err, records.KindOf(err), c.want)
		}
		if n := count(t, s); n != 0 {
			t.Errorf("%s: %d appliances stayed", name, n)
		}
	}
}

// A view of more rows than are read at once comes whole and in order, and ends
// with the error of whoever looks.
func TestViewOfManyRows(t *testing.T) {
	s := empty(t)
	const n = 1100
	if _, err := s.Bulk.ImportList(ctx, by, store.ListOptions{}, listed(n, func(i int, it *store.ListItem) {
		it.Duty.Due = records.MustDate("2027-01-01").AddDays(i % 365)
	})); err != nil {
		t.Fatal(err)
	}
	for _, q := range []store.Query{{}, {Sort: store.ByAddress}, {Duty: records.AnnualService}} {
		seen, before := map[string]bool{}, ""
		err := s.Bulk.EachInView(ctx, q, func(v store.ViewRow) error {
			key := v.Duty.Due.String()
			if q.Sort == store.ByAddress {
				key = store.AddressKey(v.Property)
			}
			if key < before {
				t.Errorf("%+v: %s after %s", q, key, before)
			}
			before = key
			seen[v.Values.Text(records.ApplianceSerial)] = true
			return nil
		})
		if err != nil || len(seen) != n {
			t.Errorf("%+v: %d rows, %v", q, len(seen), err)
		}
	}
	enough, rows := errors.New("enough"), 0
	err := s.Bulk.EachInView(ctx, store.Query{}, func(store.ViewRow) error {
		if rows++; rows == 700 {
			return enough
		}
		return nil
	})
	if !errors.Is(err, enough) || rows != 700 {
		t.Errorf("%d rows, %v", rows, err)
	}
}

// Filling tells how far it has come and how fast it was; stopped, it says so.
func TestFillTellsAndStops(t *testing.T) {
	t.Parallel()
	var told []int
	report, err := storetest.MustOpen(t).Bulk.Fill(ctx, by, 420, generated, func(done int) {
		told = append(told, done)
	})
	ok(t, err)
	if fmt.Sprint(told) != "[200 400 420]" {
		t.Errorf("told %v", told)
	}
	if filled, bare := report.PerSecond(); filled <= 0 || bare <= 0 || report.Took <= 0 || report.BareTook <= 0 {
		t.Errorf("%v and %v rows a second: %+v", filled, bare, report)
	}
	leaving, leave := context.WithCancel(ctx)
	_, err = storetest.MustOpen(t).Bulk.Fill(leaving, by, 100_000, generated, func(int) { leave() })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

// A list that changes an address and an appliance at it does so in the log too;
// blanks of the list leave what is on file.
func TestListChangesAreLogged(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	change := func(_ int, it *store.ListItem) {
		it.Property, it.Contact = w.plain.Property, records.Contact{}
		it.Property.Town = "Elsewhere"
		it.Values = storetest.ApplianceValues(1)
		it.Values.Put(records.ApplianceLocation.Field, "Loft")
	}
	got, err := w.Bulk.ImportList(ctx, by, store.ListOptions{Source: "list.csv", Update: true}, listed(1, change))
	if err != nil || got != (store.ListCount{Rows: 1, Updated: 1}) {
		t.Fatalf("%+v, %v", got, err)
	}
	a := must(w.Register.Appliance(ctx, w.plain.ID))
	if a.Property.Town != "Elsewhere" || a.Contact != w.plain.Contact ||
		a.Values.Text(records.ApplianceLocation) != "Loft" || a.NextDuty.ID != w.service.ID {
		t.Errorf("appliance %+v", a)
	}
	var said []string
	for _, e := range must(w.Audit.Entries(ctx, "", 0, 3)) {
		said = append(said, e.What)
	}
	if fmt.Sprint(said) != "[list imported appliance changed property changed]" {
		t.Errorf("said %v", said)
	}
	// The same list with nothing new changes nothing more.
	if got, err = w.Bulk.ImportList(ctx, by, store.ListOptions{Update: true}, listed(1, change)); err != nil ||
		got != (store.ListCount{Rows: 1, Left: 1}) {
		t.Errorf("again: %+v, %v", got, err)
	}
	wholeRegister(t, w.Store)
}

// A backup that is stopped, or cannot be written, leaves nothing behind.
func TestBackupThatFails(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	dir := t.TempDir()
	if err := w.Backup(gone(), filepath.Join(dir, "copy.db")); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	if err := w.Backup(ctx, filepath.Join(dir, "none", "copy.db")); err == nil {
		t.Error("written into a folder that is not there")
	}
	if left := must(os.ReadDir(dir)); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	wantKind(t, store.CheckFile(ctx, emptyFile(t)), records.Invalid)
	if err := store.CheckFile(ctx, filepath.Join(dir, "none.db")); err == nil {
		t.Error("a file that is not there is sound")
	}
}

// emptyFile makes a database that is none of ours.
func emptyFile(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "other.db")
	if _, err := behind(t, path).Exec("CREATE TABLE records (n INTEGER)"); err != nil {
		t.Fatal(err)
	}
	return path
}

// A copy that is opened is the register as it stood, and takes new entries.
func TestBackupGoesOn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	path := filepath.Join(t.TempDir(), "copy.db")
	ok(t, w.Backup(ctx, path))
	if changed := read(t, path).changed(read(t, w.path)); len(changed) > 0 {
		t.Errorf("the copy differs in %v", changed)
	}
	s := storetest.MustOpenAt(t, path, time.Now)
	seq, hash, err := w.Audit.Head(ctx)
	ok(t, err)
	ok(t, s.Settings.SaveFirm(ctx, by, records.Firm{Name: "Applegarth Heating"}))
	log := must(s.Audit.Entries(ctx, "", seq+1, 1))
	if log[0].Hash != hash {
		t.Error("the copy does not go on from the log of the register")
	}
	wholeRegister(t, s)
}
