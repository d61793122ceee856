package store_test

import (
	"slices"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// Each filter of the log by itself and two together, against the whole log; from
// is included, until is not.
func TestAuditFilters(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	s := storetest.MustOpenAt(t, t.TempDir()+"/x.db", clock.Now)
	maud := records.Actor{ID: "p-2", Name: "Maud"}
	van := store.Origin{Address: "203.0.113.9", KeyID: "k-1"}
	for i, actor := range []records.Actor{by, maud, by, maud, maud} {
		clock.Set(storetest.Start.Add(time.Duration(i) * time.Hour))
		from := ctx
		if i%2 == 1 {
			from = store.WithOrigin(ctx, van)
		}
		p := must(s.Register.CreateProperty(from, actor, storetest.Property(i)))
		must(s.Register.CreateAppliance(from, actor, p.ID, storetest.ApplianceValues(i)))
	}
	all := must(s.Audit.Find(ctx, store.AuditQuery{Limit: 200}))
	if len(all) < 10 || !slices.IsSortedFunc(all, func(a, b store.AuditEntry) int { return int(b.Seq - a.Seq) }) {
		t.Fatalf("%d entries, or not the newest first", len(all))
	}
	mid := all[len(all)/2]
	type check = func(store.AuditEntry) bool
	for name, c := range map[string]struct {
		q    store.AuditQuery
		want check
	}{
		"all":         {store.AuditQuery{}, func(store.AuditEntry) bool { return true }},
		"by Maud":     {store.AuditQuery{Actor: "Maud"}, func(e store.AuditEntry) bool { return e.Actor == maud }},
		"by nobody":   {store.AuditQuery{Actor: "Mau"}, func(store.AuditEntry) bool { return false }},
		"of one kind": {store.AuditQuery{What: mid.What}, func(e store.AuditEntry) bool { return e.What == mid.What }},
		"of one thing": {store.AuditQuery{Subject: mid.Subject},
			func(e store.AuditEntry) bool { return e.Subject == mid.Subject }},
		"from an address": {store.AuditQuery{Origin: store.Origin{Address: van.Address}},
			func(e store.AuditEntry) bool { return e.Origin.Address == van.Address }},
		"by a key": {store.AuditQuery{Origin: store.Origin{KeyID: van.KeyID}},
			func(e store.AuditEntry) bool { return e.Origin.KeyID == van.KeyID }},
		"from an instant":  {store.AuditQuery{From: mid.At}, func(e store.AuditEntry) bool { return !e.At.Before(mid.At) }},
		"until an instant": {store.AuditQuery{Until: mid.At}, func(e store.AuditEntry) bool { return e.At.Before(mid.At) }},
		"before an entry":  {store.AuditQuery{Before: mid.Seq}, func(e store.AuditEntry) bool { return e.Seq < mid.Seq }},
		"Maud, with a key": {store.AuditQuery{Actor: "Maud", Origin: van},
			func(e store.AuditEntry) bool { return e.Actor == maud && e.Origin == van }},
		"Maud, after that": {store.AuditQuery{Actor: "Maud", From: mid.At},
			func(e store.AuditEntry) bool { return e.Actor == maud && !e.At.Before(mid.At) }},
	} {
		var want []int64
		for _, e := range all {
			if c.want(e) {
				want = append(want, e.Seq)
			}
		}
		c.q.Limit = 200
		var got []int64
		for _, e := range must(s.Audit.Find(ctx, c.q)) {
			got = append(got, e.Seq)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: entries %v, want %v", name, got, want)
		}
	}
	for name, c := range map[string]struct {
		got []string
		of  func(store.AuditEntry) string
	}{
		"kinds":  {must(s.Audit.Kinds(ctx)), func(e store.AuditEntry) string { return e.What }},
		"actors": {must(s.Audit.Actors(ctx)), func(e store.AuditEntry) string { return e.Actor.Name }},
	} {
		var want []string
		for _, e := range all {
			want = append(want, c.of(e))
		}
		slices.Sort(want)
		if want = slices.Compact(want); !slices.Equal(c.got, want) || len(want) < 2 {
			t.Errorf("%s: %v, want %v", name, c.got, want)
		}
	}
}
