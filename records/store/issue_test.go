package store_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

var ctx = context.Background()

// wantKind fails the test unless err is of the kind.
func wantKind(t *testing.T, err error, kind records.ErrorKind) {
	t.Helper()
	if err == nil || records.KindOf(err) != kind {
		t.Errorf("error %v (%s), want %s", err, records.KindOf(err), kind)
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// empty is a store for a test that runs beside others.
func empty(t *testing.T) *store.Store {
	t.Helper()
	t.Parallel()
	return storetest.MustOpen(t)
}

// withAppliance is such a store with one appliance in it.
func withAppliance(t *testing.T) (*store.Store, store.Appliance) {
	t.Helper()
	s := empty(t)
	return s, storetest.MustAppliance(t, s, 1)
}

// mustIssue issues a draft.
func mustIssue(tb testing.TB, s *store.Store, id string, revision int, duties ...records.Duty) store.IssuedRow {
	tb.Helper()
	row, _, err := s.Records.Issue(ctx, storetest.Actor, id, revision, storetest.Issuer(duties...))
	if err != nil {
		tb.Fatal(err)
	}
	return row
}

// wholeRegister fails the test unless log, records and numbers hold.
func wholeRegister(tb testing.TB, s *store.Store) {
	tb.Helper()
	if err := s.Audit.Proved(ctx); err != nil {
		tb.Error(err)
	}
}

func TestIssueWritesEverythingAtOnce(t *testing.T) {
	s, a := withAppliance(t)
	r := storetest.MustDraft(t, s, a.ID, records.Commissioning, "2026-11-24")
	token := store.NewToken()
	by := storetest.Issuer(storetest.ServiceDue("2027-11-24"))
	by.Post = func(p store.Plan, printed int) ([]records.Message, []store.Link) {
		return []records.Message{{Kind: "record issued", ToEmail: "customer1@home.example", Subject: "Your record",
				Text: fmt.Sprintf("%s, %d bytes", p.Issued.Number, printed), AttachPDF: true}},
			[]store.Link{{Token: token, ForName: "Customer", ExpiresAt: p.Issued.IssuedAt.AddDate(1, 0, 0)}}
	}
	row, printed, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
	if err != nil || !printed {
		t.Fatal(printed, err)
	}
	if row.Number != "2026-00001" || row.Stage != records.StageIssued ||
		!row.Seal.Holds(row.Canonical, row.Seal.PublicKey) {
		t.Errorf("issued %+v", row)
	}
	for _, ref := range []string{row.Number, row.ID} {
		if got := must(s.Records.Issued(ctx, ref)); got.SHA256 != row.SHA256 {
			t.Errorf("Issued(%q) = %+v", ref, got)
		}
	}
	print := "%PDF-1.7 2026-00001 " + row.SHA256
	if pdf := must(s.Records.PDF(ctx, row.ID)); string(pdf) != print {
		t.Errorf("PDF %q", pdf)
	}
	if l := must(s.Links.ByToken(ctx, token)); l.RecordID != row.ID || !l.Usable(storetest.Start) || l.Token != "" {
		t.Errorf("link %+v", l)
	}
	got := must(s.Register.Appliance(ctx, a.ID))
	if got.NextDuty == nil || got.NextDuty.Duty.Due != records.MustDate("2027-11-24") || got.LastRecord == nil ||
		got.LastRecord.Number != row.Number {
		t.Errorf("appliance %+v", got)
	}
	if m, _, err := s.Outbox.Find(ctx, store.OutboxQuery{RecordID: row.ID}); err != nil || len(m) != 1 ||
		m[0].State != records.MessageDue || m[0].Text != fmt.Sprintf("2026-00001, %d bytes", len(print)) {
		t.Errorf("outbox %+v %v", m, err)
	}
	if rec := must(s.Records.Record(ctx, row.ID)); rec.Stage != records.StageIssued || len(rec.Findings) != 1 {
		t.Errorf("record %+v", rec)
	}
	log := must(s.Audit.Entries(ctx, row.ID, 0, 1))
	if log[0].What != "record issued" || log[0].Actor != storetest.Actor ||
		!strings.Contains(string(log[0].Detail), `"printed":true`) {
		t.Errorf("audit %+v", log)
	}
	wholeRegister(t, s)
}

func TestIssueThatFailsLeavesNoTrace(t *testing.T) {
	s, a := withAppliance(t)
	r := storetest.MustDraft(t, s, a.ID, records.Commissioning, "2026-11-24")
	seq, _, _ := s.Audit.Head(ctx)
	plan := func(change func(*store.Plan)) func(*store.Issuer) {
		return func(by *store.Issuer) {
			plain := by.Plan
			by.Plan = func(b store.Basis) (store.Plan, error) {
				p, err := plain(b)
				change(&p)
				return p, err
			}
		}
	}
	ink := errors.New("no more ink")
	spoil := map[string]func(*store.Issuer){
		"plan": func(by *store.Issuer) {
			by.Plan = func(store.Basis) (store.Plan, error) { return store.Plan{}, ink }
		},
		"draw":      func(by *store.Issuer) { by.Draw = func(store.Plan) ([]byte, error) { return nil, ink } },
		"no PDF":    func(by *store.Issuer) { by.Draw = func(store.Plan) ([]byte, error) { return []byte("x"), nil } },
		"number":    plan(func(p *store.Plan) { p.Issued.Number = "2026-00009" }),
		"time":      plan(func(p *store.Plan) { p.Issued.IssuedAt = p.Issued.IssuedAt.Add(time.Second) }),
		"canonical": plan(func(p *store.Plan) { p.Canonical = append(p.Canonical, ' ') }),
		"seal":      plan(func(p *store.Plan) { p.Seal.Code = "AAAA-AAAA-AAAA" }),
		"standing":  plan(func(p *store.Plan) { p.Issued.Standing = records.Adverse }),
		"message": func(by *store.Issuer) {
			by.Post = func(store.Plan, int) ([]records.Message, []store.Link) {
				return []records.Message{{Kind: "x"}}, nil
			}
		},
		"link": func(by *store.Issuer) {
			by.Post = func(store.Plan, int) ([]records.Message, []store.Link) {
				return nil, []store.Link{{Token: "short"}}
			}
		},
	}
	for name, f := range spoil {
		by := storetest.Issuer(storetest.ServiceDue("2027-11-24"))
		f(&by)
		row, printed, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
		if err == nil || printed || row.Number != "" {
			t.Errorf("%s: issued all the same as %q", name, row.Number)
		}
		if (name == "plan" || name == "draw") && !errors.Is(err, ink) {
			t.Errorf("%s: %v", name, err)
		}
	}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("a panic was swallowed")
			}
		}()
		by := storetest.Issuer()
		by.Post = func(store.Plan, int) ([]records.Message, []store.Link) { panic("post") }
		_, _, _ = s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, by)
	}()
	if now, _, _ := s.Audit.Head(ctx); now != seq {
		t.Errorf("the audit log went from %d to %d", seq, now)
	}
	if got := must(s.Register.Appliance(ctx, a.ID)); got.NextDuty != nil || got.LastRecord != nil {
		t.Errorf("appliance %+v", got)
	}
	if row := mustIssue(t, s, r.ID, r.Revision); row.Number != "2026-00001" {
		t.Errorf("number %s, want the first", row.Number)
	}
}

