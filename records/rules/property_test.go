package rules_test

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"

	"pgregory.net/rapid"
)

// entryOf draws an entry that the field accepts.
func entryOf(t *rapid.T, f *records.Field) string {
	switch f.Kind {
	case records.NumberKind:
		scale := math.Pow10(f.Decimals)
		// Half of the numbers lie where edges do, at the low end.
		high := f.Max
		if rapid.Bool().Draw(t, "small") {
			high = min(f.Max, max(f.Min, 0)+10)
		}
		n := rapid.Int64Range(int64(math.Ceil(f.Min*scale)), int64(math.Floor(high*scale))).Draw(t, f.Key)
		return records.FormatNumber(float64(n)/scale, f.Decimals)
	case records.ChoiceKind:
		return rapid.SampledFrom(f.Choices).Draw(t, f.Key).Code
	case records.FlagKind:
		return rapid.SampledFrom([]string{"yes", "no"}).Draw(t, f.Key)
	case records.ClockKind:
		return fmt.Sprintf("%02d:%02d", rapid.IntRange(0, 23).Draw(t, "h"), rapid.IntRange(0, 59).Draw(t, "m"))
	case records.DateKind:
		return records.MustDate("2026-11-20").AddDays(rapid.IntRange(-800, 4000).Draw(t, f.Key)).String()
	case records.StrokesKind:
		return "M5,50 L20,10"
	case records.InstrumentKind:
		return rapid.SampledFrom([]string{"gauge-1", "analyser-1", "lost-9"}).Draw(t, f.Key)
	}
	return rapid.StringMatching(`[A-Za-z0-9 ,.%<&’°é-]{0,30}`).Draw(t, f.Key)
}

func valueOf(t *rapid.T, f *records.Field) records.Value {
	if f.Kind != records.RowsKind {
		v, err := f.Parse(entryOf(t, f))
		if err != nil {
			t.Fatalf("drew an entry that %s refuses: %v", f.Key, err)
		}
		return v
	}
	rows := make([]map[string]string, rapid.IntRange(0, 4).Draw(t, f.Key+" rows"))
	for i := range rows {
		rows[i] = map[string]string{}
		for _, col := range f.Columns {
			if rapid.IntRange(0, 3).Draw(t, "there") > 0 {
				rows[i][col.Key] = entryOf(t, col)
			}
		}
	}
	v, errs := records.RowsField{Field: f}.ParseRows(rows)
	if len(errs) > 0 {
		t.Fatalf("drew rows that %s refuses: %v", f.Key, errs)
	}
	return v
}

func allFields() []*records.Field {
	var out []*records.Field
	for _, s := range records.Sections {
		out = append(out, s.Fields()...)
	}
	return out
}

// recordOf draws a record: the sample or a blank one, with any fields put,
// changed or taken away, any purpose, and a date round the editions.
func recordOf(t *rapid.T) (*records.Record, records.Facts) {
	r := rules.Sample()
	if rapid.Bool().Draw(t, "blank") {
		r = &records.Record{Values: records.Values{}}
	}
	r.Purpose = rapid.SampledFrom(records.Purposes).Draw(t, "purpose")
	if rapid.IntRange(0, 9).Draw(t, "dated") > 0 {
		r.WorkDate = records.MustDate("2017-06-01").AddDays(rapid.IntRange(0, 4000).Draw(t, "day"))
	}
	for _, f := range allFields() {
		switch rapid.IntRange(0, 3).Draw(t, "change") {
		case 0:
			delete(r.Values, f.Key)
		case 1:
			if v := valueOf(t, f); v.Present() {
				r.Values[f.Key] = v
			}
		}
	}
	return r, factsOf(t, r)
}

func factsOf(t *rapid.T, r *records.Record) records.Facts {
	var f records.Facts
	if rapid.Bool().Draw(t, "earlier") {
		f.Earlier = r.Values.Clone()
	}
	if rapid.Bool().Draw(t, "bands") {
		// Invented bands.
		f.DropBands = []records.DropBands{{Edition: rapid.SampledFrom(records.OwnersTables).Draw(t, "table").Edition,
			Fuel: records.FuelNatural, Clause: "invented",
			EnteredBy: "nobody",
			Bands: []records.DropBand{{UpToM3: 0.01, DropMbar: 6}, {UpToM3: 0.02, DropMbar: 3},
				{UpToM3: 0.035, DropMbar: 0.5}}}}
	}
	return f
}

