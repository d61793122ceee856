package store_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

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
	must(s.Settings.SaveFirm(ctx, storetest.Actor, records.Firm{Name: "Tweddle & <Daughter> Heating"}))
	_, err := s.Settings.SaveInstrument(ctx, storetest.Actor, records.Instrument{ID: "g", Kind: "gauge", Serial: "1",
		CalibratedOn: records.MustDate("2026-01-01")})
	must(err)
	must(s.Settings.SaveDropBands(ctx, storetest.Actor, records.DropBands{Edition: records.Edition4,
		Fuel: records.FuelNatural, Clause: "c", EnteredBy: "x",
		Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 4}}}))
	p, err := s.People.Create(ctx, storetest.Actor, records.Person{Name: "Maud", Email: "maud@tweddle.example",
		Role: records.RoleEngineer, PasswordHash: "secret hash", Active: true})
	must(err)
	var first store.IssuedRow
	for i := range 12 {
		a := storetest.MustAppliance(t, s, i)
		row := storetest.MustIssue(t, s, a.ID, records.Commissioning, fmt.Sprintf("2025-%02d-02", i%12+1),
			storetest.ServiceDue(fmt.Sprintf("2026-%02d-02", i%12+1)))
		if i == 0 {
			first = row
		}
		switch i % 4 {
		case 1:
			storetest.MustIssue(t, s, a.ID, records.Service, "2026-02-02", storetest.ServiceDue("2027-02-02"))
		case 2:
			must(s.Records.Withdraw(ctx, storetest.Actor, row.ID, "a slip, \"quoted\" & <told>"))
		case 3:
			d := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
			if i == 7 {
				must(s.Records.DiscardDraft(ctx, storetest.Actor, d.ID, "twice"))
			}
		}
	}
	_, err = s.Chase.AddContactAttempt(ctx, storetest.Actor, first.ApplianceID, "call", "no answer\nyet <&>",
		records.Date{})
	must(err)
	_, err = s.Requests.AddVisit(ctx, first.ID, "please come\nin the morning")
	must(err)
	gone := storetest.MustAppliance(t, s, 50)
	must(s.Register.RetireAppliance(ctx, storetest.Actor, gone.ID, "sold"))
	_ = p
	return s
}

func export(t testing.TB, s *store.Store) []byte {
	t.Helper()
	var b bytes.Buffer
	if _, err := s.Bulk.Export(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestExportRestore(t *testing.T) {
	t.Parallel()
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
	if _, err := to.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{Source: "old register", Seals: ours},
		bytes.NewReader(was)); err != nil {
		t.Fatal(err)
	}
	if is := export(t, to); !bytes.Equal(was, is) {
		t.Errorf("it came back otherwise:\n%s", firstDifference(was, is))
	}
	if err := errors.Join(to.Audit.Proved(ctx), store.CheckFile(ctx, path)); err != nil {
		t.Error(err)
	}
	log, err := to.Audit.Entries(ctx, "", 0, 10)
	if err != nil || len(log) != 1 || log[0].Subject != "old register" {
		t.Errorf("audit log %+v, %v", log, err)
	}
	for _, q := range []store.Query{{}, {Sort: store.ByAddress}, {Search: "2026-00004"}, {State: store.NoDuty},
		{State: store.NoDuty, Duty: records.AnnualService}, {Duty: records.AnnualService}} {
		a, _, err1 := from.Register.Find(ctx, q)
		b, _, err2 := to.Register.Find(ctx, q)
		if err := errors.Join(err1, err2); err != nil || !reflect.DeepEqual(a, b) {
			t.Errorf("%+v: %d rows, were %d: %v\n%+v\n%+v", q, len(b), len(a), err, b, a)
		}
	}
	day := records.MustDate("2026-11-25")
	a, err1 := from.Register.Counts(ctx, day)
	b, err2 := to.Register.Counts(ctx, day)
	if err := errors.Join(err1, err2); err != nil || a != b {
		t.Errorf("counts %+v, were %+v: %v", b, a, err)
	}
	if _, err := to.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{},
		bytes.NewReader(was)); records.KindOf(err) != records.Conflict {
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
	t.Parallel()
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
		"line missing": {strings.Join(append(append([]string{}, lines[:len(lines)-3]...), lines[len(lines)-2:]...), ""),
			"the end counts"},
		"more":         {was + lines[3], "more after the end"},
		"kind":         {swap(`"line":"duty"`, `"line":"moon"`), "moon"},
		"one figure":   {swap(`2025-01-02`, `2025-01-03`), "seal does not hold"},
		"no reference": {swap(`"appliance":"`, `"appliance":"x`), "no line before it"},
		"number":       {swap(`"town":"`, `"town":7,"town2":"`), "town is not text"},
		"bad state":    {swap(`"state":"open"`, `"state":"ajar"`), "duty"},
		"gap":          {"", "gap"},
		"column":       {swap(`"line2"`, `"line3"`), "there is no line2"},
		"drop":         {swap(`"drop_mbar":4`, `"drop_mbar":40`), "drop bands: Band 1, drop at most"},
		"other fuel":   {swap(`"fuel":"natural-gas","doc"`, `"fuel":"propane","doc"`), "another edition or fuel"},
		"print":        {swap(`"pdf":"JVBER`, `"pdf":"AAAAA`), "no PDF"},
		"twice":        {strings.Replace(was, lines[3], lines[3]+lines[3], 1), "line 5"},
	} {
		if name == "gap" {
			c.text = strings.Replace(was, `{"line":"numbers","year":2026,"last":`,
				`{"line":"numbers","year":2026,"last":1`, 1)
		}
		s := storetest.MustOpen(t)
		_, err := s.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{}, strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if n := count(t, s); n != 0 {
			t.Errorf("%s: %d appliances stayed", name, n)
		}
		if seq, _, err := s.Audit.Head(ctx); seq != 0 || err != nil {
			t.Errorf("%s: %d audit entries stayed: %v", name, seq, err)
		}
	}
	s := storetest.MustOpen(t)
	none := func(records.Seal, []byte) bool { return false }
	if _, err := s.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{Seals: none},
		strings.NewReader(was)); err == nil || !strings.Contains(err.Error(), "firm.key") {
		t.Errorf("another key: %v", err)
	}
}

