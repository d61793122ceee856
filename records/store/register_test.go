package store_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

var today = records.MustDate("2026-11-25")

// fill makes a register of n appliances in which every filter has something
// to find.
func fill(tb testing.TB, s *store.Store, n int) {
	tb.Helper()
	ctx, actor := context.Background(), records.Actor{Name: "fill"}
	kinds := []string{records.KindCombination, records.KindFire, records.KindCooker}
	for i := range n {
		p, err := s.Register.CreateProperty(ctx, actor, records.PropertyEntry{
			Property: records.Property{Line1: fmt.Sprintf("%d Quillwater Lane", n-i), Town: "Ambershaw",
				Postcode: "AB12 3XY", Nation: records.Nations[i%3]},
			Contact: records.Contact{Name: "Ingrid Müller-O'Dowd", Tenure: records.Landlord},
		})
		if err != nil {
			tb.Fatal(err)
		}
		vs := records.Values{}
		vs.Put(records.ApplianceKind.Field, kinds[i%len(kinds)])
		vs.Put(records.ApplianceMake.Field, "Emberline")
		vs.Put(records.ApplianceSerial.Field, fmt.Sprintf("EH-%04d", i))
		a, err := s.Register.CreateAppliance(ctx, actor, p.ID, vs)
		if err != nil {
			tb.Fatal(err)
		}
		if i%4 != 0 {
			add(tb, s, a.ID, records.AnnualService, today.AddDays(i*7%200-60))
		}
		if i%5 == 0 {
			add(tb, s, a.ID, records.LandlordCheckDue, today.AddDays(i*11%200-60))
		}
		if i%17 == 3 {
			if err := s.Register.RetireAppliance(ctx, actor, a.ID, "taken out"); err != nil {
				tb.Fatal(err)
			}
		}
	}
}

func add(tb testing.TB, s *store.Store, applianceID string, kind records.DutyKind, due records.Date) {
	tb.Helper()
	if _, err := s.Duties.Add(context.Background(), records.Actor{Name: "fill"}, applianceID,
		records.Duty{Kind: kind, Due: due}); err != nil {
		tb.Fatal(err)
	}
}

// queries returns every combination of filters.
func queries() (out []store.Query) {
	for _, sort := range []store.Sort{store.ByDue, store.ByAddress} {
		for _, kind := range []string{"", records.KindFire} {
			for _, nation := range []records.Nation{"", records.Wales} {
				for _, duty := range []records.DutyKind{"", records.AnnualService, records.LandlordCheckDue} {
					for _, state := range []records.DutyState{"", records.Late, records.Near, records.Ahead,
						store.NoDuty} {
						for _, search := range []string{"", "quillwater 1", "muller"} {
							out = append(out, store.Query{Search: search, Kind: kind, Nation: nation, Duty: duty,
								State: state, Today: today, Sort: sort})
						}
					}
				}
			}
		}
	}
	return out
}

// known is an appliance as the public reads of one at a time give it.
type known struct {
	store.Appliance
	duties []records.OpenDuty
}

func registered(t *testing.T, s *store.Store) (all []known) {
	t.Helper()
	var ids []string
	store.MustScan(t, s, &ids, "SELECT id FROM appliances ORDER BY n")
	for _, id := range ids {
		a, err := s.Register.Appliance(context.Background(), id)
		if err != nil {
			t.Fatal(err)
		}
		duties, err := s.Duties.OfAppliance(context.Background(), id)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, known{a, duties})
	}
	return all
}

// plain answers a query the slow way, one appliance after the other.
func plain(all []known, q store.Query) (ids []string) {
	type line struct{ key, id string }
	var lines []line
	for i, a := range all {
		words := store.TokensOf(a.Property.OneLine() + " " + strings.ReplaceAll(a.Contact.Name, "ü", "u"))
		fits := !a.Retired && (q.Kind == "" || a.Values.Choice(records.ApplianceKind) == q.Kind) &&
			(q.Nation == "" || a.Property.Nation == q.Nation)
		for _, w := range store.TokensOf(q.Search) {
			fits = fits && slices.ContainsFunc(words, func(x string) bool {
				return x == w || !store.IsWhole(w) && strings.HasPrefix(x, w)
			})
		}
		due := ""
		for _, d := range a.duties {
			if !d.Closed() && (q.Duty == "" || d.Duty.Kind == q.Duty) && due == "" {
				due = d.Duty.Due.String()
			}
		}
		state := store.NoDuty
		if due != "" {
			state = records.Duty{Due: records.MustDate(due)}.StateOn(q.Today)
		}
		if q.Duty != "" && q.State == "" && due == "" || q.State != "" && q.State != state {
			fits = false
		}
		key := due
		switch {
		case store.IsByAddress(q):
			key = store.AddressKey(a.Property)
		case due == "":
			key = "~"
		}
		if fits {
			lines = append(lines, line{fmt.Sprintf("%s %06d", key, i), a.ID})
		}
	}
	slices.SortFunc(lines, func(a, b line) int { return strings.Compare(a.key, b.key) })
	for _, l := range lines {
		ids = append(ids, l.id)
	}
	return ids
}

