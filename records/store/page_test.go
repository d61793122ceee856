package store_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// list is a list that comes in pages: it returns what tells the rows apart.
type list struct {
	name string
	page func(s *store.Store, after string, limit int) (ids []string, next string, err error)
	// grow adds a row that sorts anywhere; nil if the fixture cannot.
	grow func(s *store.Store, n int)
}

func idsOf[T any](rows []T, id func(T) string) []string {
	out := make([]string, len(rows))
	for i, r := range rows {
		out[i] = id(r)
	}
	return out
}

func registerList(name string, q store.Query) list {
	return list{"register " + name, func(s *store.Store, after string, limit int) ([]string, string, error) {
		asked := q
		asked.After, asked.Limit, asked.Today = after, limit, today
		rows, next, err := s.Register.Find(ctx, asked)
		return idsOf(rows, func(r store.RegisterRow) string {
			if q.Duty != "" && r.NextDuty != nil {
				return r.NextDuty.ID
			}
			return r.ApplianceID
		}), next, err
	}, func(s *store.Store, n int) {
		p := storetest.Property(1000 + n)
		p.Line1, p.Postcode = fmt.Sprintf("%d Quillwater Lane", 1+n*7%50), "AB12 3XY"
		p = must(s.Register.CreateProperty(ctx, by, p))
		a := must(s.Register.CreateAppliance(ctx, by, p.ID, storetest.ApplianceValues(1000+n)))
		must(s.Duties.Add(ctx, by, a.ID, records.Duty{Kind: records.AnnualService, Due: today.AddDays(n*13%90 - 40)}))
	}}
}

var lists = []list{
	registerList("by due", store.Query{}),
	registerList("by address", store.Query{Sort: store.ByAddress}),
	registerList("late", store.Query{State: records.Late}),
	registerList("late by address", store.Query{State: records.Late, Sort: store.ByAddress}),
	registerList("services", store.Query{Duty: records.AnnualService}),
	registerList("without a service", store.Query{State: store.NoDuty, Duty: records.AnnualService}),
	registerList("search", store.Query{Search: "quillwater"}),
	registerList("in weeks", store.Query{Weeks: 8}),
	{"open duties", func(s *store.Store, after string, limit int) ([]string, string, error) {
		rows, next, err := s.Duties.Find(ctx, store.DutyQuery{After: after, Limit: limit})
		return idsOf(rows, func(d records.OpenDuty) string { return d.ID }), next, err
	}, nil},
	{"late duties", func(s *store.Store, after string, limit int) ([]string, string, error) {
		rows, next, err := s.Duties.List(ctx, store.DutyListQuery{State: records.Late, Today: today, After: after,
			Limit: limit})
		return idsOf(rows, func(d records.OpenDuty) string { return d.ID }), next, err
	}, nil},
	{"lifted duties", func(s *store.Store, after string, limit int) ([]string, string, error) {
		rows, next, err := s.Duties.List(ctx, store.DutyListQuery{State: records.Lifted, Kind: records.AnnualService,
			Today: today, After: after, Limit: limit})
		return idsOf(rows, func(d records.OpenDuty) string { return d.ID }), next, err
	}, nil},
	{"chase", func(s *store.Store, after string, limit int) ([]string, string, error) {
		rows, next, err := s.Chase.Find(ctx, store.ChaseQuery{After: after, Limit: limit})
		return idsOf(rows, func(r store.ChaseRow) string { return r.DutyID }), next, err
	}, nil},
	{"chase by ladder", func(s *store.Store, after string, limit int) ([]string, string, error) {
		rows, next, err := s.Chase.Find(ctx, store.ChaseQuery{Ladder: due.DefaultLadder, Today: today, After: after,
			Limit: limit})
		return idsOf(rows, func(r store.ChaseRow) string { return r.DutyID }), next, err
	}, nil},
	{"outbox", func(s *store.Store, after string, limit int) ([]string, string, error) {
		rows, next, err := s.Outbox.Find(ctx, store.OutboxQuery{After: after, Limit: limit})
		return idsOf(rows, func(m records.Message) string { return m.ID }), next, err
	}, nil},
	{"due messages", func(s *store.Store, after string, limit int) ([]string, string, error) {
		rows, next, err := s.Outbox.Find(ctx, store.OutboxQuery{State: records.MessageDue, After: after, Limit: limit})
		return idsOf(rows, func(m records.Message) string { return m.ID }), next, err
	}, nil},
}

// listedRegister has something on several pages of every list.
func listedRegister(t *testing.T) *store.Store {
	t.Helper()
	s := storetest.MustOpen(t)
	fill(t, s, 40)
	for i, a := range registered(t, s) {
		if i%3 == 1 && !a.Retired {
			d := must(s.Duties.Add(ctx, by, a.ID, records.Duty{Kind: records.AnnualService, Due: today.AddDays(i)}))
			ok(t, s.Duties.Lift(ctx, by, d.ID, "added twice"))
		}
		if i < 12 {
			must(s.Outbox.Enqueue(ctx, by, message(fmt.Sprint(i))))
		}
	}
	m, err := s.Outbox.ClaimDue(ctx, storetest.Start.Add(time.Hour), time.Hour)
	ok(t, err)
	ok(t, s.Outbox.MarkSent(ctx, m.ID, "250 ok"))
	return s
}

