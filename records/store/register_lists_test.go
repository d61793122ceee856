package store_test

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// listQueries returns combinations of the filters that name lists, and weeks.
func listQueries(before time.Time) (out []store.Query) {
	for _, q := range []store.Query{{Weeks: 9}, {DraftBefore: before}, {Uncalibrated: true},
		{DraftBefore: before, Uncalibrated: true}, {Weeks: 30, Uncalibrated: true}} {
		for _, sort := range []store.Sort{store.ByDue, store.ByAddress} {
			for _, kind := range []string{"", records.KindFire} {
				for _, duty := range []records.DutyKind{"", records.AnnualService, records.LandlordCheckDue} {
					for _, search := range []string{"", "quillwater 1"} {
						for _, state := range []records.DutyState{"", records.Late, store.NoDuty} {
							if q.Weeks > 0 && state != "" {
								continue
							}
							q.Sort, q.Kind, q.Duty, q.Search, q.State, q.Today = sort, kind, duty, search, state, today
							out = append(out, q)
						}
					}
				}
			}
		}
	}
	return out
}

func TestRegisterByLists(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	s := storetest.MustOpenAt(t, filepath.Join(t.TempDir(), "x.db"), func() time.Time { return now })
	fill(t, s, 40)
	ctx, drafted, uncalibrated := context.Background(), map[string]bool{}, map[string]bool{}
	for i, a := range registered(t, s) {
		if a.Retired {
			continue
		}
		// The gauge of issueOne is due on 30 June 2026.
		switch i % 4 {
		case 0:
			issueOne(t, s, a.ID, "e", "2026-07-01", "", records.Inside)
			uncalibrated[a.ID] = true
		case 1: // later put right
			issueOne(t, s, a.ID, "e", "2026-07-01", "", records.Inside)
			issueOne(t, s, a.ID, "e", "2026-06-30", "", records.Inside)
			uncalibrated[a.ID] = true // the earlier visit, entered late, changes nothing
		case 2:
			issueOne(t, s, a.ID, "e", "2026-06-30", "", records.Inside)
		}
		if i%3 == 0 {
			for n := range 2 { // two drafts are one row
				now = time.Date(2026, 11, 1+n, 9, i, 0, 0, time.UTC)
				if _, err := s.Records.StartDraft(ctx, records.Actor{Name: "fill"}, &records.Record{ApplianceID: a.ID,
					Purpose: records.Service, WorkDate: today}); err != nil {
					t.Fatal(err)
				}
			}
			drafted[a.ID] = true
		}
		now = time.Date(2026, 11, 25, 9, i, 0, 0, time.UTC)
	}
	if _, err := s.Records.StartDraft(ctx, records.Actor{Name: "fill"},
		&records.Record{ApplianceID: registered(t, s)[1].ID, Purpose: records.Service, WorkDate: today}); err != nil {
		t.Fatal(err) // too young to be found
	}
	before := time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC)
	all := registered(t, s)
	for _, most := range []int{5000, -1} {
		store.GatherMost(s, most)
		for _, q := range listQueries(before) {
			q.Limit = 5
			var got []string
			for range 30 {
				rows, next, err := s.Register.Find(ctx, q)
				if err != nil {
					t.Fatalf("%+v: %v", q, err)
				}
				for _, r := range rows {
					got = append(got, r.ApplianceID)
				}
				if q.After = next; next == "" {
					break
				}
			}
			q.After = ""
			wide := q
			wide.Weeks = 0
			want := slices.DeleteFunc(plain(all, wide), func(id string) bool {
				return !q.DraftBefore.IsZero() && !drafted[id] || q.Uncalibrated && !uncalibrated[id] || q.Weeks > 0 &&
					!dueWithin(all, id, q)
			})
			if !slices.Equal(got, want) {
				t.Fatalf("gathering at most %d: %+v\n got %d %v\nwant %d %v", most, q, len(got), got, len(want), want)
			}
		}
	}
	if len(uncalibrated) < 10 || len(drafted) < 8 {
		t.Error("too little to find")
	}
}

// dueWithin reports whether the duty that a query shows of an appliance falls
// within its weeks.
func dueWithin(all []known, id string, q store.Query) bool {
	for _, a := range all {
		if a.ID != id {
			continue
		}
		for _, d := range a.duties {
			if !d.Closed() && (q.Duty == "" || d.Duty.Kind == q.Duty) {
				return !d.Duty.Due.Before(today) && !d.Duty.Due.After(today.AddDays(7*q.Weeks))
			}
		}
	}
	return false
}

func TestRegisterListsNeverScan(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	for _, most := range []int{5000, -1} {
		store.GatherMost(s, most)
		for _, q := range listQueries(time.Now()) {
			sql, args := store.StatementOf(t, s, q)
			for _, step := range store.PlanOf(t, s, sql, args...) {
				short := strings.Contains(step, "VIRTUAL TABLE INDEX") || most > 0 &&
					(strings.HasPrefix(step, "SCAN uncalibrated") || strings.HasPrefix(step, "SCAN l") ||
						strings.HasPrefix(step, "SCAN records USING INDEX records_drafts") ||
						step == "SCAN few")
				if strings.HasPrefix(step, "SCAN") && !short {
					t.Errorf("%+v\n%s\n%s", q, sql, step)
				}
				if most < 0 && strings.Contains(step, "TEMP B-TREE") {
					t.Errorf("a wide query sorts: %+v\n%s\n%s", q, sql, step)
				}
			}
		}
	}
	for _, q := range []store.Query{{Weeks: 4}, {Weeks: -1, Today: today}, {Weeks: 105, Today: today},
		{Weeks: 4, Today: today, State: records.Late}} {
		if _, _, err := s.Register.Find(context.Background(), q); records.KindOf(err) != records.Invalid {
			t.Errorf("%+v: %v", q, err)
		}
	}
}
