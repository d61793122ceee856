package store_test

import (
	"context"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

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

// The queries of the overview reach every large table by an index.
func TestOverviewNeverScans(t *testing.T) {
	s := empty(t)
	small := []string{"people", "due_days"} // due_days holds days, not appliances
	for _, q := range store.OverviewStatements() {
		for _, step := range store.PlanOf(t, s, q.SQL, q.Args...) {
			// A count ends at its limit, and a partial index holds the drafts alone.
			bounded := strings.Contains(step, "USING") && strings.Contains(step, "records_drafts") ||
				step == "SCAN few"
			for _, name := range small {
				bounded = bounded || strings.HasPrefix(step, "SCAN "+name)
			}
			if strings.HasPrefix(step, "SCAN") && !bounded {
				t.Errorf("%s\n%s", q.SQL, step)
			}
		}
	}
}

func TestDueMonths(t *testing.T) {
	s := empty(t)
	fill(t, s, 60)
	want := map[string]store.MonthDue{}
	for _, a := range registered(t, s) {
		if a.Retired {
			continue
		}
		for _, d := range a.duties { // open ones first, the earliest at the head
			m := d.Duty.Due.String()[:7]
			w := want[m]
			w.Month = m
			switch d.StateOn(today) {
			case records.Late:
				w.Late++
			case records.Near:
				w.Near++
			default:
				w.Ahead++
			}
			want[m] = w
			break
		}
	}
	got, err := s.Register.DueMonths(context.Background(), today)
	if err != nil || len(got) != len(want) || len(got) < 5 {
		t.Fatalf("%d months, want %d, %v", len(got), len(want), err)
	}
	for i, m := range got {
		if m != want[m.Month] || i > 0 && m.Month <= got[i-1].Month {
			t.Errorf("%+v, want %+v", m, want[m.Month])
		}
	}
}

// issueOne starts and issues a record; reading and condition decide how it
// stands.
func issueOne(t *testing.T, s *store.Store, applianceID, engineerID, work, replaces string,
	outcome records.Outcome) store.IssuedRow {
	t.Helper()
	ctx, actor := context.Background(), records.Actor{ID: engineerID, Name: "Maud Tweddle"}
	vs := records.Values{}
	vs.Put(records.ApplianceKind.Field, records.KindFire)
	vs.Put(records.ApplianceMbar.Field, "20.5")
	d := &records.Record{ApplianceID: applianceID, Purpose: records.Service, WorkDate: records.MustDate(work),
		Engineer: records.Engineer{Name: "Maud Tweddle"}, Values: vs,
		Instruments: []records.Instrument{{ID: "g", Kind: "gauge", Serial: "1",
			CalibrationDue: records.MustDate("2026-06-30")}},
		Replaces: replaces, Findings: []records.Finding{{Rule: "heat.input", Section: "heat", Title: "Heat input",
			Outcome: outcome}}}
	if outcome == records.Outside {
		d.Condition = &records.ConditionReport{Entries: []records.ConditionEntry{{Rule: "heat.input",
			Class: records.Classes[len(records.Classes)-1], Found: "low", Done: "noted"}}, Told: "the user",
			ToldHow: "in person"}
	}
	r, err := s.Records.StartDraft(ctx, actor, d)
	if err != nil {
		t.Fatal(err)
	}
	row, _, err := s.Records.Issue(ctx, actor, r.ID, r.Revision, storetest.Issuer())
	if err != nil {
		t.Fatal(err)
	}
	return row
}

func TestIssueRates(t *testing.T) {
	s := empty(t)
	fill(t, s, 3)
	ctx, actor := context.Background(), records.Actor{Name: "fill"}
	maud, err := s.People.Create(ctx, actor, records.Person{Name: "Maud Tweddle", Email: "maud@firm.example",
		Role: records.RoleEngineer, Active: true})
	if err != nil {
		t.Fatal(err)
	}
	all := registered(t, s)
	issueOne(t, s, all[0].ID, maud.ID, "2026-11-02", "", records.Inside)
	issueOne(t, s, all[0].ID, maud.ID, "2026-11-20", "", records.Inside)
	adverse := issueOne(t, s, all[1].ID, maud.ID, "2026-10-02", "", records.Outside)
	issueOne(t, s, all[1].ID, maud.ID, "2026-10-02", adverse.Number, records.Inside) // an amendment is no first issue
	issueOne(t, s, all[1].ID, "gone", "2026-09-02", "", records.Inside)
	withdrawn := issueOne(t, s, all[2].ID, maud.ID, "2024-01-02", "", records.Inside) // before the time looked at
	if err := s.Records.Withdraw(ctx, actor, withdrawn.ID, "wrong house"); err != nil {
		t.Fatal(err)
	}
	engineers, kinds, err := s.Register.IssueRates(ctx, records.MustDate("2025-12-01"), today)
	if err != nil {
		t.Fatal(err)
	}
	if want := []store.IssueRate{{maud.ID, "Maud Tweddle", 3, 2}, {"gone", "", 1, 1}}; !slices.Equal(engineers,
		want) {
		t.Errorf("engineers %+v, want %+v", engineers, want)
	}
	if want := []store.IssueRate{{records.KindFire, "", 4, 3}}; !slices.Equal(kinds, want) {
		t.Errorf("kinds %+v, want %+v", kinds, want)
	}
	// Counting as it comes about gives what counting afterwards does.
	var kept, again []struct {
		Month, EngineerID, Kind string
		Issued, Clear           int
	}
	store.MustScan(t, s, &kept, "SELECT * FROM issue_counts ORDER BY 1, 2, 3")
	store.MustScan(t, s, &again, `SELECT substr(work_date, 1, 7) AS month, engineer_id,
		json_extract(doc, '$.sections.appliance.kind') AS kind, count(*) AS issued,
		sum(standing = 'clear' AND json_extract(doc, '$.condition') IS NULL) AS clear
		FROM records WHERE stage <> 'draft' AND replaces = '' GROUP BY 1, 2, 3 ORDER BY 1, 2, 3`)
	if !reflect.DeepEqual(kept, again) || len(kept) != 4 {
		t.Errorf("kept %+v, counted again %+v", kept, again)
	}
	visits, err := s.Register.Followed(ctx, all[1].ID, 12)
	if err != nil || len(visits) != 2 || visits[0].WorkDate.String() != "2026-09-02" ||
		visits[1].Readings[records.ApplianceMbar.Key] != "20.5" {
		t.Errorf("followed %+v, %v", visits, err)
	}
	if _, err := s.Register.Followed(ctx, "none", 12); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
}

func TestWaiting(t *testing.T) {
	s := empty(t)
	fill(t, s, 4)
	ctx, actor := context.Background(), records.Actor{Name: "fill"}
	all := registered(t, s)
	for i := range 3 {
		if _, err := s.Records.StartDraft(ctx, actor, &records.Record{ApplianceID: all[0].ID, Purpose: records.Service,
			WorkDate: today.AddDays(-i)}); err != nil {
			t.Fatal(err)
		}
	}
	add(t, s, all[1].ID, records.BuildingNotice, today)
	if _, err := s.Outbox.Enqueue(ctx, actor, records.Message{Kind: "x", ToEmail: "a@home.example", Subject: "x",
		Text: "x"}); err != nil {
		t.Fatal(err)
	}
	m, err := s.Outbox.ClaimDue(ctx, time.Now().Add(time.Hour), time.Minute)
	if err != nil || m == nil {
		t.Fatal(m, err)
	}
	if err := s.Outbox.MarkFailed(ctx, m.ID, "refused"); err != nil {
		t.Fatal(err)
	}
	w, err := s.Register.Waiting(ctx, []records.DutyKind{records.BuildingNotice, records.TenantCopy}, 2)
	if err != nil || w.Drafts != 3 || w.Failed != 1 || w.Unsure != 0 || w.Notices[records.BuildingNotice] != 1 ||
		w.Notices[records.TenantCopy] != 0 || len(w.OldestDrafts) != 2 || w.OldestDrafts[0].WorkDate != today {
		t.Errorf("%+v, %v", w, err)
	}
}
