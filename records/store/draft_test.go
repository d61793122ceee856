package store_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
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

// older returns the lines of a register as an older version may have written
// them: with fields, codes and lengths that today's entry refuses, in an
// address, an appliance, a draft and a permissible-drop table.
func older(t *testing.T) (lines, draft string) {
	t.Helper()
	ctx, s := context.Background(), storetest.MustOpen(t)
	a := storetest.MustAppliance(t, s, 1)
	storetest.MustIssue(t, s, a.ID, records.Commissioning, "2025-11-02", storetest.ServiceDue("2026-11-02"))
	d := storetest.MustDraft(t, s, a.ID, records.Service, "2026-11-20")
	if err := s.Settings.SaveDropBands(ctx, storetest.Actor, records.DropBands{Edition: records.Edition4,
		Fuel: records.FuelNatural, Clause: "c", EnteredBy: "x", Bands: []records.DropBand{{UpToM3: 0.01,
			DropMbar: 4}}}); err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, line := range strings.SplitAfter(string(export(t, s)), "\n") {
		swap := func(from, to string) {
			if !strings.Contains(line, from) {
				t.Fatalf("no %s in %s", from, line)
			}
			line = strings.Replace(line, from, to, 1)
		}
		switch {
		case strings.HasPrefix(line, `{"line":"property"`):
			swap(`"town":"`, `"town":"`+strings.Repeat("x", 200))
			swap(`"nation":"England"`, `"nation":"Cornwall"`)
		case strings.HasPrefix(line, `{"line":"appliance"`):
			swap(`"fuel":"natural-gas"`, `"fuel":"town-gas","old_plate":"A1"`)
		case strings.HasPrefix(line, `{"line":"drop bands"`): // no rule reads it
			line = strings.ReplaceAll(line, records.Edition4, records.Edition3)
			swap(`"drop_mbar":4`, `"drop_mbar":40`)
		case strings.HasPrefix(line, `{"line":"record"`) && strings.Contains(line, d.ID):
			swap(`"sections":{`, `"sections":{"chimney":{"height_m":6.50},"heat":{"seconds":4000},`)
		}
		out = append(out, line)
	}
	return strings.Join(out, ""), d.ID
}

// A register of an older version is taken as it is, and goes out again as the
// same bytes.
func TestRestoreOfAnOlderVersion(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	was, draft := older(t)
	s := storetest.MustOpen(t)
	if _, err := s.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{Source: "old"},
		strings.NewReader(was)); err != nil {
		t.Fatal(err)
	}
	if is := export(t, s); !bytes.Equal(is, []byte(was)) {
		t.Errorf("it came back otherwise:\n%s", firstDifference([]byte(was), is))
	}
	if err := s.Audit.Proved(ctx); err != nil {
		t.Error(err)
	}
	r, err := s.Records.Record(ctx, draft)
	if err != nil {
		t.Fatal(err)
	}
	a, err := s.Register.Appliance(ctx, r.ApplianceID)
	if err != nil || a.Values.Choice(records.ApplianceFuel) != "town-gas" ||
		a.Values["appliance.old_plate"].Text() != "A1" || a.Property.Nation != "Cornwall" {
		t.Errorf("%+v, %v", a, err)
	}
	tables, err := s.Settings.DropBands(ctx)
	if err != nil || len(tables) != 1 || tables[0].Used() || tables[0].Bands[0].DropMbar != 40 {
		t.Errorf("%+v, %v", tables, err)
	}
}

// A draft of an older version goes on: what no longer fits waits beside it, is
// saved beside it, stands in the way of issuing by name, and is gone once it
// has been left out.
func TestDraftOfAnOlderVersion(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	was, id := older(t)
	s := storetest.MustOpen(t)
	if _, err := s.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{}, strings.NewReader(was)); err != nil {
		t.Fatal(err)
	}
	waits := func(r *records.Record) {
		t.Helper()
		if len(r.Rejected) != 2 || r.Rejected["heat.seconds"].Entry != "4000" ||
			r.Rejected["chimney.height_m"].Entry != "6.50" || r.Values["heat.seconds"].Present() {
			t.Fatalf("rejected %v", r.Rejected)
		}
	}
	r := must(s.Records.Record(ctx, id))
	waits(r)
	_, _, err := s.Records.Issue(ctx, storetest.Actor, id, r.Revision, store.Issuer{
		Plan: func(store.Basis) (store.Plan, error) {
			t.Error("planned all the same")
			return store.Plan{}, nil
		}})
	if records.KindOf(err) != records.NotReady || !strings.Contains(err.Error(), "“4000” was not accepted") ||
		!strings.Contains(err.Error(), "Chimney: height m") {
		t.Errorf("issuing: %v", err)
	}
	waits(must(s.Records.SaveDraft(ctx, storetest.Actor, r, r.Revision)))
	r = must(s.Records.Record(ctx, id))
	waits(r)
	delete(r.Rejected, "chimney.height_m")
	delete(r.Rejected, "heat.seconds")
	r.Values.Put(records.HeatSeconds.Field, "61")
	must(s.Records.SaveDraft(ctx, storetest.Actor, r, r.Revision))
	if r = must(s.Records.Record(ctx, id)); len(r.Rejected) != 0 || r.Values[records.HeatSeconds.Key].Text() != "61" {
		t.Errorf("left out, it came back: %v", r.Rejected)
	}
	// A value that no field takes cannot be put in from here either.
	r.Values["chimney.height_m"] = r.Values[records.HeatSeconds.Key]
	if _, err := s.Records.SaveDraft(ctx, storetest.Actor, r, r.Revision); records.KindOf(err) != records.Invalid {
		t.Errorf("an unknown field was saved: %v", err)
	}
}

// A new draft of an appliance of an older version starts with what still fits;
// correcting the appliance keeps what no form shows.
func TestApplianceOfAnOlderVersion(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	was, id := older(t)
	s := storetest.MustOpen(t)
	ours := func(seal records.Seal, canonical []byte) bool {
		return seal.Holds(canonical, storetest.Key.Public().(ed25519.PublicKey))
	}
	if _, err := s.Bulk.Restore(ctx, storetest.Actor, store.RestoreOptions{Seals: ours},
		strings.NewReader(was)); err != nil {
		t.Fatal(err)
	}
	appliance := must(s.Records.Record(ctx, id)).ApplianceID
	next := must(s.Records.StartDraft(ctx, storetest.Actor, &records.Record{ApplianceID: appliance,
		Purpose:  records.Remedial,
		WorkDate: records.MustDate("2026-11-21")}))
	if next.Rejected["appliance.fuel"].Entry != "town-gas" || next.Rejected["appliance.old_plate"].Entry != "A1" ||
		next.Values.Choice(records.ApplianceFuel) != "" || next.Values.Text(records.ApplianceMake) == "" {
		t.Errorf("%+v, rejected %v", next.Values, next.Rejected)
	}
	vs := storetest.ApplianceValues(1)
	a := must(s.Register.UpdateAppliance(ctx, storetest.Actor, appliance, vs))
	if a.Values["appliance.old_plate"].Text() != "A1" || a.Values.Choice(records.ApplianceFuel) != records.FuelNatural {
		t.Errorf("%v", a.Values)
	}
}