// walk reads a list page by page; between is called after each.
func walk(t *testing.T, l list, s *store.Store, limit int, between func(page int)) (ids []string) {
	t.Helper()
	after := ""
	for page := range 200 {
		got, next, err := l.page(s, after, limit)
		if err != nil {
			t.Fatalf("%s: %v", l.name, err)
		}
		if len(got) > limit || next != "" && len(got) < limit {
			t.Fatalf("%s: a page of %d with %d rows, next %q", l.name, limit, len(got), next)
		}
		ids = append(ids, got...)
		if after = next; next == "" {
			return ids
		}
		if between != nil {
			between(page)
		}
	}
	t.Fatalf("%s: no end", l.name)
	return nil
}

// The pages of every list hold each row once, in the order of the whole list,
// whatever their size.
func TestPagesAreTheList(t *testing.T) {
	t.Parallel()
	s := listedRegister(t)
	for _, l := range lists {
		whole := walk(t, l, s, 500, nil)
		if len(whole) < 8 {
			t.Errorf("%s: only %d rows", l.name, len(whole))
		}
		sorted := slices.Clone(whole)
		slices.Sort(sorted)
		if len(slices.Compact(sorted)) != len(whole) {
			t.Errorf("%s: a row comes twice", l.name)
		}
		for _, limit := range []int{1, 2, 3, 7} {
			if got := walk(t, l, s, limit, nil); !slices.Equal(got, whole) {
				t.Errorf("%s in pages of %d:\n%v\nwant\n%v", l.name, limit, got, whole)
			}
		}
	}
}

// Rows that come in while somebody turns the pages neither push one of the old
// ones off nor show it twice.
func TestPagesWhileTheListGrows(t *testing.T) {
	t.Parallel()
	for _, l := range lists {
		if l.grow == nil {
			continue
		}
		s := storetest.MustOpen(t)
		fill(t, s, 20)
		old := walk(t, l, s, 500, nil)
		got := walk(t, l, s, 3, func(page int) { l.grow(s, page) })
		seen := map[string]int{}
		for _, id := range got {
			seen[id]++
		}
		for _, id := range old {
			if seen[id] != 1 {
				t.Errorf("%s: a row that was there came %d times", l.name, seen[id])
			}
		}
	}
}

// A cursor is of one list: given to another it is refused, not misread.
func TestCursorsAreOfTheirList(t *testing.T) {
	t.Parallel()
	s := listedRegister(t)
	kind := func(name string) string { // lists that sort alike share a cursor
		switch name {
		case "register by address", "register late by address", "register without a service":
			return "address"
		case "register services":
			return "duty of the register"
		case "open duties", "late duties":
			return "duty"
		case "chase", "chase by ladder":
			return "chase"
		case "outbox", "due messages":
			return "outbox"
		case "lifted duties":
			return "closed"
		}
		return "register"
	}
	for _, from := range lists {
		_, cursor, err := from.page(s, "", 1)
		if err != nil || cursor == "" {
			t.Fatalf("%s: %q, %v", from.name, cursor, err)
		}
		for _, to := range lists {
			_, _, err := to.page(s, cursor, 1)
			if same := kind(from.name) == kind(to.name); same != (err == nil) {
				t.Errorf("the cursor of %s for %s: %v", from.name, to.name, err)
			}
			if err != nil {
				wantKind(t, err, records.Invalid)
			}
		}
		for _, broken := range []string{cursor + "A", cursor[1:], "=" + cursor} {
			if _, _, err := from.page(s, broken, 1); err != nil {
				wantKind(t, err, records.Invalid)
			}
		}
	}
}

// The newest entries of the log come first, those of a subject alone if asked.
func TestAuditEntries(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	var all []store.AuditEntry
	for before := int64(0); ; {
		page, err := w.Audit.Entries(ctx, "", before, 7)
		ok(t, err)
		if len(page) == 0 {
			break
		}
		all, before = append(all, page...), page[len(page)-1].Seq
	}
	head, hash, err := w.Audit.Head(ctx)
	ok(t, err)
	if int64(len(all)) != head || all[0].Hash != hash || all[len(all)-1].Seq != 1 {
		t.Errorf("%d entries, the newest %+v, the head %d %s", len(all), all[0], head, hash)
	}
	mine, err := w.Audit.Entries(ctx, w.engineer.ID, 0, 0)
	ok(t, err)
	var said []string
	for _, e := range mine {
		if e.Subject != w.engineer.ID {
			t.Errorf("%+v", e)
		}
		said = append(said, e.What)
	}
	if !slices.Equal(said, []string{"passkey added", "one-time codes set up", "recovery codes made",
		"person invited", "person added"}) {
		t.Errorf("said %v", said)
	}
	if page, err := w.Audit.Entries(ctx, "", 0, 100000); err != nil || len(page) > 500 {
		t.Errorf("%d entries at once, %v", len(page), err)
	}
}
