package rules_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"

	"pgregory.net/rapid"
)

// Judging twice, or after writing the record out and reading it back, gives
// the same findings: nothing is kept from one to the next.
func TestJudgingIsRepeatable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, facts := recordOf(t)
		first := rules.Evaluate(r, facts)
		if again := rules.Evaluate(r, facts); !reflect.DeepEqual(first, again) {
			t.Fatal("judging again gives other findings")
		}
		raw, err := json.Marshal(r.Values)
		if err != nil {
			t.Fatal(err)
		}
		back := *r
		back.Values = nil
		if err := json.Unmarshal(raw, &back.Values); err != nil {
			t.Fatal(err)
		}
		for i, f := range rules.Evaluate(&back, facts) {
			if !reflect.DeepEqual(first[i], f) {
				t.Fatalf("%s differs after the values were written and read:\n%+v\n%+v", f.Rule, first[i], f)
			}
		}
	})
}

// verdictsOf is the outcomes by rule.
func verdictsOf(r *records.Record, f records.Facts) map[string]records.Outcome {
	out := map[string]records.Outcome{}
	for _, found := range rules.Evaluate(r, f) {
		out[found.Rule] = found.Outcome
	}
	return out
}

// differ names the rules whose outcomes differ.
func differ(a, b map[string]records.Outcome) string {
	var names []string
	for id := range a {
		if a[id] != b[id] {
			names = append(names, fmt.Sprintf("%s: %s and %s", id, a[id], b[id]))
		}
	}
	slices.Sort(names)
	return strings.Join(names, "; ")
}

// rowsOf draws rows that are whole, for a field of rows.
func rowsOf(t *rapid.T, columns map[string][]string, least int) []map[string]string {
	rows := make([]map[string]string, rapid.IntRange(least, 5).Draw(t, "rows"))
	for i := range rows {
		rows[i] = map[string]string{}
		for name, choices := range columns {
			rows[i][name] = rapid.SampledFrom(choices).Draw(t, name)
		}
	}
	return rows
}

// The order in which pipe runs, bends and distances were entered decides
// nothing.
func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	tables := []struct {
		field   records.RowsField
		columns map[string][]string
	}{
		{records.TightnessRuns, map[string][]string{"pipe": {"copper-15", "copper-22", "steel-25", "pe-32"},
			"length_m": {"0.50", "3.00", "7.25"}, "feeds": {"yes", "no"}, "elbows": {"0", "2"}, "tees": {"0", "1"}}},
		{records.FlueBends, map[string][]string{"angle_deg": {"45", "90"}, "count": {"1", "2"},
			"equivalent_m": {"0.5", "1.0", "2.0"}}},
		{records.FlueDistances, map[string][]string{"position": {"below-opening", "below-gutter", "facing-terminal",
			"above-ground"}, "distance_mm": {"74", "75", "299", "300", "1200"}}},
	}
	rapid.Check(t, func(t *rapid.T) {
		table := rapid.SampledFrom(tables).Draw(t, "table")
		rows := rowsOf(t, table.columns, 2)
		r := rules.Sample()
		r.Values.PutRows(table.field, rows...)
		forwards := verdictsOf(r, records.Facts{})
		slices.Reverse(rows)
		r.Values.PutRows(table.field, rows...)
		if d := differ(forwards, verdictsOf(r, records.Facts{})); d != "" {
			t.Fatalf("%s backwards: %s", table.field.Key, d)
		}
	})
}

// A pipe run entered as two halves is the same pipe.
func TestARunInTwoHalvesIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		row := map[string]string{"pipe": rapid.SampledFrom([]string{"copper-15", "copper-22", "copper-28"}).Draw(t,
			"pipe"),
			"feeds": "yes"}
		tenths := rapid.IntRange(1, 100).Draw(t, "half in tenths of a metre")
		r := rules.Sample()
		row["length_m"] = fmt.Sprintf("%.1f", float64(2*tenths)/10)
		r.Values.PutRows(records.TightnessRuns, row)
		whole := outcomes(rules.Evaluate(r, records.Facts{}))
		row["length_m"] = fmt.Sprintf("%.1f", float64(tenths)/10)
		r.Values.PutRows(records.TightnessRuns, row, row)
		halves := outcomes(rules.Evaluate(r, records.Facts{}))
		for id, f := range whole {
			if halves[id].Outcome != f.Outcome || halves[id].Reading != f.Reading {
				t.Fatalf("%s: %s %s whole, %s %s in halves", id, f.Outcome, f.Reading, halves[id].Outcome,
					halves[id].Reading)
			}
		}
	})
}