// Each record of an appliance was sealed with the earlier visits that had been
// issued before it, by number: none was issued on what another of the same
// moment had already made untrue.
func TestManyIssueOfOneAppliance(t *testing.T) {
	s, a := withAppliance(t)
	drafts := make([]*records.Record, 8)
	for i := range drafts {
		drafts[i] = storetest.MustDraft(t, s, a.ID, records.Service, fmt.Sprintf("2026-11-%d", 10+i))
	}
	rows := issueAll(t, s, drafts, storetest.Issuer(storetest.ServiceDue("2027-11-20")))
	for i, row := range rows {
		if row.Number != records.NumberOf(2026, i+1) {
			t.Errorf("number %d is %s", i+1, row.Number)
		}
		var want, got []string
		for _, before := range rows[:i] {
			if before.WorkDate.Before(row.WorkDate) {
				want = append(want, before.WorkDate.String()+" "+before.Number)
			}
		}
		slices.Sort(want)
		for _, v := range must(records.DecodeIssued(row.Canonical)).Earlier {
			got = append(got, v.WorkDate.String()+" "+v.Number)
		}
		if want = want[max(0, len(want)-6):]; !slices.Equal(got, want) {
			t.Errorf("%s of %s says %v, want %v", row.Number, row.WorkDate, got, want)
		}
	}
	wholeRegister(t, s)
}

// issueAll issues the drafts at once and returns them by number.
func issueAll(t *testing.T, s *store.Store, drafts []*records.Record, by store.Issuer) []store.IssuedRow {
	t.Helper()
	rows := make([]store.IssuedRow, len(drafts))
	err := errors.Join(race(len(drafts), func(i int) error {
		row, printed, err := s.Records.Issue(ctx, storetest.Actor, drafts[i].ID, drafts[i].Revision, by)
		if err != nil {
			return err
		}
		if pdf, err := s.Records.PDF(ctx, row.ID); (err == nil) != printed ||
			printed && !strings.Contains(string(pdf), row.Number+" "+row.SHA256) {
			t.Errorf("%s was printed %v, as %q: %v", row.Number, printed, pdf, err)
		}
		rows[i] = row
		return nil
	})...)
	if err != nil {
		t.Error(err)
	}
	slices.SortFunc(rows, func(a, b store.IssuedRow) int { return strings.Compare(a.Number, b.Number) })
	return rows
}

