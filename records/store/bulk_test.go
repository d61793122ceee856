package store_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"reflect"
	"runtime"
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
		it := store.ListItem{Row: i + 2, Property: p.Property, Contact: p.Contact, Values: storetest.ApplianceValues(i), LastWork: records.MustDate("2026-03-01"), Duty: &due}
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
	if err := s.EachInView(context.Background(), store.Query{}, func(store.ViewRow) error { n++; return nil }); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestImportList(t *testing.T) {
	ctx, s := context.Background(), storetest.MustOpen(t)
	opt := store.ListOptions{Source: "list.csv"}
	want := store.ListCount{Rows: 20, Properties: 20, Appliances: 20, Duties: 20}
	tried, err := s.TryList(ctx, opt, listed(20, nil), func(r *store.ListRefusal) { t.Error(r) })
	if err != nil || tried != want {
		t.Fatalf("tried: %+v, %v", tried, err)
	}
	if n := count(t, s); n != 0 {
		t.Fatalf("trying wrote %d appliances", n)
	}
	if seq, _, err := s.AuditHead(ctx); seq != 0 || err != nil {
		t.Errorf("trying wrote %d audit entries: %v", seq, err)
	}
	if got, err := s.ImportList(ctx, storetest.Actor, opt, listed(20, nil)); err != nil || got != want {
		t.Fatalf("%+v, %v", got, err)
	}
	rows, _, err := s.Register(ctx, store.Query{Search: "EH-000007"})
	if err != nil || len(rows) != 1 || rows[0].NextDuty == nil || rows[0].NextDuty.Duty.Due != records.MustDate("2027-03-01") || rows[0].Name != "Customer Numbered 7" {
		t.Errorf("%+v, %v", rows, err)
	}
	counts, err := s.Counts(ctx, records.MustDate("2026-11-25"))
	if err != nil || counts.Ahead != 20 {
		t.Errorf("%+v, %v", counts, err)
	}

	// Once more: nothing doubles. Written otherwise, it is still the same.
	same := store.ListCount{Rows: 20, Left: 20}
	again := func(i int, it *store.ListItem) {
		it.Property.Line1 = strings.ToUpper(strings.Replace(it.Property.Line1, " ", "  ", 1))
		it.Values.Put(records.ApplianceSerial.Field, strings.ToLower(it.Values.Text(records.ApplianceSerial)))
	}
	if got, err := s.ImportList(ctx, storetest.Actor, opt, listed(20, again)); err != nil || got != same {
		t.Errorf("again: %+v, %v", got, err)
	}
	opt.Update = true
	if got, err := s.ImportList(ctx, storetest.Actor, opt, listed(20, nil)); err != nil || got != same {
		t.Errorf("again, to update: %+v, %v", got, err)
	}
	if n := count(t, s); n != 20 {
		t.Errorf("%d appliances", n)
	}
	if err := s.VerifyAudit(ctx); err != nil {
		t.Error(err)
	}
}