// A rated input entered as gross, or as the net figure of the same heat, gives
// the same findings, rounding of the data plate aside.
func TestNetAndGrossDataPlatesAgree(t *testing.T) {
	r := rules.Sample()
	net := verdictsOf(r, records.Facts{})
	r.Values.Put(records.RatedInputBasis.Field, "gross")
	r.Values.Put(records.RatedInputKW.Field, "27.21") // 24.5 × 1.1107
	if d := differ(net, verdictsOf(r, records.Facts{})); d != "" {
		t.Error(d)
	}
}

// Zeros after the last decimal change no outcome: 20.4 is 20.40.
func TestTrailingZerosDecideNothing(t *testing.T) {
	// The weight of the meter's last digit, and whether figures were copied, go
	// by the decimals shown; that is their point.
	byDecimals := map[string]bool{"heat.meter_runs": true, "heat.input": true}
	r := rules.Sample()
	plain := verdictsOf(r, records.Facts{})
	for _, f := range numberFields() {
		reading, ok := r.Values[f.Key].Reading()
		if !ok || reading.Decimals >= f.Decimals {
			continue
		}
		longer := rules.Sample()
		longer.Values.Put(f, records.FormatNumber(reading.Value, f.Decimals))
		for id, outcome := range verdictsOf(longer, records.Facts{}) {
			if outcome != plain[id] && !byDecimals[id] {
				t.Errorf("%s with all its decimals: %s is %s, not %s", f.Key, id, outcome, plain[id])
			}
		}
	}
}

// What nobody reads decides nothing: names, addresses and contacts of the
// record leave every finding as it was, except those on the engineer.
func TestNamesDecideNothing(t *testing.T) {
	r := rules.Sample()
	before := rules.Evaluate(r, records.Facts{})
	r.Property.Line1, r.Property.Town, r.Property.Postcode = "1 Otter Lane", "Fennick", "AA1 1AA"
	r.Contact.Name, r.Contact.Email, r.Contact.Phone = "Someone Else", "", ""
	r.Firm.Name, r.Firm.Address, r.Firm.Registration = "Another Firm", "", ""
	r.ID, r.ApplianceID, r.Stage = "other", "other", records.Draft
	if after := rules.Evaluate(r, records.Facts{}); !reflect.DeepEqual(before, after) {
		t.Error("a name changed a finding")
	}
	r.Engineer.Name = "Robin Field"
	var changed []string
	for i, f := range rules.Evaluate(r, records.Facts{}) {
		if !reflect.DeepEqual(before[i], f) {
			changed = append(changed, f.Rule)
		}
	}
	if !slices.Equal(changed, []string{"handover.competence", "handover.declared"}) {
		t.Errorf("the engineer's name changed %v", changed)
	}
}

// The nation decides only what its own law or guidance asks.
func TestTheNationDecidesOnlyItsOwnRules(t *testing.T) {
	byNation := map[string]bool{"ventilation.alarm": true, "ventilation.alarm_place": true,
		"ventilation.alarm_power": true, "ventilation.opening": true, "delivery.design_flow": true,
		"electrical.time_control": true, "electrical.room_control": true, "electrical.interlock": true,
		"electrical.cylinder_control": true, "electrical.extra_measure": true}
	for _, base := range []string{"clear", "service", "landlord", "fire", "cooker", "flueless"} {
		r, facts, err := ruleCase{base: base}.build()
		if err != nil {
			t.Fatal(err)
		}
		want := outcomes(rules.Evaluate(r, facts))
		for _, nation := range records.Nations {
			r.Property.Nation = nation
			for id, f := range outcomes(rules.Evaluate(r, facts)) {
				if !byNation[id] && !reflect.DeepEqual(want[id], f) {
					t.Errorf("%s in %s: %s changed", base, nation, id)
				}
			}
		}
	}
}
