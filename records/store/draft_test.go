package store_test

import (
	"errors"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

func TestDraftComesBackAsSaved(t *testing.T) {
	s, a := withAppliance(t)
	r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-24")
	if r.Revision != 1 || r.Stage != records.Draft || r.Property != a.Property || r.Contact != a.Contact ||
		r.Values.ApplianceName() != "Emberline Hearth 24" {
		t.Errorf("started %+v", r)
	}
	r.Values.Put(records.StandingMbar.Field, "21.50")
	r.Values.Put(records.ForUser.Field, "Zeile 1\nline ² <b>&\" ☐")
	r.Values.PutRows(records.TightnessRuns, map[string]string{"pipe": "copper-22", "length_m": "3.20"},
		map[string]string{"pipe": "copper-15", "length_m": "1"})
	r.Rejected = map[string]records.Rejection{"pressure.meter_mbar": {Entry: "twenty", Message: "not a plain number"}}
	r.Condition = &records.ConditionReport{Told: "The tenant"}
	r.Instruments = []records.Instrument{{ID: "i1", Kind: "gauge", Serial: "G1",
		CalibrationDue: records.MustDate("2027-01-01")}}
	saved, err := s.Records.SaveDraft(ctx, storetest.Actor, r, 1)
	if err != nil {
		t.Fatal(err)
	}
	got := must(s.Records.Record(ctx, r.ID))
	for _, g := range []*records.Record{saved, got} {
		if g.Revision != 2 || g.Condition.Told != "The tenant" ||
			g.Rejected["pressure.meter_mbar"].Entry != "twenty" || len(g.Instruments) != 1 || len(g.Findings) != 1 ||
			g.ApplianceID != a.ID {
			t.Errorf("draft %+v", g)
		}
		for key, v := range r.Values {
			if !g.Values[key].Equal(v) {
				t.Errorf("%s: %q, want %q", key, g.Values[key].Text(), v.Text())
			}
		}
	}
	if lines := must(s.Records.Drafts(ctx, storetest.Actor.ID)); len(lines) != 1 ||
		lines[0].Address != a.Property.OneLine() {
		t.Errorf("drafts %+v", lines)
	}
	if lines := must(s.Records.Drafts(ctx, "somebody else")); len(lines) != 0 {
		t.Errorf("drafts of somebody else %+v", lines)
	}
}

func TestStaleSaveKeepsBoth(t *testing.T) {
	s, a := withAppliance(t)
	r := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-24")
	mine, theirs := must(s.Records.Record(ctx, r.ID)), must(s.Records.Record(ctx, r.ID))
	theirs.Values.Put(records.StandingMbar.Field, "21.0")
	mine.Values.Put(records.StandingMbar.Field, "22.0")
	must(s.Records.SaveDraft(ctx, storetest.Actor, theirs, 1))
	for range 2 { // sent twice, kept once
		_, err := s.Records.SaveDraft(ctx, storetest.Actor, mine, 1)
		var stale *store.StaleError
		if !errors.As(err, &stale) || stale.Current.Values[records.StandingMbar.Key].Text() != "21.0" ||
			stale.KeptID == "" {
			t.Fatalf("stale save: %v", err)
		}
		wantKind(t, err, records.Conflict)
	}
	kept := must(s.Records.KeptVersions(ctx, r.ID))
	if len(kept) != 1 || kept[0].Why != "refused" || kept[0].Record.Values[records.StandingMbar.Key].Text() != "22.0" {
		t.Errorf("kept %+v", kept)
	}
	// The same save again, as after a lost answer, is no conflict.
	if again := must(s.Records.SaveDraft(ctx, storetest.Actor, theirs, 1)); again.Revision != 2 {
		t.Errorf("saved again at revision %d", again.Revision)
	}
	// After the issue, what arrives late is kept as well.
	mustIssue(t, s, r.ID, 2)
	late := must(s.Records.Record(ctx, r.ID))
	late.Values.Put(records.StandingMbar.Field, "23.0")
	_, err := s.Records.SaveDraft(ctx, storetest.Actor, late, 2)
	wantKind(t, err, records.Conflict)
	if kept := must(s.Records.KeptVersions(ctx, r.ID)); len(kept) != 2 {
		t.Errorf("kept %+v", kept)
	}
	if got := must(s.Records.Record(ctx, r.ID)); got.Values[records.StandingMbar.Key].Text() != "21.0" {
		t.Errorf("the issued record changed: %+v", got.Values)
	}
}

func TestDraftRefusals(t *testing.T) {
	s, a := withAppliance(t)
	start := func(change func(*records.Record)) error {
		d := storetest.Draft(a.ID, records.Service, "2026-11-24")
		change(d)
		_, err := s.Records.StartDraft(ctx, storetest.Actor, d)
		return err
	}
	wantKind(t, start(func(d *records.Record) { d.ApplianceID = "none" }), records.NotFound)
	wantKind(t, start(func(d *records.Record) { d.Replaces = "2020-00001" }), records.NotFound)
	wantKind(t, start(func(d *records.Record) { d.ID = "../etc" }), records.Invalid)
	wantKind(t, start(func(d *records.Record) {
		d.AmendReason = strings.Repeat("x", records.MaxDocument)
	}), records.Invalid)
	chosen := func(d *records.Record) { d.ID = "phone-1" }
	if err := errors.Join(start(chosen), start(chosen)); err != nil {
		t.Errorf("starting the same draft twice: %v", err)
	}
	if lines := must(s.Records.History(ctx, a.ID)); len(lines) != 1 {
		t.Errorf("history %+v", lines)
	}
	_, err := s.Records.StartDraft(ctx, records.Actor{ID: "p-2"}, &records.Record{ID: "phone-1", ApplianceID: a.ID})
	wantKind(t, err, records.Conflict)
	_, err = s.Records.SaveDraft(ctx, storetest.Actor, &records.Record{ID: "none"}, 1)
	wantKind(t, err, records.NotFound)
	wantKind(t, s.Records.DiscardDraft(ctx, storetest.Actor, "phone-1", " "), records.Invalid)
	if err := s.Records.DiscardDraft(ctx, storetest.Actor, "phone-1", "started by mistake"); err != nil {
		t.Error(err)
	}
	_, err = s.Records.Record(ctx, "phone-1")
	wantKind(t, err, records.NotFound)
	if kept := must(s.Records.KeptVersions(ctx, "phone-1")); len(kept) != 1 || kept[0].Why != "discarded" {
		t.Errorf("kept %+v", kept)
	}
	row := storetest.MustIssue(t, s, a.ID, records.Service, "2026-11-24")
	wantKind(t, s.Records.DiscardDraft(ctx, storetest.Actor, row.ID, "no"), records.Conflict)
}
