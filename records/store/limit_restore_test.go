package store_test

import (
	"bytes"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// A limit of the owner's that no form would have taken comes in by no export
// either, and nothing else of that export stays.
func TestRestoreRefusesLimits(t *testing.T) {
	t.Parallel()
	from, high := storetest.MustOpen(t), 0.012
	ok(t, from.Settings.SaveOwnerLimit(ctx, by, records.OwnerLimit{Rule: records.OwnersRatio, Kind: records.KindFire,
		High: &high, Document: "Invented guide", EnteredBy: "Rhona"}))
	ok(t, from.Settings.SaveOwnerLimit(ctx, by, records.OwnerLimit{Rule: "pressure.meter",
		Decision: records.Guarded, EnteredBy: "Rhona"}))
	was := string(export(t, from))
	for name, c := range map[string]struct{ old, new, want string }{
		"above what may be left": {`"high":0.012`, `"high":0.4`, "“0.4” is not accepted"},
		"below nothing":          {`"high":0.012`, `"high":-0.012`, "a ratio above 0, at most 0.02"},
		"no document":            {`"document":"Invented guide"`, `"document":""`, "document"},
		"nobody's":               {`"entered_by":"Rhona"`, `"entered_by":""`, "Entered by: this cannot be left blank"},
		"of another kind":        {`"kind":"fire"`, `"kind":"range-cooker"`, "another rule or kind"},
		"of another rule":        {`"rule":"pressure.meter"`, `"rule":"heat.input"`, "another rule or kind"},
		"unknown decision":       {`"decision":"guarded"`, `"decision":"strict"`, "give one of as read, guarded"},
		"no limit at all":        {`"high":0.012`, `"high":"much"`, "limit"},
	} {
		if strings.Count(was, c.old) == 0 {
			t.Errorf("%s: the export holds no %s:\n%s", name, c.old, was)
			continue
		}
		to := storetest.MustOpen(t)
		_, err := to.Bulk.Restore(ctx, by, store.RestoreOptions{},
			strings.NewReader(strings.Replace(was, c.old, c.new, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) || records.KindOf(err) != records.Invalid {
			t.Errorf("%s: %v (%s), want %q", name, err, records.KindOf(err), c.want)
		}
		if kept := must(to.Settings.OwnerLimits(ctx)); len(kept) != 0 {
			t.Errorf("%s: %d limits stayed", name, len(kept))
		}
	}
	to := storetest.MustOpen(t)
	must(to.Bulk.Restore(ctx, by, store.RestoreOptions{}, strings.NewReader(was)))
	if kept := must(to.Settings.OwnerLimits(ctx)); len(kept) != 2 || *kept[0].High != high {
		t.Errorf("restored %+v", kept)
	}
}

// Records are restored only with the seals of whoever asks: each seal is shown,
// with the bytes that it is of, and one refusal leaves nothing behind.
func TestRestoreAsksForEachSeal(t *testing.T) {
	t.Parallel()
	from := newWorld(t).Store
	was := export(t, from)
	shown := map[string]bool{}
	yes := func(seal records.Seal, canonical []byte) bool {
		shown[seal.SHA256] = bytes.HasPrefix(canonical, []byte("{"))
		return true
	}
	must(storetest.MustOpen(t).Bulk.Restore(ctx, by, store.RestoreOptions{Seals: yes}, bytes.NewReader(was)))
	issued := strings.Count(string(was), `"seal":`)
	if issued < 2 || len(shown) != issued {
		t.Fatalf("%d seals shown of %d records", len(shown), issued)
	}
	for refused := range shown {
		to := storetest.MustOpen(t)
		_, err := to.Bulk.Restore(ctx, by, store.RestoreOptions{
			Seals: func(seal records.Seal, _ []byte) bool { return seal.SHA256 != refused }}, bytes.NewReader(was))
		if records.KindOf(err) != records.Invalid || count(t, to) != 0 {
			t.Errorf("%s: %v, %d appliances stayed", refused[:8], err, count(t, to))
		}
	}
}
