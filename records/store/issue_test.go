package store_test

import (
	"context"
	"errors"
	"fmt"
	"sync"
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

func TestIssueWritesEverythingAtOnce(t *testing.T) {
	s := storetest.MustOpen(t)
	a := storetest.MustAppliance(t, s, 1)
	r := storetest.MustDraft(t, s, a.ID, records.Commissioning, "2026-11-24")
	token := store.NewToken()
	row, err := s.Issue(ctx, storetest.Actor, r.ID, r.Revision, func(number string, at time.Time,
		draft *records.Record) (store.Plan, error) {
		p, err := storetest.Plan(storetest.ServiceDue("2027-11-24"))(number, at, draft)
		p.Messages = []store.OutboxMessage{{Kind: "record issued", ToEmail: "customer1@home.example",
			Subject: "Your record", Text: "Attached.", AttachPDF: true}}
		p.Links = []store.Link{{Token: token, ForName: "Customer", ExpiresAt: at.AddDate(1, 0, 0)}}
		return p, err
	})
	if err != nil {
		t.Fatal(err)
	}
	if row.Number != "2026-00001" || row.Stage != records.StageIssued ||
		!row.Seal.Holds(row.Canonical, row.Seal.PublicKey) {
		t.Errorf("issued %+v", row)
	}
	for _, ref := range []string{row.Number, row.ID} {
		if got := must(s.Issued(ctx, ref)); got.SHA256 != row.SHA256 {
			t.Errorf("Issued(%q) = %+v", ref, got)
		}
	}
	if got := must(s.IssuedByCode(ctx, " "+row.Code+" ")); got.ID != row.ID {
		t.Errorf("IssuedByCode = %+v", got)
	}
	if pdf := must(s.PDF(ctx, row.ID)); string(pdf) != "%PDF-1.7 2026-00001" {
		t.Errorf("PDF %q", pdf)
	}
	if l := must(s.Link(ctx, token)); l.RecordID != row.ID || !l.Usable(storetest.Start) || l.Token != "" {
		t.Errorf("link %+v", l)
	}
	got := must(s.Appliance(ctx, a.ID))
	if got.NextDuty == nil || got.NextDuty.Duty.Due != records.MustDate("2027-11-24") || got.LastRecord == nil ||
		got.LastRecord.Number != row.Number {
		t.Errorf("appliance %+v", got)
	}
	if m, _, err := s.Outbox(ctx, store.OutboxQuery{RecordID: row.ID}); err != nil || len(m) != 1 ||
		m[0].State != store.MessageDue {
		t.Errorf("outbox %+v %v", m, err)
	}
	if rec := must(s.Record(ctx, row.ID)); rec.Stage != records.StageIssued || len(rec.Findings) != 1 {
		t.Errorf("record %+v", rec)
	}
	if err := errors.Join(s.VerifyAudit(ctx), s.VerifyIssued(ctx)); err != nil {
		t.Error(err)
	}
}

func TestIssueThatFailsLeavesNoTrace(t *testing.T) {
	s := storetest.MustOpen(t)
	a := storetest.MustAppliance(t, s, 1)
	r := storetest.MustDraft(t, s, a.ID, records.Commissioning, "2026-11-24")
	seq, _, _ := s.AuditHead(ctx)
	spoil := map[string]func(*store.Plan) error{
		"prepare":   func(*store.Plan) error { return errors.New("no more ink") },
		"number":    func(p *store.Plan) error { p.Issued.Number = "2026-00009"; return nil },
		"canonical": func(p *store.Plan) error { p.Canonical = append(p.Canonical, ' '); return nil },
		"seal":      func(p *store.Plan) error { p.Seal.Code = "AAAA-AAAA-AAAA"; return nil },
		"pdf":       func(p *store.Plan) error { p.PDF = nil; return nil },
		"message":   func(p *store.Plan) error { p.Messages = []store.OutboxMessage{{Kind: "x"}}; return nil },
		"link":      func(p *store.Plan) error { p.Links = []store.Link{{Token: "short"}}; return nil },
	}
	for name, f := range spoil {
		_, err := s.Issue(ctx, storetest.Actor, r.ID, r.Revision, func(number string, at time.Time,
			draft *records.Record) (store.Plan, error) {
			p, err := storetest.Plan(storetest.ServiceDue("2027-11-24"))(number, at, draft)
			return p, errors.Join(err, f(&p))
		})
		if err == nil {
			t.Errorf("%s: issued all the same", name)
		}
	}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("a panic in prepare was swallowed")
			}
		}()
		_, _ = s.Issue(ctx, storetest.Actor, r.ID, r.Revision, func(string, time.Time, *records.Record) (store.Plan,
			error) {
			panic("prepare")
		})
	}()
	if now, _, _ := s.AuditHead(ctx); now != seq {
		t.Errorf("the audit log went from %d to %d", seq, now)
	}
	if got := must(s.Appliance(ctx, a.ID)); got.NextDuty != nil || got.LastRecord != nil {
		t.Errorf("appliance %+v", got)
	}
	if row := must(s.Issue(ctx, storetest.Actor, r.ID, r.Revision, storetest.Plan())); row.Number != "2026-00001" {
		t.Errorf("number %s, want the first", row.Number)
	}
}