func TestImportListUpdates(t *testing.T) {
	ctx, s := context.Background(), storetest.MustOpen(t)
	a := storetest.MustAppliance(t, s, 0)
	other, err := s.CreateAppliance(ctx, storetest.Actor, a.PropertyID, storetest.ApplianceValues(99))
	if err != nil {
		t.Fatal(err)
	}
	change := func(_ int, it *store.ListItem) {
		it.Contact.Name, it.Contact.Email = "Somebody Else", ""
		it.Values.Put(records.ApplianceLocation.Field, "Loft")
		delete(it.Values, records.ApplianceModel.Key)
	}
	if got, err := s.ImportList(ctx, storetest.Actor, store.ListOptions{}, listed(1, change)); err != nil || got != (store.ListCount{Rows: 1, Left: 1}) {
		t.Errorf("left: %+v, %v", got, err)
	}
	if got, err := s.ImportList(ctx, storetest.Actor, store.ListOptions{Update: true}, listed(1, change)); err != nil || got != (store.ListCount{Rows: 1, Updated: 1, Duties: 1}) {
		t.Errorf("updated: %+v, %v", got, err)
	}
	got, err := s.Appliance(ctx, a.ID)
	if err != nil || got.Contact.Name != "Somebody Else" || got.Contact.Email != "" || got.Values.Text(records.ApplianceLocation) != "Loft" ||
		got.Values.Text(records.ApplianceModel) != "Hearth 24" || got.NextDuty == nil {
		t.Errorf("%+v, %v", got, err)
	}
	// One added to an address and then changed with it is found too.
	both := func(i int, it *store.ListItem) {
		it.Property, it.Contact = storetest.Property(0).Property, records.Contact{}
		if i == 1 {
			it.Values, it.Contact = storetest.ApplianceValues(99), records.Contact{Name: "Third Person", Tenure: records.Tenant}
		} else {
			it.Values = storetest.ApplianceValues(7)
		}
	}
	if got, err := s.ImportList(ctx, storetest.Actor, store.ListOptions{Update: true}, listed(2, both)); err != nil || got.Appliances != 1 || got.Updated != 1 {
		t.Errorf("%+v, %v", got, err)
	}
	for search, want := range map[string]int{"third": 3, "somebody": 0, "third eh-000007": 1} {
		if rows, _, err := s.Register(ctx, store.Query{Search: search}); err != nil || len(rows) != want {
			t.Errorf("%s finds %d, want %d: %v", search, len(rows), want, err)
		}
	}
	// The other appliance of the address is found by the new name too.
	if rows, _, err := s.Register(ctx, store.Query{Search: "third eh-000099"}); err != nil || len(rows) != 1 || rows[0].ApplianceID != other.ID {
		t.Errorf("%+v, %v", rows, err)
	}
	if err := s.VerifyAudit(ctx); err != nil {
		t.Error(err)
	}
}

