package rules_test

import (
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// The tables that the owner may enter are exactly those that change a finding:
// one that is listed and read by no rule would be entered for nothing, one that
// is read and not listed could never be entered. The bands are invented.
func TestOwnersTablesAreThoseThatARuleReads(t *testing.T) {
	day := map[string]records.Date{records.Edition3: records.MustDate("2026-02-02"),
		records.Edition4: records.MustDate("2026-11-25")}
	judged := func(edition, fuel string, f records.Facts) records.Outcome {
		r := rules.Sample()
		r.WorkDate = day[edition]
		r.Values.Put(records.TightnessEdition.Field, edition)
		r.Values.Put(records.ApplianceFuel.Field, fuel)
		r.Values.Put(records.TightnessSituation.Field, records.SituationConnected)
		r.Values.Put(records.DropMbar.Field, "2")
		found, ok := findingOf(rules.Evaluate(r, f), "tightness.drop")
		if !ok {
			t.Fatal("the drop is not judged")
		}
		return found.Outcome
	}
	read := 0
	for _, edition := range records.TightnessEdition.Choices {
		for _, fuel := range records.ApplianceFuel.Choices {
			b := records.DropBands{Edition: edition.Code, Fuel: fuel.Code, Clause: "invented", EnteredBy: "nobody",
				Bands: []records.DropBand{{UpToM3: 0.035, DropMbar: 3}}}
			without := judged(edition.Code, fuel.Code, records.Facts{})
			with := judged(edition.Code, fuel.Code, records.Facts{DropBands: []records.DropBands{b}})
			if b.Used() != (with != without) {
				t.Errorf("%s, %s: listed %v; %s without the table, %s with it", edition.Code, fuel.Code, b.Used(),
					without,
					with)
			}
			if _, err := b.Checked(); (err == nil) != b.Used() {
				t.Errorf("%s, %s: listed %v, checked: %v", edition.Code, fuel.Code, b.Used(), err)
			}
			if with != without {
				read++
			}
		}
	}
	if read == 0 || read != len(records.OwnersTables) {
		t.Errorf("%d tables are read, %d are listed", read, len(records.OwnersTables))
	}
}

// A stored table that would not be accepted today is never used: whatever the
// drop, the finding is missing and says why. (Before there was one check, a
// drop of 12 mbar was inside a table with 40 typed for 4.0.)
func TestUnfitTableIsNeverUsed(t *testing.T) {
	for name, bands := range map[string][]records.DropBand{
		"40 typed for 4.0":     {{UpToM3: 0.035, DropMbar: 40}},
		"40 in the first band": {{UpToM3: 0.01, DropMbar: 40}, {UpToM3: 0.035, DropMbar: 1}},
		"out of order":         {{UpToM3: 0.035, DropMbar: 4}, {UpToM3: 0.01, DropMbar: 2}},
		"rising drops":         {{UpToM3: 0.01, DropMbar: 1}, {UpToM3: 0.035, DropMbar: 4}},
		"litres":               {{UpToM3: 35, DropMbar: 4}},
		"no bands":             nil,
	} {
		for _, drop := range []string{"0.5", "1", "3", "12"} {
			r := rules.Sample()
			r.Values.Put(records.TightnessSituation.Field, records.SituationConnected)
			r.Values.Put(records.DropMbar.Field, drop)
			f := records.Facts{DropBands: []records.DropBands{{Edition: records.Edition4, Fuel: records.FuelNatural,
				Clause: "invented", EnteredBy: "nobody", Bands: bands}}}
			got, _ := findingOf(rules.Evaluate(r, f), "tightness.drop")
			if got.Outcome == records.Inside && (drop != "0.5" || bands != nil) {
				t.Errorf("%s: a drop of %s mbar is inside", name, drop)
			}
			if bands != nil && (got.Outcome != records.Missing || got.Reason == "") {
				t.Errorf("%s: a drop of %s mbar is %s: %q", name, drop, got.Outcome, got.Reason)
			}
		}
	}
}