func TestManyIssueAtOnce(t *testing.T) {
	s := storetest.MustOpen(t)
	const workers, each = 16, 6
	drafts := make(chan *records.Record, workers*each)
	for i := range workers * each {
		a := storetest.MustAppliance(t, s, i)
		drafts <- storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	}
	close(drafts)
	var wg sync.WaitGroup
	var mu sync.Mutex
	numbers := map[string]bool{}
	for range workers {
		wg.Go(func() {
			for r := range drafts {
				row, err := s.Issue(ctx, storetest.Actor, r.ID, r.Revision,
					storetest.Plan(storetest.ServiceDue("2027-11-20")))
				if err != nil {
					t.Errorf("issuing: %v", err)
					return
				}
				mu.Lock()
				numbers[row.Number] = true
				mu.Unlock()
				// Readers go on meanwhile.
				if _, _, err := s.Register(ctx, store.Query{Today: records.MustDate("2026-11-25")}); err != nil {
					t.Errorf("register: %v", err)
				}
			}
		})
	}
	wg.Wait()
	for i := 1; i <= workers*each; i++ {
		if n := records.NumberOf(2026, i); !numbers[n] {
			t.Errorf("number %s was not given out", n)
		}
	}
	if err := errors.Join(s.VerifyAudit(ctx), s.VerifyIssued(ctx)); err != nil {
		t.Error(err)
	}
}

func TestTwoIssueTheSameDraft(t *testing.T) {
	s := storetest.MustOpen(t)
	for i := range 10 {
		a := storetest.MustAppliance(t, s, i)
		r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
		errs := make(chan error, 2)
		for range 2 {
			go func() {
				_, err := s.Issue(ctx, storetest.Actor, r.ID, r.Revision, storetest.Plan())
				errs <- err
			}()
		}
		one, two := <-errs, <-errs
		if (one == nil) == (two == nil) {
			t.Fatalf("want one winner: %v, %v", one, two)
		}
		wantKind(t, errors.Join(one, two), records.Conflict)
	}
}

func TestIssueRefuses(t *testing.T) {
	s := storetest.MustOpen(t)
	a := storetest.MustAppliance(t, s, 1)
	issue := func(r *records.Record) error {
		_, err := s.Issue(ctx, storetest.Actor, r.ID, r.Revision, storetest.Plan())
		return err
	}
	start := func(change func(*records.Record)) *records.Record {
		d := storetest.Draft(a.ID, records.Service, "2026-11-20")
		change(d)
		return must(s.StartDraft(ctx, storetest.Actor, d))
	}
	wantKind(t, issue(&records.Record{ID: "none", Revision: 1}), records.NotFound)
	wantKind(t, issue(start(func(d *records.Record) {
		d.Rejected = map[string]records.Rejection{"heat.start_m3": {Entry: "x"}}
	})), records.NotReady)
	wantKind(t, issue(start(func(d *records.Record) { d.Findings[0].Outcome = records.Outside })), records.NotReady)
	wantKind(t, issue(start(func(d *records.Record) { d.Findings = nil })), records.NotReady)
	wantKind(t, issue(start(func(d *records.Record) { d.WorkDate = records.Date{} })), records.Invalid)
	stale := start(func(*records.Record) {})
	must(s.SaveDraft(ctx, storetest.Actor, stale, 1))
	wantKind(t, issue(stale), records.Conflict)
	storetest.MustIssue(t, s, a.ID, records.Commissioning, "2026-11-20")
	second := storetest.Draft(a.ID, records.Commissioning, "2026-11-21")
	wantKind(t, issue(must(s.StartDraft(ctx, storetest.Actor, second))), records.Conflict)
}

func TestNumbersBeginAnewEachYear(t *testing.T) {
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
	if err := s.VerifyIssued(ctx); err != nil {
		t.Error(err)
	}
}
