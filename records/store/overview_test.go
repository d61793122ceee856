package store_test

import (
	"context"
	"reflect"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

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
	if want := []store.IssueRate{{maud.ID, "Maud Tweddle", 3, 2}, {"gone", "", 1, 1}}; !reflect.DeepEqual(engineers,
		want) {
		t.Errorf("engineers %+v, want %+v", engineers, want)
	}
	if want := []store.IssueRate{{records.KindFire, "", 4, 3}}; !reflect.DeepEqual(kinds, want) {
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
