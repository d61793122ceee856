package store_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

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
