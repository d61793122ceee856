package rules_test

import (
	"math"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"

	"pgregory.net/rapid"
)

// statedPair is a limit that the manufacturer may state, the reading it is
// for, and whether it is the highest or the lowest allowed.
type statedPair struct {
	rule            string
	stated, reading records.NumberField
	highest         bool
	changes         string
}

func statedPairs() []statedPair {
	outdoors := "water.condensate_outside=no"
	return []statedPair{
		{rule: "pressure.appliance", stated: records.StatedInletMinMbar, reading: records.ApplianceMbar},
		{rule: "pressure.appliance", stated: records.StatedInletMaxMbar, reading: records.ApplianceMbar, highest: true},
		{rule: "combustion.max_co", stated: records.StatedCOMaxPPM, reading: records.COMaxPPM, highest: true},
		{rule: "combustion.min_co", stated: records.StatedCOMaxPPM, reading: records.COMinPPM, highest: true},
		{rule: "combustion.max_co2", stated: records.StatedCO2MaxRateLow, reading: records.CO2MaxPct},
		{rule: "combustion.max_co2", stated: records.StatedCO2MaxRateHigh, reading: records.CO2MaxPct, highest: true},
		{rule: "combustion.min_co2", stated: records.StatedCO2MinRateLow, reading: records.CO2MinPct},
		{rule: "combustion.min_co2", stated: records.StatedCO2MinRateHigh, reading: records.CO2MinPct, highest: true},
		{rule: "flue.fall", stated: records.StatedFlueFallMinMM, reading: records.FlueFallMM},
		{rule: "flue.length", stated: records.StatedFlueLengthMaxM, reading: records.FlueLengthM, highest: true,
			changes: "flue.bends="},
		{rule: "water.vessel_size", stated: records.VesselStatedLitres, reading: records.VesselLitres},
		{rule: "water.condensate_size", stated: records.CondensateStatedMM, reading: records.CondensateMM,
			changes: outdoors},
		{rule: "water.condensate_fall", stated: records.CondensateStatedFall, reading: records.CondensateFall,
			changes: outdoors},
		{rule: "electrical.fuse", stated: records.FuseStatedA, reading: records.FuseA, highest: true},
		{rule: "tightness.drop", stated: records.StatedDropMbar, reading: records.DropMbar, highest: true,
			changes: "tightness.supply=medium; tightness.stated_drop_source=Invented procedure"},
	}
}

func (p statedPair) record(t testing.TB) *records.Record {
	t.Helper()
	r, _, err := ruleCase{base: "unlimited", changes: p.changes + "; appliance.stated_document=Invented manual"}.build()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func put(r *records.Record, f records.NumberField, x float64) {
	r.Values.Put(f.Field, records.FormatNumber(min(max(x, f.Min), f.Max), f.Decimals))
}

// A reading exactly at what the manufacturer states is inside and, where it
// was measured, is said to be at the limit; a step beyond it is outside; the limit shown is the stated
// one, with the document it comes from.
func TestStatedLimitsDecide(t *testing.T) {
	for _, p := range statedPairs() {
		r := p.record(t)
		now, _ := r.Values.Number(p.reading)
		at := now.Value
		put(r, p.stated, at)
		f, _ := findingOf(rules.Evaluate(r, records.Facts{}), p.rule)
		if f.Outcome != records.Inside || f.AtLimit == notMeasured[p.rule] {
			t.Errorf("%s at the stated %v: %s, at the limit %v (%s)", p.rule, at, f.Outcome, f.AtLimit, f.Reason)
			continue
		}
		manual := p.rule == "tightness.drop" || f.Limit.Rank == records.ByManufacturer &&
			f.Limit.Source.Document == "Invented manual"
		if !manual {
			t.Errorf("%s: limit %v is not the manufacturer's", p.rule, f.Limit)
		}
		step := math.Pow10(-p.reading.Decimals)
		if p.highest {
			step = -step
		}
		put(r, p.reading, at-step)
		if f, _ := findingOf(rules.Evaluate(r, records.Facts{}), p.rule); f.Outcome != records.Outside {
			t.Errorf("%s a step beyond the stated %v: %s (%s)", p.rule, at, f.Outcome, f.Reason)
		}
		put(r, p.reading, at+step)
		if f, _ := findingOf(rules.Evaluate(r, records.Facts{}), p.rule); f.Outcome != records.Inside || f.AtLimit {
			t.Errorf("%s a step inside the stated %v: %s", p.rule, at, f.Outcome)
		}
	}
}

// A tighter limit never makes a finding better, and a looser one never makes
// it worse, unless it is beyond anything that may be stated.
func TestTighterStatedLimitsAreNeverBetter(t *testing.T) {
	grade := map[records.Outcome]int{records.Inside: 0, records.Doubtful: 1, records.Outside: 2}
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(statedPairs()).Draw(t, "pair")
		r, _, err := ruleCase{base: "unlimited",
			changes: p.changes + "; appliance.stated_document=Invented manual"}.build()
		if err != nil {
			t.Fatal(err)
		}
		now, _ := r.Values.Number(p.reading)
		// Both limits near the reading, in steps of the stated field.
		tight := now.Value * rapid.Float64Range(0.7, 1.3).Draw(t, "tight")
		loose := now.Value * rapid.Float64Range(0.7, 1.3).Draw(t, "loose")
		if p.highest == (tight > loose) {
			tight, loose = loose, tight
		}
		outcome := func(limit float64) records.Outcome {
			put(r, p.stated, limit)
			f, _ := findingOf(rules.Evaluate(r, records.Facts{}), p.rule)
			if strings.Contains(f.Reason, "beyond anything") {
				return records.Exempt
			}
			return f.Outcome
		}
		a, b := outcome(tight), outcome(loose)
		ga, ok := grade[a]
		if gb, ok2 := grade[b]; ok && ok2 && ga < gb {
			t.Fatalf("%s: %s at the tight %v, %s at the loose %v", p.rule, a, tight, b, loose)
		}
	})
}

