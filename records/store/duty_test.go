package store_test

import (
	"fmt"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// dutiesOf returns the duties of an appliance in short: kind, date, state.
func dutiesOf(s *store.Store, applianceID string) string {
	var out []string
	for _, d := range must(s.Duties.OfAppliance(ctx, applianceID)) {
		state := string(d.State)
		if state == "" {
			state = "open"
		}
		out = append(out, fmt.Sprintf("%s %s %s", strings.Fields(string(d.Duty.Kind))[0], d.Duty.Due, state))
	}
	return strings.Join(out, "; ")
}

func duty(kind records.DutyKind, due string) records.Duty {
	return records.Duty{Kind: kind, Due: records.MustDate(due), Why: "test"}
}

func amend(t *testing.T, s *store.Store, a store.Appliance, number string, purpose records.Purpose, work string,
	duties ...records.Duty) store.IssuedRow {
	t.Helper()
	d := storetest.Draft(a.ID, purpose, work)
	d.Replaces, d.AmendReason = number, "a slip of the pen"
	r := must(s.Records.StartDraft(ctx, storetest.Actor, d))
	return mustIssue(t, s, r.ID, r.Revision, duties...)
}

func TestDutiesMoveOnWithEachVisit(t *testing.T) {
	s, a := withAppliance(t)
	step := func(what, want string) {
		t.Helper()
		if got := dutiesOf(s, a.ID); got != want {
			t.Errorf("after %s:\n got %s\nwant %s", what, got, want)
		}
	}
	service := func(due string) records.Duty { return duty(records.AnnualService, due) }
	first := storetest.MustIssue(t, s, a.ID, records.Commissioning, "2024-11-20", service("2025-11-20"),
		duty(records.BuildingNotice, "2024-12-20"))
	step("commissioning", "building-work 2024-12-20 open; annual 2025-11-20 open")

	notice := must(s.Duties.OfAppliance(ctx, a.ID))[0]
	if err := s.Duties.Finish(ctx, storetest.Actor, notice.ID, "notified, reference 12"); err != nil {
		t.Fatal(err)
	}
	wantKind(t, s.Duties.Lift(ctx, storetest.Actor, notice.ID, "again"), records.Conflict)
	storetest.MustIssue(t, s, a.ID, records.LandlordCheck, "2025-06-01", duty(records.LandlordCheckDue, "2026-06-01"))
	step("landlord check", "annual 2025-11-20 open; landlord 2026-06-01 open; building-work 2024-12-20 done")

	second := storetest.MustIssue(t, s, a.ID, records.Service, "2025-11-10", service("2026-11-10"))
	step("service",
		"landlord 2026-06-01 open; annual 2026-11-10 open; building-work 2024-12-20 done; annual 2025-11-20 done")

	// An amendment of the first visit moves neither what a later visit set
	// nor what was notified.
	amend(t, s, a, first.Number, records.Commissioning, "2024-11-20", service("2025-11-20"),
		duty(records.BuildingNotice, "2024-12-20"))
	step("amending the first", "landlord 2026-06-01 open; annual 2026-11-10 open; building-work 2024-12-20 done; "+
		"building-work 2024-12-20 done; annual 2025-11-20 done; annual 2025-11-20 done")

	// Amending the service with another interval moves its own duty.
	third := amend(t, s, a, second.Number, records.Service, "2025-11-10", service("2026-05-10"))
	step("amending the service", "annual 2026-05-10 open; landlord 2026-06-01 open; building-work 2024-12-20 done; "+
		"building-work 2024-12-20 done; annual 2025-11-20 done; annual 2025-11-20 done; annual 2026-11-10 lifted")
	if got := must(s.Register.Appliance(ctx, a.ID)); got.NextDuty.Duty.Due != records.MustDate("2026-05-10") ||
		got.LastRecord.Number != third.Number {
		t.Errorf("appliance %+v %+v", got.NextDuty, got.LastRecord)
	}

	// Withdrawing it brings back the duty that it had fulfilled, of the
	// record that stands.
	if err := s.Records.Withdraw(ctx, storetest.Actor, third.ID, "wrong appliance"); err != nil {
		t.Fatal(err)
	}
	step("withdrawing it", "annual 2025-11-20 open; landlord 2026-06-01 open; building-work 2024-12-20 done; "+
		"building-work 2024-12-20 done; annual 2025-11-20 done; annual 2026-05-10 lifted; annual 2026-11-10 lifted")
	wantKind(t, s.Records.Withdraw(ctx, storetest.Actor, third.ID, "again"), records.Conflict)
	wantKind(t, s.Records.Withdraw(ctx, storetest.Actor, second.ID, "amended one"), records.Conflict)

	old := must(s.Records.Issued(ctx, second.Number))
	if old.Stage != records.Amended || old.ReplacedBy != third.Number {
		t.Errorf("the amended record is %+v", old.RecordLine)
	}
	if got := must(s.Records.Issued(ctx, third.Number)); got.Stage != records.Withdrawn ||
		got.WithdrawnWhy != "wrong appliance" {
		t.Errorf("the withdrawn record is %+v", got.RecordLine)
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
}

func TestAmendRefuses(t *testing.T) {
	s := empty(t)
	a, b := storetest.MustAppliance(t, s, 1), storetest.MustAppliance(t, s, 2)
	first := storetest.MustIssue(t, s, a.ID, records.Service, "2025-11-20")
	d := storetest.Draft(b.ID, records.Service, "2025-11-20")
	d.Replaces = first.Number
	_, err := s.Records.StartDraft(ctx, storetest.Actor, d)
	wantKind(t, err, records.Conflict)
	// Two begin to amend the same record; the second to issue is refused.
	d.ApplianceID = a.ID
	one, two := must(s.Records.StartDraft(ctx, storetest.Actor, d)), must(s.Records.StartDraft(ctx, storetest.Actor, d))
	mustIssue(t, s, one.ID, 1)
	_, _, err = s.Records.Issue(ctx, storetest.Actor, two.ID, 1, storetest.Issuer())
	wantKind(t, err, records.Conflict)
	if vs := must(s.Records.Earlier(ctx, a.ID, "2026-00002")); vs != nil {
		t.Errorf("earlier readings %v: both are the same visit", vs)
	}
	if vs := must(s.Records.Earlier(ctx, a.ID, "")); vs.ApplianceName() != "Emberline Hearth 24" {
		t.Errorf("earlier readings %v", vs)
	}
}

func TestDutyPages(t *testing.T) {
	s, a := withAppliance(t)
	for i := range 9 {
		must(s.Duties.Add(ctx, storetest.Actor, a.ID, duty(records.DutyKinds[i%2], fmt.Sprintf("2027-01-0%d", 1+i/2))))
	}
	var got []string
	q := store.DutyQuery{Limit: 2, DueFrom: records.MustDate("2027-01-02"), DueUntil: records.MustDate("2027-01-04")}
	for {
		page, next, err := s.Duties.Find(ctx, q)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range page {
			got = append(got, d.Duty.Due.String()[8:])
		}
		if q.After = next; next == "" {
			break
		}
	}
	if strings.Join(got, " ") != "02 02 03 03 04 04" {
		t.Errorf("duties %v", got)
	}
	// A visit fulfils what was added by hand, whenever that was.
	b := storetest.MustAppliance(t, s, 2)
	must(s.Duties.Add(ctx, storetest.Actor, b.ID, duty(records.AnnualService, "2026-12-01")))
	storetest.MustIssue(t, s, b.ID, records.Service, "2026-11-20", duty(records.AnnualService, "2027-11-20"))
	if got := dutiesOf(s, b.ID); got != "annual 2027-11-20 open; annual 2026-12-01 done" {
		t.Errorf("duties %s", got)
	}
	_, err := s.Duties.Add(ctx, storetest.Actor, a.ID, records.Duty{Kind: "party", Due: records.MustDate("2027-01-01")})
	wantKind(t, err, records.Invalid)
	if err := s.Register.RetireAppliance(ctx, storetest.Actor, a.ID, "taken out"); err != nil {
		t.Fatal(err)
	}
	if page, _, _ := s.Duties.Find(ctx, store.DutyQuery{}); len(page) != 1 {
		t.Errorf("a retired appliance has duties: %+v", page)
	}
	_, err = s.Duties.Add(ctx, storetest.Actor, a.ID, duty(records.AnnualService, "2027-01-01"))
	wantKind(t, err, records.Conflict)
}