func TestRegisterFindsWhatThereIs(t *testing.T) {
	s := empty(t)
	fill(t, s, 60)
	all := registered(t, s)
	for _, most := range []int{5000, 0} {
		store.GatherMost(s, most)
		for _, q := range queries() {
			q.Limit = 7
			var got []string
			for pages := 0; pages < 30; pages++ {
				rows, next, err := s.Register.Find(context.Background(), q)
				if err != nil {
					t.Fatalf("%+v: %v", q, err)
				}
				for _, r := range rows {
					got = append(got, r.ApplianceID)
					if store.IsByDuty(q) && (r.NextDuty == nil || r.NextDuty.Duty.Kind != q.Duty) {
						t.Errorf("%+v: row with duty %+v", q, r.NextDuty)
					}
				}
				if q.After = next; next == "" {
					break
				}
			}
			q.After = ""
			if want := plain(all, q); !slices.Equal(got, want) {
				t.Fatalf("gathering at most %d: %+v\n got %d %v\nwant %d %v", most, q, len(got), got, len(want), want)
			}
		}
	}
}

// TestRegisterNeverScans reads the plan of every query of the register: each
// table is reached by searching an index or by key, never by reading it all.
func TestRegisterNeverScans(t *testing.T) {
	s := empty(t)
	if steps := store.PlanOf(t, s, "SELECT n FROM appliances WHERE serial = 'x'"); !strings.HasPrefix(steps[0],
		"SCAN") {
		t.Fatalf("this test would not see a scan: %v", steps)
	}
	for _, most := range []int{5000, -1} {
		store.GatherMost(s, most)
		for _, q := range queries() {
			for _, after := range []string{"", store.Cursor(store.CursorKind(q), "2026-11-25", 3)} {
				q.After = after
				wide := most < 0
				sql, args := store.StatementOf(t, s, q)
				for _, step := range store.PlanOf(t, s, sql, args...) {
					if strings.HasPrefix(step, "SCAN") && !strings.Contains(step, "VIRTUAL TABLE INDEX") {
						t.Errorf("%+v\n%s\n%s", q, sql, step)
					}
					if wide && strings.Contains(step, "TEMP B-TREE") {
						t.Errorf("a wide query sorts: %+v\n%s\n%s", q, sql, step)
					}
				}
			}
		}
	}
}

func TestCounts(t *testing.T) {
	s := empty(t)
	fill(t, s, 60)
	got, err := s.Register.Counts(context.Background(), today)
	if err != nil {
		t.Fatal(err)
	}
	all := registered(t, s)
	var want store.DueCounts
	for state, n := range map[records.DutyState]*int{records.Late: &want.Late, records.Near: &want.Near,
		records.Ahead: &want.Ahead, store.NoDuty: &want.None} {
		*n = len(plain(all, store.Query{State: state, Today: today}))
	}
	if got != want || want.Late*want.Near*want.Ahead*want.None == 0 {
		t.Errorf("counts %+v, want %+v", got, want)
	}
}

func TestSearch(t *testing.T) {
	s := empty(t)
	fill(t, s, 12)
	for search, want := range map[string]int{
		"ab123xy": 12, "AB12 3XY": 12, "ab12": 12, "quill lane": 12, "eh0007": 1, "EH-0007": 1, "eh-000": 10,
		"1 quillwater": 1, "12 quillwater": 1, "müller": 12, "MULLER": 12, "o'dowd": 12, "emberline": 12, "nothing": 0,
		"-": 0, "\"": 0, " ": 12,
	} {
		// One of the twelve is retired and must not be found.
		rows, _, err := s.Register.Find(context.Background(), store.Query{Search: search})
		if err != nil {
			t.Errorf("%q: %v", search, err)
		}
		if want == 12 {
			want = 11
		}
		if search == "eh-000" {
			want = 9
		}
		if len(rows) != want {
			t.Errorf("%q found %d, want %d", search, len(rows), want)
		}
	}
}

func FuzzSearch(f *testing.F) {
	s := storetest.MustOpen(f)
	fill(f, s, 3)
	for _, seed := range []string{"", "lane", `"`, `"a`, "a*", "(", ")", "a OR", "NOT a", "a NEAR/2 b", "search:a",
		"-a", "a AND", "^a", "\x00", "\xff", "é", "e\u0301", "\u0301", "٣", "𝟘", "ß", strings.Repeat("a ", 1000),
		strings.Repeat("x", 10000)} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, search string) {
		for _, sort := range []store.Sort{store.ByDue, store.ByAddress} {
			if _, _, err := s.Register.Find(context.Background(), store.Query{Search: search, Sort: sort}); err != nil {
				t.Errorf("%q: %v", search, err)
			}
		}
	})
}

func TestRegisterRefuses(t *testing.T) {
	s := empty(t)
	for _, q := range []store.Query{
		{State: records.Late}, {State: "whenever"}, {State: store.NoDuty, Duty: records.BuildingNotice}, {Sort: "size"},
		{After: "!"}, {After: store.Cursor("address", "x", 1)}, {After: store.Cursor("register-due", "x", 1)[:5]},
	} {
		if _, _, err := s.Register.Find(context.Background(), q); records.KindOf(err) != records.Invalid {
			t.Errorf("%+v: %v", q, err)
		}
	}
}
