package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// listed returns a source of n items and how many were taken from it.
func listed(n int, change func(i int, it *store.ListItem)) func() (store.ListItem, error) {
	i := 0
	return func() (store.ListItem, error) {
		if i == n {
			return store.ListItem{}, io.EOF
		}
		p, due := storetest.Property(i), storetest.ServiceDue("2027-03-01")
		it := store.ListItem{Row: i + 2, Property: p.Property, Contact: p.Contact, Values: storetest.ApplianceValues(i),
			LastWork: records.MustDate("2026-03-01"), Duty: &due}
		i++
		if change != nil {
			change(i-1, &it)
		}
		return it, nil
	}
}

func count(t testing.TB, s *store.Store) int {
	t.Helper()
	n := 0
	if err := s.Bulk.EachInView(context.Background(), store.Query{}, func(store.ViewRow) error {
		n++
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestImportList(t *testing.T) {
	t.Parallel()
	ctx, s := context.Background(), storetest.MustOpen(t)
	opt := store.ListOptions{Source: "list.csv"}
	want := store.ListCount{Rows: 20, Properties: 20, Appliances: 20, Duties: 20}
	tried, err := s.Bulk.TryList(ctx, opt, listed(20, nil), func(r *store.ListRefusal) { t.Error(r) })
	if err != nil || tried != want {
		t.Fatalf("tried: %+v, %v", tried, err)
	}
	if n := count(t, s); n != 0 {
		t.Fatalf("trying wrote %d appliances", n)
	}
	if seq, _, err := s.Audit.Head(ctx); seq != 0 || err != nil {
		t.Errorf("trying wrote %d audit entries: %v", seq, err)
	}
	if got, err := s.Bulk.ImportList(ctx, storetest.Actor, opt, listed(20, nil)); err != nil || got != want {
		t.Fatalf("%+v, %v", got, err)
	}
	rows, _, err := s.Register.Find(ctx, store.Query{Search: "EH-000007"})
	if err != nil || len(rows) != 1 || rows[0].NextDuty == nil ||
		rows[0].NextDuty.Duty.Due != records.MustDate("2027-03-01") || rows[0].Name != "Customer Numbered 7" {
		t.Errorf("%+v, %v", rows, err)
	}
	counts, err := s.Register.Counts(ctx, records.MustDate("2026-11-25"))
	if err != nil || counts.Ahead != 20 {
		t.Errorf("%+v, %v", counts, err)
	}

	// Once more: nothing doubles. Written otherwise, it is still the same.
	same := store.ListCount{Rows: 20, Left: 20}
	again := func(i int, it *store.ListItem) {
		it.Property.Line1 = strings.ToUpper(strings.Replace(it.Property.Line1, " ", "  ", 1))
		it.Values.Put(records.ApplianceSerial.Field, strings.ToLower(it.Values.Text(records.ApplianceSerial)))
	}
	if got, err := s.Bulk.ImportList(ctx, storetest.Actor, opt, listed(20, again)); err != nil || got != same {
		t.Errorf("again: %+v, %v", got, err)
	}
	opt.Update = true
	if got, err := s.Bulk.ImportList(ctx, storetest.Actor, opt, listed(20, nil)); err != nil || got != same {
		t.Errorf("again, to update: %+v, %v", got, err)
	}
	if n := count(t, s); n != 20 {
		t.Errorf("%d appliances", n)
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
}

func TestImportListUpdates(t *testing.T) {
	t.Parallel()
	ctx, s := context.Background(), storetest.MustOpen(t)
	a := storetest.MustAppliance(t, s, 0)
	other, err := s.Register.CreateAppliance(ctx, storetest.Actor, a.PropertyID, storetest.ApplianceValues(99))
	if err != nil {
		t.Fatal(err)
	}
	change := func(_ int, it *store.ListItem) {
		it.Contact.Name, it.Contact.Email = "Somebody Else", ""
		it.Values.Put(records.ApplianceLocation.Field, "Loft")
		delete(it.Values, records.ApplianceModel.Key)
	}
	if got, err := s.Bulk.ImportList(ctx, storetest.Actor, store.ListOptions{}, listed(1, change)); err != nil ||
		got != (store.ListCount{Rows: 1, Left: 1}) {
		t.Errorf("left: %+v, %v", got, err)
	}
	if got, err := s.Bulk.ImportList(ctx, storetest.Actor, store.ListOptions{Update: true},
		listed(1, change)); err != nil || got != (store.ListCount{Rows: 1, Updated: 1, Duties: 1}) {
		t.Errorf("updated: %+v, %v", got, err)
	}
	got, err := s.Register.Appliance(ctx, a.ID)
	if err != nil || got.Contact.Name != "Somebody Else" || got.Contact.Email != "" ||
		got.Values.Text(records.ApplianceLocation) != "Loft" ||
		got.Values.Text(records.ApplianceModel) != "Hearth 24" || got.NextDuty == nil {
		t.Errorf("%+v, %v", got, err)
	}
	// One added to an address and then changed with it is found too.
	both := func(i int, it *store.ListItem) {
		it.Property, it.Contact = storetest.Property(0).Property, records.Contact{}
		if i == 1 {
			it.Values, it.Contact = storetest.ApplianceValues(99), records.Contact{Name: "Third Person",
				Tenure: records.Tenant}
		} else {
			it.Values = storetest.ApplianceValues(7)
		}
	}
	if got, err := s.Bulk.ImportList(ctx, storetest.Actor, store.ListOptions{Update: true},
		listed(2, both)); err != nil ||
		got.Appliances != 1 || got.Updated != 1 {
		t.Errorf("%+v, %v", got, err)
	}
	for search, want := range map[string]int{"third": 3, "somebody": 0, "third eh-000007": 1} {
		if rows, _, err := s.Register.Find(ctx, store.Query{Search: search}); err != nil || len(rows) != want {
			t.Errorf("%s finds %d, want %d: %v", search, len(rows), want, err)
		}
	}
	// The other appliance of the address is found by the new name too.
	if rows, _, err := s.Register.Find(ctx, store.Query{Search: "third eh-000099"}); err != nil || len(rows) != 1 ||
		rows[0].ApplianceID != other.ID {
		t.Errorf("%+v, %v", rows, err)
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
}

func TestListRefused(t *testing.T) {
	t.Parallel()
	ctx, s := context.Background(), storetest.MustOpen(t)
	for name, c := range map[string]struct {
		change func(int, *store.ListItem)
		want   string
	}{
		"twice": {func(i int, it *store.ListItem) {
			if i == 3 {
				it.Property, it.Contact, it.Values = storetest.Property(1).Property, storetest.Property(1).Contact,
					storetest.ApplianceValues(1)
			}
		}, "row 3 names the same appliance"},
		"contact": {func(i int, it *store.ListItem) {
			if i == 3 {
				it.Property = storetest.Property(1).Property
			}
		}, "row 3 has another contact"},
	} {
		var refused []string
		if _, err := s.Bulk.TryList(ctx, store.ListOptions{}, listed(5, c.change), func(r *store.ListRefusal) {
			refused = append(refused, r.Error())
		}); err != nil || len(refused) != 1 || !strings.Contains(refused[0], "row 5: "+c.want) {
			t.Errorf("%s: tried: %v, %v", name, refused, err)
		}
		if _, err := s.Bulk.ImportList(ctx, storetest.Actor, store.ListOptions{},
			listed(5, c.change)); records.KindOf(err) != records.Conflict ||
			!strings.Contains(fmt.Sprint(err), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	broken := errors.New("the file ended badly")
	next, n := listed(100, nil), 0
	_, err := s.Bulk.ImportList(ctx, storetest.Actor, store.ListOptions{}, func() (store.ListItem, error) {
		if n++; n == 60 {
			return store.ListItem{}, broken
		}
		return next()
	})
	if !errors.Is(err, broken) {
		t.Errorf("%v", err)
	}
	stopped, cancel := context.WithCancel(ctx)
	next, n = listed(100, nil), 0
	_, err = s.Bulk.ImportList(stopped, storetest.Actor, store.ListOptions{}, func() (store.ListItem, error) {
		if n++; n == 60 {
			cancel()
		}
		return next()
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	if n := count(t, s); n != 0 {
		t.Errorf("%d appliances of lists that failed", n)
	}
	if seq, _, err := s.Audit.Head(ctx); seq != 0 || err != nil {
		t.Errorf("%d audit entries of lists that failed: %v", seq, err)
	}
}

// Without serial numbers, appliances of a kind are told apart by where they
// stand.
func TestListWithoutSerials(t *testing.T) {
	t.Parallel()
	ctx, s := context.Background(), storetest.MustOpen(t)
	at := func(places ...string) func(int, *store.ListItem) {
		return func(i int, it *store.ListItem) {
			it.Property, it.Contact = storetest.Property(0).Property, records.Contact{}
			delete(it.Values, records.ApplianceSerial.Key)
			it.Values.Put(records.ApplianceLocation.Field, places[i])
		}
	}
	if got, err := s.Bulk.ImportList(ctx, storetest.Actor, store.ListOptions{},
		listed(2, at("Loft", "Cellar"))); err != nil ||
		got != (store.ListCount{Rows: 2, Properties: 1, Appliances: 2, Duties: 2}) {
		t.Errorf("%+v, %v", got, err)
	}
	if got, err := s.Bulk.ImportList(ctx, storetest.Actor, store.ListOptions{},
		listed(3, at("Loft", "Shed", "cellar"))); err != nil ||
		got != (store.ListCount{Rows: 3, Appliances: 1, Duties: 1, Left: 2}) {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestFill(t *testing.T) {
	t.Parallel()
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "filled.db")
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	report, err := s.Bulk.Fill(ctx, storetest.Actor, 450, generated, nil)
	if err != nil || report.Appliances != 450 || report.Records != 900 || report.Rows != 450*(1+1+2*2+2) ||
		report.BareRows != report.Rows {
		t.Fatalf("%+v, %v", report, err)
	}
	if n := count(t, s); n != 450 {
		t.Errorf("%d appliances", n)
	}
	rows, _, err := s.Register.Find(ctx, store.Query{Search: "AB123XY EH-000016"})
	if err != nil || len(rows) != 1 || rows[0].LastRecord == nil ||
		rows[0].LastRecord.WorkDate != records.MustDate("2026-05-01") ||
		rows[0].NextDuty.Duty.Due != records.MustDate("2027-05-01") {
		t.Fatalf("%+v, %v", rows, err)
	}
	duties, err := s.Duties.OfAppliance(ctx, rows[0].ApplianceID)
	if err != nil || len(duties) != 2 || duties[0].Closed() || duties[1].State != records.Done ||
		duties[1].ClosedRecordID != rows[0].LastRecord.ID {
		t.Errorf("%+v, %v", duties, err)
	}
	id := rows[0].LastRecord.ID
	if _, err := s.Records.PDF(ctx, id); records.KindOf(err) != records.NotFound {
		t.Errorf("a print before it was made: %v", err)
	}
	for _, text := range []string{"%PDF-1", "%PDF-2"} { // the first is kept
		if got, err := s.Records.KeepPDF(ctx, storetest.Actor, id, []byte(text)); err != nil ||
			string(got) != "%PDF-1" {
			t.Errorf("%s, %v", got, err)
		}
	}
	// What was made is consistent: exported and restored, it comes out as
	// refresh and the rules of the schema have it.
	was := export(t, s)
	to := storetest.MustOpen(t)
	if _, err := to.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{}, bytes.NewReader(was)); err != nil {
		t.Fatal(err)
	}
	if is := export(t, to); !bytes.Equal(was, is) {
		t.Errorf("it came back otherwise:\n%s", firstDifference(was, is))
	}
	a, _, err1 := s.Register.Find(ctx, store.Query{Limit: 500})
	b, _, err2 := to.Register.Find(ctx, store.Query{Limit: 500})
	if err := errors.Join(err1, err2, s.Audit.Proved(ctx), store.CheckFile(ctx, path)); err != nil ||
		!reflect.DeepEqual(a, b) {
		t.Errorf("another register after the restore: %v", err)
	}
	if _, err := s.Bulk.Fill(ctx, storetest.Actor, 1, generated, nil); records.KindOf(err) != records.Conflict {
		t.Errorf("twice: %v", err)
	}
	wrong := errors.New("wrong")
	_, err = storetest.MustOpen(t).Bulk.Fill(ctx, storetest.Actor, 500,
		func(i int, number func(int) string) (store.Filled,
			error) {
			if i == 300 {
				return store.Filled{}, wrong
			}
			return generated(i, number)
		}, nil)
	if !errors.Is(err, wrong) {
		t.Errorf("%v", err)
	}
}

func generated(i int, number func(int) string) (store.Filled, error) {
	f := store.Filled{Property: storetest.Property(i), Values: storetest.ApplianceValues(i)}
	for year := 2025; year <= 2026; year++ {
		r := storetest.Draft("", records.Service, fmt.Sprintf("%d-05-01", year))
		r.Property, r.Contact, r.Values = f.Property.Property, f.Property.Contact, f.Values
		is := records.Issued{Number: number(year), IssuedAt: time.Date(year, 5, 1, 15, 0, 0, 0, time.UTC), Record: r,
			Findings: r.Findings, Standing: records.StandingOf(r.Findings),
			Duties: []records.Duty{storetest.ServiceDue(fmt.Sprintf("%d-05-01", year+1))}}
		canonical, err := is.Canonical()
		if err != nil {
			return f, err
		}
		f.Records = append(f.Records, store.FilledRecord{Issued: is, Canonical: canonical,
			Seal: records.SealOf(canonical, storetest.Key), EngineerID: "p-1"})
	}
	return f, nil
}