func TestManyIssueOfManyAppliances(t *testing.T) {
	s := empty(t)
	const workers, each = 8, 6
	for range each {
		drafts := make([]*records.Record, workers)
		for i := range drafts {
			a := storetest.MustAppliance(t, s, i)
			drafts[i] = storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
		}
		rows := issueAll(t, s, drafts, storetest.Issuer(storetest.ServiceDue("2027-11-20")))
		for i, row := range rows[1:] {
			if row.IssuedAt.Before(rows[i].IssuedAt) {
				t.Errorf("%s was issued before %s", row.Number, rows[i].Number)
			}
		}
	}
	last, _, err := s.Register.Find(ctx, store.Query{Search: records.NumberOf(2026, workers*each)})
	if err != nil || len(last) != 1 {
		t.Errorf("%d records were not given as many numbers: %v", workers*each, err)
	}
	wholeRegister(t, s)
}

func TestTwoIssueTheSameDraft(t *testing.T) {
	s := empty(t)
	for i := range 10 {
		a := storetest.MustAppliance(t, s, i)
		r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
		errs := race(2, func(int) error {
			_, _, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, storetest.Issuer())
			return err
		})
		if (errs[0] == nil) == (errs[1] == nil) {
			t.Fatalf("want one winner: %v", errs)
		}
		wantKind(t, errors.Join(errs...), records.Conflict)
	}
	wholeRegister(t, s)
}

func TestIssueRefuses(t *testing.T) {
	s, a := withAppliance(t)
	issue := func(r *records.Record) error {
		_, _, err := s.Records.Issue(ctx, storetest.Actor, r.ID, r.Revision, storetest.Issuer())
		return err
	}
	start := func(change func(*records.Record)) *records.Record {
		d := storetest.Draft(a.ID, records.Service, "2026-11-20")
		change(d)
		return must(s.Records.StartDraft(ctx, storetest.Actor, d))
	}
	wantKind(t, issue(&records.Record{ID: "none", Revision: 1}), records.NotFound)
	wantKind(t, issue(start(func(d *records.Record) {
		d.Rejected = map[string]records.Rejection{"heat.start_m3": {Entry: "x"}}
	})), records.NotReady)
	wantKind(t, issue(start(func(d *records.Record) { d.Findings[0].Outcome = records.Outside })), records.NotReady)
	wantKind(t, issue(start(func(d *records.Record) { d.Findings = nil })), records.NotReady)
	wantKind(t, issue(start(func(d *records.Record) { d.WorkDate = records.Date{} })), records.Invalid)
	stale := start(func(*records.Record) {})
	must(s.Records.SaveDraft(ctx, storetest.Actor, stale, 1))
	wantKind(t, issue(stale), records.Conflict)
	storetest.MustIssue(t, s, a.ID, records.Commissioning, "2026-11-20")
	second := storetest.Draft(a.ID, records.Commissioning, "2026-11-21")
	wantKind(t, issue(must(s.Records.StartDraft(ctx, storetest.Actor, second))), records.Conflict)
}

func TestNumbersBeginAgainEachYear(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	s := storetest.MustOpenAt(t, t.TempDir()+"/y.db", clock.Now)
	var got []string
	for i, at := range []string{"2026-12-31T23:59:58Z", "2027-01-01T00:00:00Z", "2027-01-01T00:00:01Z"} {
		clock.Set(must(time.Parse(time.RFC3339, at)))
		a := storetest.MustAppliance(t, s, i)
		got = append(got, storetest.MustIssue(t, s, a.ID, records.Service, "2026-12-30").Number)
	}
	if want := "[2026-00001 2027-00001 2027-00002]"; fmt.Sprint(got) != want {
		t.Errorf("numbers %v, want %s", got, want)
	}
	wholeRegister(t, s)
}

// An issued record names an entry of the audit log that was there before it
// was issued, so that whoever holds the paper holds the log to it.
func TestIssuedRecordNamesTheLog(t *testing.T) {
	s := empty(t)
	for n := range 3 {
		row := storetest.MustIssue(t, s, storetest.MustAppliance(t, s, n).ID, records.Service, "2026-11-20")
		issued := must(records.DecodeIssued(row.Canonical))
		entries := must(s.Audit.Entries(ctx, "", 0, 2))
		if entries[0].What != "record issued" {
			t.Fatalf("newest entry %+v", entries[0])
		}
		if want := (records.LogHead{Entry: entries[1].Seq, Hash: entries[1].Hash}); issued.Log == nil ||
			*issued.Log != want {
			t.Errorf("%s names %+v, want %+v", row.Number, issued.Log, want)
		}
	}
}
