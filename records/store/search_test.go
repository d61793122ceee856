package store_test

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func TestTokens(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"12A Saltpan Row, AB12 3XY": "12a saltpan row ab12 3xy", "Müller-O'Dowd": "muller o dowd",
		"EH-0042.7": "eh 0042 7",
		"İstanbul":  "istanbul", "ﬁ": "ﬁ", "٣ ④": "٣ ④", "a\xffb": "a b", "e\u0301": "e", "": "", "--": "", "北京": "北京",
		"Łódź": "łodz", "ß": "ß", "ÅNGSTRÖM": "angstrom",
	} {
		if got := strings.Join(store.TokensOf(text), " "); got != want {
			t.Errorf("%q gives %q, want %q", text, got, want)
		}
	}
}

// What a person sees in the register they can type to find it again, in any
// case, with or without accents, gaps and dashes, and the beginnings of words.
func TestWhatIsSeenIsFound(t *testing.T) {
	s := empty(t)
	p := storetest.Property(7)
	p.Line1, p.Line2, p.Town, p.Postcode = "Flat 3, 12-14 Saltpan Row", "The Kilns", "Ambershaw-on-Sea", "AB12 3XY"
	p.Contact.Name = "Zoë Ångström-O'Dowd"
	p = must(s.Register.CreateProperty(ctx, by, p))
	vs := storetest.ApplianceValues(7)
	vs.Put(records.ApplianceSerial.Field, "EH 0042-7X")
	a := must(s.Register.CreateAppliance(ctx, by, p.ID, vs))
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-20")
	storetest.MustAppliance(t, s, 1) // another, which must not be found
	for _, search := range []string{
		"saltpan", "SALT", "kilns", "ambershaw on sea", "on-sea", "zoe", "Zoë", "ANGSTROM", "o'dowd", "odowd"[1:],
		"ab12 3xy saltpan", "ab123xy saltpan", "EH00427X", "eh-0042-7x", "eh 0042", row.Number, "flat 3", "12-14 salt",
		strings.ReplaceAll(row.Number, "-", ""), "row the ambershaw flat zoe 12 14 emberline hearth",
	} {
		for _, most := range []int{5000, -1} { // by the index, and along the register
			store.GatherMost(s, most)
			rows, _, err := s.Register.Find(ctx, store.Query{Search: search})
			if err != nil || len(rows) != 1 || rows[0].ApplianceID != a.ID {
				t.Errorf("%q, gathering %d, finds %d rows: %v", search, most, len(rows), err)
			}
		}
	}
	for _, search := range []string{"altpan", "saltpans", "1 saltpan", "eh 0043", "zoe quillwater", "2026-00002"} {
		rows, _, err := s.Register.Find(ctx, store.Query{Search: search})
		if err != nil || len(rows) != 0 {
			t.Errorf("%q finds %d rows: %v", search, len(rows), err)
		}
	}
}

// However an address is written, its words are found by each of them.
func TestEveryWordIsFound(t *testing.T) {
	s := empty(t)
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		line := rapid.StringMatching(`[1-9][0-9]{0,2}[A-C]? [A-Z][a-zéüø'-]{3,12} (Row|Lane|Street)`).Draw(t, "line")
		p := storetest.Property(n)
		p.Line1, p.Contact = line, records.Contact{}
		p = must(s.Register.CreateProperty(ctx, by, p))
		a := must(s.Register.CreateAppliance(ctx, by, p.ID, storetest.ApplianceValues(n)))
		for _, word := range store.TokensOf(line) {
			found := false
			for q := (store.Query{Search: word + fmt.Sprintf(" eh%06d", n)}); !found; {
				rows, next, err := s.Register.Find(ctx, q)
				if err != nil {
					t.Fatalf("%q: %v", word, err)
				}
				found = slices.ContainsFunc(rows, func(r store.RegisterRow) bool { return r.ApplianceID == a.ID })
				if q.After = next; next == "" {
					break
				}
			}
			if !found {
				t.Fatalf("%q of %q does not find it", word, line)
			}
		}
	})
}

// Neighbours stand together, in the order of the street.
func TestAddressesInTheOrderOfTheStreet(t *testing.T) {
	t.Parallel()
	street := []string{"1 Saltpan Row", "2 Saltpan Row", "2A Saltpan Row", "9 Saltpan Row", "10 Saltpan Row",
		"11 Saltpan Row", "100 Saltpan Row"}
	keys := make([]string, len(street))
	for i, line := range street {
		keys[i] = store.AddressKey(records.Property{Line1: line, Postcode: "AB12 3XY"})
	}
	if !slices.IsSorted(keys) {
		t.Errorf("not in order: %q", keys)
	}
	near := store.AddressKey(records.Property{Line1: "1 A", Postcode: "AB1 1AA"})
	far := store.AddressKey(records.Property{Line1: "1 A", Postcode: "AB1 1AB"})
	if near >= far {
		t.Errorf("%q is not before %q", near, far)
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.IntRange(1, 99999).Draw(t, "a"), rapid.IntRange(1, 99999).Draw(t, "b")
		key := func(n int) string {
			return store.AddressKey(records.Property{Line1: fmt.Sprintf("%d Lane", n), Postcode: "AB1 1AA"})
		}
		if (a < b) != (key(a) < key(b)) {
			t.Fatalf("%d and %d stand as %q and %q", a, b, key(a), key(b))
		}
	})
}

// Instants come back as they were, to the millisecond, and sort as text.
func TestInstantsSortAsText(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) time.Time {
			return time.UnixMilli(rapid.Int64Range(0, 253402300799999).Draw(t, name)).In(time.FixedZone("x", 3600))
		}
		a, b := draw("a"), draw("b")
		if got := store.Instant(store.Stamp(a)); !got.Equal(a) || got.Location() != time.UTC {
			t.Fatalf("%v came back as %v", a, got)
		}
		if a.Before(b) != (store.Stamp(a) < store.Stamp(b)) {
			t.Fatalf("%s and %s sort otherwise", store.Stamp(a), store.Stamp(b))
		}
	})
	if store.Stamp(time.Time{}) != "" || !store.Instant("").IsZero() || !store.Instant("soon").IsZero() {
		t.Error("no time is not the blank text")
	}
}

// A cursor comes back as it was made, whatever the row sorts by.
func TestCursorsComeBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := strings.ReplaceAll(rapid.String().Draw(t, "text"), "\n", " ")
		n := rapid.Int64().Draw(t, "n")
		gotText, gotN, err := store.ReadCursor("kind", store.Cursor("kind", text, n))
		if err != nil || gotText != text || gotN != n {
			t.Fatalf("%q %d came back as %q %d: %v", text, n, gotText, gotN, err)
		}
		if _, _, err := store.ReadCursor("other", store.Cursor("kind", text, n)); err == nil {
			t.Fatal("taken for that of another list")
		}
	})
}

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
	s := empty(t)
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