// The general limit that the manufacturer's replaced is shown beside it, where
// there is one.
func TestOutrankedLimitsAreShown(t *testing.T) {
	for rule, c := range map[string]struct{ changes, text string }{
		"pressure.appliance":    {"appliance.stated_inlet_min_mbar=18", "17 to 25 mbar"},
		"combustion.max_co":     {"appliance.stated_co_max_ppm=200", "at most 350 ppm"},
		"combustion.max_ratio":  {"appliance.stated_ratio_max=0.003", "at most 0.004"},
		"electrical.fuse":       {"electrical.fuse_stated_a=5", "at most 3 A"},
		"water.condensate_size": {"water.condensate_stated_mm=21.5", "at least 19 mm"},
		"water.condensate_fall": {"water.condensate_stated_fall_mm_per_m=50", "at least 44 mm/m"},
		"heat.input":            {"appliance.stated_input_plus_pct=3", "23.275 to 25.725 kW (rated, −5 % to +5 %)"},
	} {
		r, facts, err := ruleCase{base: "unlimited", changes: "appliance.stated_document=Invented manual; " +
			c.changes}.build()
		if err != nil {
			t.Fatal(err)
		}
		f, _ := findingOf(rules.Evaluate(r, facts), rule)
		if f.Outranked == nil || f.Outranked.Text != c.text || f.Limit.Rank != records.ByManufacturer {
			t.Errorf("%s: limit %v, outranked %v, want %q", rule, f.Limit, f.Outranked, c.text)
		}
		plain, _, _ := ruleCase{base: "unlimited"}.build()
		if f, _ := findingOf(rules.Evaluate(plain, facts), rule); f.Outranked != nil || f.Limit == nil ||
			f.Limit.Text != c.text {
			t.Errorf("%s without a stated limit: %v, outranked %v", rule, f.Limit, f.Outranked)
		}
	}
}

// Every limit that can be stated is one of the pairs above, or is named here
// with the rule that has its own test.
func TestNoStatedLimitIsForgotten(t *testing.T) {
	elsewhere := map[string]string{records.StatedRatioMax.Key: "combustion.max_ratio",
		records.StatedInputMinusPct.Key: "heat.input", records.StatedInputPlusPct.Key: "heat.input",
		records.VentStatedLowCm2.Key: "ventilation.low", records.VentStatedHighCm2.Key: "ventilation.high"}
	covered := map[string]bool{}
	for _, p := range statedPairs() {
		covered[p.stated.Key] = true
	}
	for _, f := range numberFields() {
		stated := len(f.Name()) > 7 && f.Name()[:7] == "stated_" || f.Key == records.FuseStatedA.Key ||
			f.Key == records.VesselStatedLitres.Key || f.Key == records.CondensateStatedMM.Key ||
			f.Key == records.CondensateStatedFall.Key
		if rule := elsewhere[f.Key]; rule != "" {
			if _, ok := rules.ByID(rule); !ok {
				t.Errorf("%s: there is no rule %s", f.Key, rule)
			}
			continue
		}
		if stated && !covered[f.Key] {
			t.Errorf("%s has no test of its limit", f.Key)
		}
	}
}