func TestListRefused(t *testing.T) {
	ctx, s := context.Background(), storetest.MustOpen(t)
	for name, c := range map[string]struct {
		change func(int, *store.ListItem)
		want   string
	}{
		"twice": {func(i int, it *store.ListItem) {
			if i == 3 {
				it.Property, it.Contact, it.Values = storetest.Property(1).Property, storetest.Property(1).Contact, storetest.ApplianceValues(1)
			}
		}, "row 3 names the same appliance"},
		"contact": {func(i int, it *store.ListItem) {
			if i == 3 {
				it.Property = storetest.Property(1).Property
			}
		}, "row 3 has another contact"},
	} {
		var refused []string
		if _, err := s.TryList(ctx, store.ListOptions{}, listed(5, c.change), func(r *store.ListRefusal) { refused = append(refused, r.Error()) }); err != nil || len(refused) != 1 || !strings.Contains(refused[0], "row 5: "+c.want) {
			t.Errorf("%s: tried: %v, %v", name, refused, err)
		}
		if _, err := s.ImportList(ctx, storetest.Actor, store.ListOptions{}, listed(5, c.change)); records.KindOf(err) != records.Conflict || !strings.Contains(fmt.Sprint(err), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	broken := errors.New("the file ended badly")
	next, n := listed(100, nil), 0
	_, err := s.ImportList(ctx, storetest.Actor, store.ListOptions{}, func() (store.ListItem, error) {
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
	_, err = s.ImportList(stopped, storetest.Actor, store.ListOptions{}, func() (store.ListItem, error) {
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
	if seq, _, err := s.AuditHead(ctx); seq != 0 || err != nil {
		t.Errorf("%d audit entries of lists that failed: %v", seq, err)
	}
}

// Without serial numbers, appliances of a kind are told apart by where they
// stand.
func TestListWithoutSerials(t *testing.T) {
	ctx, s := context.Background(), storetest.MustOpen(t)
	at := func(places ...string) func(int, *store.ListItem) {
		return func(i int, it *store.ListItem) {
			it.Property, it.Contact = storetest.Property(0).Property, records.Contact{}
			delete(it.Values, records.ApplianceSerial.Key)
			it.Values.Put(records.ApplianceLocation.Field, places[i])
		}
	}
	if got, err := s.ImportList(ctx, storetest.Actor, store.ListOptions{}, listed(2, at("Loft", "Cellar"))); err != nil || got != (store.ListCount{Rows: 2, Properties: 1, Appliances: 2, Duties: 2}) {
		t.Errorf("%+v, %v", got, err)
	}
	if got, err := s.ImportList(ctx, storetest.Actor, store.ListOptions{}, listed(3, at("Loft", "Shed", "cellar"))); err != nil || got != (store.ListCount{Rows: 3, Appliances: 1, Duties: 1, Left: 2}) {
		t.Errorf("%+v, %v", got, err)
	}
}

// A register with something in every table that travels.
func everything(t testing.TB) *store.Store {
	t.Helper()
	ctx, s := context.Background(), storetest.MustOpen(t)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(s.SaveFirm(ctx, storetest.Actor, records.Firm{Name: "Tweddle & <Daughter> Heating"}))
	_, err := s.SaveInstrument(ctx, storetest.Actor, records.Instrument{ID: "g", Kind: "gauge", Serial: "1", CalibratedOn: records.MustDate("2026-01-01")})
	must(err)
	must(s.SaveDropBands(ctx, storetest.Actor, records.DropBands{Edition: "e", Fuel: "f", Clause: "c", EnteredBy: "x", Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 4}}}))
	p, err := s.CreatePerson(ctx, storetest.Actor, store.Person{Name: "Maud", Email: "maud@tweddle.example", Role: store.Engineer, PasswordHash: "secret hash", Active: true})
	must(err)
	var first store.IssuedRow
	for i := range 12 {
		a := storetest.MustAppliance(t, s, i)
		row := storetest.MustIssue(t, s, a.ID, records.Commissioning, fmt.Sprintf("2025-%02d-02", i%12+1), storetest.ServiceDue(fmt.Sprintf("2026-%02d-02", i%12+1)))
		if i == 0 {
			first = row
		}
		switch i % 4 {
		case 1:
			storetest.MustIssue(t, s, a.ID, records.Service, "2026-02-02", storetest.ServiceDue("2027-02-02"))
		case 2:
			must(s.Withdraw(ctx, storetest.Actor, row.ID, "a slip, \"quoted\" & <told>"))
		case 3:
			d := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
			if i == 7 {
				must(s.DiscardDraft(ctx, storetest.Actor, d.ID, "twice"))
			}
		}
	}
	_, err = s.AddContactAttempt(ctx, storetest.Actor, first.ApplianceID, "call", "no answer\nyet <&>", records.Date{})
	must(err)
	_, err = s.AddVisitRequest(ctx, first.ID, "please come\nin the morning")
	must(err)
	gone := storetest.MustAppliance(t, s, 50)
	must(s.RetireAppliance(ctx, storetest.Actor, gone.ID, "sold"))
	_ = p
	return s
}

func export(t testing.TB, s *store.Store) []byte {
	t.Helper()
	var b bytes.Buffer
	if _, err := s.Export(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestExportRestore(t *testing.T) {
	ctx, from := context.Background(), everything(t)
	was := export(t, from)
	if bytes.Contains(was, []byte("secret hash")) {
		t.Error("a password hash got out")
	}
	path := filepath.Join(t.TempDir(), "to.db")
	to := storetest.MustOpenAt(t, path, time.Now)
	ours := func(seal records.Seal, canonical []byte) bool {
		return seal.Holds(canonical, storetest.Key.Public().(ed25519.PublicKey))
	}
	if _, err := to.Restore(ctx, storetest.Actor, store.RestoreOptions{Source: "old register", Seals: ours}, bytes.NewReader(was)); err != nil {
		t.Fatal(err)
	}
	if is := export(t, to); !bytes.Equal(was, is) {
		t.Errorf("it came back otherwise:\n%s", firstDifference(was, is))
	}
	if err := errors.Join(to.VerifyAudit(ctx), to.VerifyIssued(ctx), store.CheckFile(ctx, path)); err != nil {
		t.Error(err)
	}
	log, err := to.Audit(ctx, "", 0, 10)
	if err != nil || len(log) != 1 || log[0].Subject != "old register" {
		t.Errorf("audit log %+v, %v", log, err)
	}
	for _, q := range []store.Query{{}, {Sort: store.ByAddress}, {Search: "2026-00004"}, {State: store.NoDuty}, {State: store.NoDuty, Duty: records.AnnualService}, {Duty: records.AnnualService}} {
		a, _, err1 := from.Register(ctx, q)
		b, _, err2 := to.Register(ctx, q)
		if err := errors.Join(err1, err2); err != nil || !reflect.DeepEqual(a, b) {
			t.Errorf("%+v: %d rows, were %d: %v\n%+v\n%+v", q, len(b), len(a), err, b, a)
		}
	}
	day := records.MustDate("2026-11-25")
	a, err1 := from.Counts(ctx, day)
	b, err2 := to.Counts(ctx, day)
	if err := errors.Join(err1, err2); err != nil || a != b {
		t.Errorf("counts %+v, were %+v: %v", b, a, err)
	}
	if _, err := to.Restore(ctx, storetest.Actor, store.RestoreOptions{}, bytes.NewReader(was)); records.KindOf(err) != records.Conflict {
		t.Errorf("into a register that is not empty: %v", err)
	}
}

func firstDifference(a, b []byte) string {
	as, bs := strings.Split(string(a), "\n"), strings.Split(string(b), "\n")
	for i := range min(len(as), len(bs)) {
		if as[i] != bs[i] {
			return fmt.Sprintf("line %d was %.2000s\nis %.2000s", i+1, as[i], bs[i])
		}
	}
	return fmt.Sprintf("%d lines, were %d", len(bs), len(as))
}

func TestRestoreRefuses(t *testing.T) {
	ctx := context.Background()
	was := string(export(t, everything(t)))
	lines := strings.SplitAfter(was, "\n")
	swap := func(old, new string) string {
		if !strings.Contains(was, old) {
			t.Fatalf("the export holds no %q", old)
		}
		return strings.Replace(was, old, new, 1)
	}
	for name, c := range map[string]struct{ text, want string }{
		"empty":         {"", "line 1: the file ends before its end"},
		"not JSON":      {"hello\n", "line 1"},
		"other":         {`{"line":"picture"}` + "\n", "not the heading"},
		"later format":  {swap(`"format":1`, `"format":2`), "line 1"},
		"cut off":       {strings.Join(lines[:len(lines)-2], ""), "cut off"},
		"cut in a line": {was[:len(was)/2], "line"},
		"line missing":  {strings.Join(append(append([]string{}, lines[:len(lines)-3]...), lines[len(lines)-2:]...), ""), "the end counts"},
		"more":          {was + lines[3], "more after the end"},
		"kind":          {swap(`"line":"duty"`, `"line":"moon"`), "moon"},
		"one figure":    {swap(`2025-01-02`, `2025-01-03`), "seal does not hold"},
		"no reference":  {swap(`"appliance":"`, `"appliance":"x`), "no line before it"},
		"bad nation":    {swap(`"nation":"England"`, `"nation":"Atlantis"`), "Nation"},
		"bad state":     {swap(`"state":"open"`, `"state":"ajar"`), "duty"},
		"gap":           {"", "gap"},
		"column":        {swap(`"line2"`, `"line3"`), "there is no line2"},
		"print":         {swap(`"pdf":"JVBER`, `"pdf":"AAAAA`), "no PDF"},
		"twice":         {strings.Replace(was, lines[3], lines[3]+lines[3], 1), "line 5"},
	} {
		if name == "gap" {
			c.text = strings.Replace(was, `{"line":"numbers","year":2026,"last":`, `{"line":"numbers","year":2026,"last":1`, 1)
		}
		s := storetest.MustOpen(t)
		_, err := s.Restore(ctx, storetest.Actor, store.RestoreOptions{}, strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if n := count(t, s); n != 0 {
			t.Errorf("%s: %d appliances stayed", name, n)
		}
		if seq, _, err := s.AuditHead(ctx); seq != 0 || err != nil {
			t.Errorf("%s: %d audit entries stayed: %v", name, seq, err)
		}
	}
	s := storetest.MustOpen(t)
	none := func(records.Seal, []byte) bool { return false }
	if _, err := s.Restore(ctx, storetest.Actor, store.RestoreOptions{Seals: none}, strings.NewReader(was)); err == nil || !strings.Contains(err.Error(), "firm.key") {
		t.Errorf("another key: %v", err)
	}
}

// Memory does not grow with the register: the most that is in use while a
// register is exported is the same at five times the size, within 8 MB.
func TestExportMemory(t *testing.T) {
	peak := func(n int) uint64 {
		s := storetest.MustOpen(t)
		if _, err := s.ImportList(context.Background(), storetest.Actor, store.ListOptions{}, listed(n, nil)); err != nil {
			t.Fatal(err)
		}
		var most, m uint64
		at := 0
		look := func() {
			if at++; at%2000 == 0 {
				runtime.GC()
				var ms runtime.MemStats
				runtime.ReadMemStats(&ms)
				m = ms.HeapAlloc
				most = max(most, m)
			}
		}
		if _, err := s.Export(context.Background(), writerFunc(func(p []byte) (int, error) { at += 1999 - at%2000; look(); return len(p), nil })); err != nil {
			t.Fatal(err)
		}
		if err := s.EachInView(context.Background(), store.Query{}, func(store.ViewRow) error { look(); return nil }); err != nil {
			t.Fatal(err)
		}
		if most == 0 {
			t.Fatal("nothing was measured")
		}
		return most
	}
	small, large := peak(4000), peak(20000)
	t.Logf("peak %d kB at 4,000 appliances, %d kB at 20,000", small>>10, large>>10)
	if large > small+8<<20 {
		t.Errorf("the peak grew from %d to %d bytes", small, large)
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }

func TestFill(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "filled.db")
	s := storetest.MustOpenAt(t, path, storetest.NewClock().Now)
	report, err := s.Fill(ctx, storetest.Actor, 450, generated, nil)
	if err != nil || report.Appliances != 450 || report.Records != 900 || report.Rows != 450*(1+1+2*2+2) || report.BareRows != report.Rows {
		t.Fatalf("%+v, %v", report, err)
	}
	if n := count(t, s); n != 450 {
		t.Errorf("%d appliances", n)
	}
	rows, _, err := s.Register(ctx, store.Query{Search: "AB123XY EH-000016"})
	if err != nil || len(rows) != 1 || rows[0].LastRecord == nil || rows[0].LastRecord.WorkDate != records.MustDate("2026-05-01") || rows[0].NextDuty.Duty.Due != records.MustDate("2027-05-01") {
		t.Fatalf("%+v, %v", rows, err)
	}
	duties, err := s.ApplianceDuties(ctx, rows[0].ApplianceID)
	if err != nil || len(duties) != 2 || duties[0].Closed() || duties[1].State != records.Done || duties[1].ClosedRecordID != rows[0].LastRecord.ID {
		t.Errorf("%+v, %v", duties, err)
	}
	id := rows[0].LastRecord.ID
	if _, err := s.PDF(ctx, id); records.KindOf(err) != records.NotFound {
		t.Errorf("a print before it was made: %v", err)
	}
	for _, text := range []string{"%PDF-1", "%PDF-2"} { // the first is kept
		if got, err := s.KeepPDF(ctx, storetest.Actor, id, []byte(text)); err != nil || string(got) != "%PDF-1" {
			t.Errorf("%s, %v", got, err)
		}
	}
	// What was made is consistent: exported and restored, it comes out as
	// refresh and the rules of the schema have it.
	was := export(t, s)
	to := storetest.MustOpen(t)
	if _, err := to.Restore(ctx, storetest.Actor, store.RestoreOptions{}, bytes.NewReader(was)); err != nil {
		t.Fatal(err)
	}
	if is := export(t, to); !bytes.Equal(was, is) {
		t.Errorf("it came back otherwise:\n%s", firstDifference(was, is))
	}
	a, _, err1 := s.Register(ctx, store.Query{Limit: 500})
	b, _, err2 := to.Register(ctx, store.Query{Limit: 500})
	if err := errors.Join(err1, err2, s.VerifyAudit(ctx), store.CheckFile(ctx, path)); err != nil || !reflect.DeepEqual(a, b) {
		t.Errorf("another register after the restore: %v", err)
	}
	if _, err := s.Fill(ctx, storetest.Actor, 1, generated, nil); records.KindOf(err) != records.Conflict {
		t.Errorf("twice: %v", err)
	}
	wrong := errors.New("wrong")
	_, err = storetest.MustOpen(t).Fill(ctx, storetest.Actor, 500, func(i int, number func(int) string) (store.Filled, error) {
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
		is := records.Issued{Number: number(year), IssuedAt: time.Date(year, 5, 1, 15, 0, 0, 0, time.UTC), Record: r, Findings: r.Findings,
			Standing: records.StandingOf(r.Findings), Duties: []records.Duty{storetest.ServiceDue(fmt.Sprintf("%d-05-01", year+1))}}
		canonical, err := is.Canonical()
		if err != nil {
			return f, err
		}
		f.Records = append(f.Records, store.FilledRecord{Issued: is, Canonical: canonical, Seal: records.SealOf(canonical, storetest.Key), EngineerID: "p-1"})
	}
	return f, nil
}

// BenchmarkImportList prints how the rows a second of a list of 100,000
// compare with the same rows written by plain prepared inserts in one
// transaction: into bare tables of the same columns, and into the register's
// own schema with its indexes and triggers.
func BenchmarkImportList(b *testing.B) {
	const n = 100_000
	for range b.N {
		path := filepath.Join(b.TempDir(), "list.db")
		s := storetest.MustOpenAt(b, path, time.Now)
		change := func(i int, it *store.ListItem) {
			it.Property.Postcode = fmt.Sprintf("AB%d %d%c%c", i/9000%90+10, i%9+1, "ABDEFGHJLN"[i/9%10], "PQRSTUWXYZ"[i/90%10])
		}
		begun := time.Now()
		got, err := s.ImportList(context.Background(), storetest.Actor, store.ListOptions{}, listed(n, change))
		took := time.Since(begun)
		if err != nil || got.Appliances != n {
			b.Fatalf("%+v, %v", got, err)
		}
		rows := got.Properties + got.Appliances + got.Duties
		plain, same := plainInserts(b, path, false), plainInserts(b, path, true)
		b.ReportMetric(float64(rows)/took.Seconds(), "rows/s")
		b.ReportMetric(plain.Seconds()/took.Seconds(), "x-of-bare-tables")
		b.ReportMetric(same.Seconds()/took.Seconds(), "x-of-same-schema")
	}
}

// plainInserts reads the rows into memory and times writing them.
func plainInserts(b *testing.B, path string, schema bool) time.Duration {
	b.Helper()
	must := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	from, err := sql.Open("sqlite3", path)
	must(err)
	defer from.Close()
	into := filepath.Join(b.TempDir(), "plain.db")
	if schema {
		storetest.MustOpenAt(b, into, time.Now)
	}
	to, err := sql.Open("sqlite3", into+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate")
	must(err)
	defer to.Close()
	to.SetMaxOpenConns(1)
	type row struct {
		stmt string
		args []any
	}
	var rows []row
	for _, table := range []string{"properties", "appliances", "duties"} {
		q, err := from.Query("SELECT * FROM " + table)
		must(err)
		names, err := q.Columns()
		must(err)
		if !schema {
			_, err = to.Exec("CREATE TABLE " + table + " (" + strings.Join(names, ", ") + ")")
			must(err)
		}
		stmt := "INSERT INTO " + table + " VALUES (?" + strings.Repeat(", ?", len(names)-1) + ")"
		for q.Next() {
			args, into := make([]any, len(names)), make([]any, len(names))
			for i := range args {
				into[i] = &args[i]
			}
			must(q.Scan(into...))
			rows = append(rows, row{stmt, args})
		}
		must(q.Err())
	}
	begun := time.Now()
	tx, err := to.Begin()
	must(err)
	prepared := map[string]*sql.Stmt{}
	for _, r := range rows {
		if prepared[r.stmt] == nil {
			prepared[r.stmt], err = tx.Prepare(r.stmt)
			must(err)
		}
		_, err := prepared[r.stmt].Exec(r.args...)
		must(err)
	}
	must(tx.Commit())
	return time.Since(begun)
}