// Any valid values, any part of them missing: every rule gives one finding,
// nothing panics, and no NaN or infinity gets out.
func TestAnyRecordGetsWholeFindings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, facts := recordOf(t)
		before := r.Values.Clone()
		fs := rules.Evaluate(r, facts)
		wanted := 0
		for _, rule := range rules.All() {
			if !rule.For(r.Purpose) {
				continue
			}
			if wanted >= len(fs) || fs[wanted].Rule != rule.ID {
				t.Fatalf("finding %d is not of %s", wanted, rule.ID)
			}
			wholeFinding(t, fs[wanted])
			wanted++
		}
		if wanted != len(fs) {
			t.Fatalf("%d findings for %d rules", len(fs), wanted)
		}
		if !reflect.DeepEqual(before, r.Values) {
			t.Fatal("evaluation changed the record")
		}
	})
}

func wholeFinding(t *rapid.T, f records.Finding) {
	raw, err := json.Marshal(f)
	if err != nil {
		t.Fatalf("%s: %v", f.Rule, err)
	}
	if s := string(raw); strings.Contains(s, "NaN") || strings.Contains(s, "Inf\"") || strings.Contains(s, "–") ||
		strings.Contains(s, "%!") {
		t.Fatalf("%s: not a number in %s", f.Rule, s)
	}
	if f.Reason == "" || f.Title == "" || f.Section == "" {
		t.Fatalf("%s: no reason, title or section: %s", f.Rule, raw)
	}
	switch f.Outcome {
	case records.Inside:
		if f.Reading == "" {
			t.Fatalf("%s: inside without a reading: %s", f.Rule, raw)
		}
	case records.Outside, records.Close:
		if f.Suggested == "" || f.Reading == "" {
			t.Fatalf("%s: %s without a suggestion or a reading: %s", f.Rule, f.Outcome, raw)
		}
	case records.Attention:
		if f.Reading == "" || f.Limit == nil || f.AtLimit {
			t.Fatalf("%s: attention without a reading or a limit: %s", f.Rule, raw)
		}
	case records.Missing, records.Doubtful, records.Exempt:
		if f.AtLimit {
			t.Fatalf("%s: at its limit but not inside: %s", f.Rule, raw)
		}
	default:
		t.Fatalf("%s: outcome %q", f.Rule, f.Outcome)
	}
	if m := f.Measured; m != nil && (m.Uncertainty <= 0 || m.Kept < 0 || m.Kept > 1 || m.Text == "" ||
		f.Outcome == records.Close && m.Decision != records.Guarded) {
		t.Fatalf("%s: measured %s", f.Rule, raw)
	}
	if f.Outcome == records.Exempt && f.Limit != nil {
		t.Fatalf("%s: exempt, yet held against something: %s", f.Rule, raw)
	}
	if f.Outranked != nil && (f.Limit == nil || f.Limit.Rank != records.ByManufacturer) {
		t.Fatalf("%s: a limit was outranked, but not by the manufacturer: %s", f.Rule, raw)
	}
}

// A blank record has nothing inside and nothing outside: blank is missing.
func TestBlankIsNeverJudged(t *testing.T) {
	for _, p := range records.Purposes {
		r := &records.Record{Purpose: p, Values: records.Values{}}
		for _, f := range rules.Evaluate(r, records.Facts{}) {
			if f.Outcome != records.Missing && f.Outcome != records.Exempt {
				t.Errorf("%s, %s: %s on a blank record", p, f.Rule, f.Outcome)
			}
		}
	}
}

// The order in which values come out of a map must not matter.
func TestFindingsDoNotDependOnMapOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, facts := recordOf(t)
		want, _ := json.Marshal(rules.Evaluate(r, facts))
		for range 3 {
			again := *r
			again.Values = r.Values.Clone()
			got, _ := json.Marshal(rules.Evaluate(&again, facts))
			if string(got) != string(want) {
				t.Fatalf("findings differ:\n%s\n%s", want, got)
			}
		}
	})
}

// worse checks that once a reading is outside, or doubtful, pushing it
// further the same way never makes it inside.
func worse(t *testing.T, rule string, field records.NumberField, up bool) {
	t.Helper()
	worseFor(t, "", rule, field, up)
}