// Memory does not grow with the register: the most that is in use while a
// register is exported is the same at four times the size, within 1 MB.
func TestExportMemory(t *testing.T) {
	peak := func(n int) uint64 {
		s := storetest.MustOpen(t)
		if _, err := s.Bulk.ImportList(context.Background(), storetest.Actor, store.ListOptions{},
			listed(n, nil)); err != nil {
			t.Fatal(err)
		}
		var most, m uint64
		at := 0
		look := func() {
			if at++; at%500 == 0 {
				runtime.GC()
				var ms runtime.MemStats
				runtime.ReadMemStats(&ms)
				m = ms.HeapAlloc
				most = max(most, m)
			}
		}
		if _, err := s.Bulk.Export(context.Background(), writerFunc(func(p []byte) (int, error) {
			at += 499 - at%500
			look()
			return len(p), nil
		})); err != nil {
			t.Fatal(err)
		}
		if err := s.Bulk.EachInView(context.Background(), store.Query{}, func(store.ViewRow) error {
			look()
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if most == 0 {
			t.Fatal("nothing was measured")
		}
		return most
	}
	small, large := peak(1000), peak(4000)
	t.Logf("peak %d kB at 1,000 appliances, %d kB at 4,000", small>>10, large>>10)
	if large > small+1<<20 {
		t.Errorf("the peak grew from %d to %d bytes", small, large)
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }

// schemaTables are the tables of the schema with their columns, in order.
func schemaTables(t *testing.T, s *store.Store) map[string][]string {
	t.Helper()
	var names []string
	store.MustScan(t, s, &names, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "+
		"AND name NOT LIKE 'goose_%' AND name NOT LIKE 'appliance_words%'")
	out := map[string][]string{}
	for _, name := range names {
		var columns []string
		store.MustScan(t, s, &columns, "SELECT name FROM pragma_table_info(?) ORDER BY cid", name)
		out[name] = columns
	}
	return out
}

// Every table travels as lines or is left behind for a reason.
func TestEveryTableTravelsOrNot(t *testing.T) {
	s := empty(t)
	travel := store.Exported()
	for name := range schemaTables(t, s) {
		if stays := store.LeftBehind[name] != ""; stays == slices.Contains(travel, name) {
			t.Errorf("%s: name it in lineTables or in leftBehind, and not in both", name)
		}
	}
	for name, why := range store.LeftBehind {
		if why == "" || schemaTables(t, s)[name] == nil {
			t.Errorf("%s is left behind because %q, and is it in the schema?", name, why)
		}
	}
}

// The structs of the rows and the SQL of the schema do not drift apart. What
// only triggers write has no struct.
func TestRowsMatchSchema(t *testing.T) {
	s := empty(t)
	rows, schema := store.RowColumns(), schemaTables(t, s)
	for _, counted := range []string{"due_days", "issue_counts", "uncalibrated"} {
		if schema[counted] == nil || rows[counted] != nil {
			t.Errorf("%s is no table that triggers write", counted)
		}
		delete(schema, counted)
	}
	for name, want := range schema {
		got := slices.Clone(rows[name])
		slices.Sort(got)
		slices.Sort(want)
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s has the columns %s, its rows %s", name, strings.Join(want, " "), strings.Join(got, " "))
		}
	}
	if len(rows) != len(schema) {
		t.Errorf("%d structs of rows for %d tables", len(rows), len(schema))
	}
}