// worseFor is worse for findings whose reason says so, of a rule that has limits
// on both sides.
func worseFor(t *testing.T, reason, rule string, field records.NumberField, up bool) {
	t.Helper()
	rapid.Check(t, func(t *rapid.T) {
		r, facts := recordOf(t)
		a, _ := valueOf(t, field.Field).Reading()
		b, _ := valueOf(t, field.Field).Reading()
		mild, bad := min(a.Value, b.Value), max(a.Value, b.Value)
		if !up {
			mild, bad = bad, mild
		}
		finding := func(x float64) records.Finding {
			r.Values.Put(field.Field, records.FormatNumber(x, field.Decimals))
			f, _ := findingOf(rules.Evaluate(r, facts), rule)
			return f
		}
		was, is := finding(mild), finding(bad)
		if (was.Outcome == records.Outside || was.Outcome == records.Doubtful) &&
			strings.Contains(was.Reason, reason) && is.Outcome == records.Inside {
			t.Fatalf("%s: %s at %v, but inside at %v", rule, was.Outcome, mild, bad)
		}
	})
}

func TestMoreDropIsNeverBetter(t *testing.T) {
	worse(t, "tightness.drop", records.DropMbar, true)
	worse(t, "tightness.pipework", records.PipeworkDropMbar, true)
	worse(t, "tightness.let_by_rise", records.LetByRiseMbar, true)
}

func TestMoreCOIsNeverBetter(t *testing.T) {
	worse(t, "combustion.max_co", records.COMaxPPM, true)
	worse(t, "combustion.max_ratio", records.COMaxPPM, true)
	worse(t, "combustion.min_ratio", records.COMinPPM, true)
	worse(t, "combustion.max_ratio", records.CO2MaxPct, false)
	worse(t, "combustion.ambient_co", records.AmbientCOPPM, true)
	worse(t, "combustion.inlet_co2", records.InletCO2Pct, true)
	worse(t, "combustion.inlet_o2", records.InletO2Pct, false)
}

func TestLongerFlueIsNeverBetter(t *testing.T) {
	worse(t, "flue.length", records.FlueLengthM, true)
	worse(t, "flue.fall", records.FlueFallMM, false)
}

func TestLessAirIsNeverBetter(t *testing.T) {
	worse(t, "ventilation.opening", records.VentOpeningCm2, false)
	worse(t, "ventilation.high", records.VentHighCm2, false)
	worse(t, "ventilation.low", records.VentLowCm2, false)
}

func TestWorseWaterIsNeverBetter(t *testing.T) {
	worse(t, "water.turbidity", records.TurbidityPPM, true)
	worse(t, "water.inhibitor", records.InhibitorLitres, false)
	worse(t, "water.scale", records.HardnessPPM, true)
	worse(t, "water.vessel_size", records.VesselLitres, false)
	worse(t, "water.condensate_size", records.CondensateMM, false)
	worse(t, "water.condensate_run", records.CondensateOutM, true)
}

func TestMoreHeatThanWasPutInIsNeverBetter(t *testing.T) {
	worseFor(t, "More heat comes out", "delivery.hot_balance", records.HotFlowL, true)
	worseFor(t, "More heat comes out", "delivery.heating_balance", records.HeatingFlowL, true)
}

// gates decide whether a whole section applies; a rule need not list them.
var gates = map[string]bool{records.ApplianceKind.Key: true, records.ApplianceFlue.Key: true,
	records.Examined.Key: true}

// A rule lists every field that can change its finding, so that a page can
// judge again just what a keystroke touches.
func TestRulesListWhatTheyRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, facts := recordOf(t)
		if r.Purpose != records.Commissioning && r.Purpose != records.Remedial {
			r.Purpose = records.Commissioning // a section left blank may be exempt elsewhere
		}
		facts.Earlier = nil
		before := rules.Evaluate(r, facts)
		for range 8 {
			f := rapid.SampledFrom(allFields()).Draw(t, "field")
			if gates[f.Key] {
				continue
			}
			if v := valueOf(t, f); v.Present() {
				r.Values[f.Key] = v
			} else {
				delete(r.Values, f.Key)
			}
			after := rules.Evaluate(r, facts)
			for i, rule := range forPurpose(r.Purpose) {
				if !reads(rule, f) && !reflect.DeepEqual(before[i], after[i]) {
					t.Fatalf("%s does not list %s, but it changed the finding:\n%+v\n%+v", rule.ID, f.Key, before[i],
						after[i])
				}
			}
			before = after
		}
	})
}

func forPurpose(p records.Purpose) []rules.Rule {
	var out []rules.Rule
	for _, r := range rules.All() {
		if r.For(p) {
			out = append(out, r)
		}
	}
	return out
}

func reads(r rules.Rule, f *records.Field) bool {
	for _, g := range r.Reads {
		if g.Key == f.Key {
			return true
		}
	}
	return false
}
