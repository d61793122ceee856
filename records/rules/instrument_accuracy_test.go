package rules_test

import (
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// A reading by an instrument that is coarser than its class decides nothing
// near its limit. The classes: the steps and margins that testdata/gas and the
// limits name; an instrument without figures of its own is of its class.
func TestCoarseInstruments(t *testing.T) {
	const gauge, analyser = "instrument.gauge-1.pressure=", "instrument.analyser-1."
	const fine, steps, within = gauge + "0.1 ± 0.2; ", gauge + "0.2 ± 0.2; ", gauge + "0.1 ± 0.3; "
	const water = "tightness.gauge_kind=water; "
	const at30 = "pressure.standing_mbar=30"
	mustJudge(t, map[string][]judged{
		"pressure.standing": {
			{changes: fine + at30, want: in}, {changes: steps + at30, want: nearby, shows: "steps of 0.2, coarser than the 0.1"},
			{changes: within + at30, want: nearby, shows: "right to ± 0.3, less sure than the ± 0.2"},
			{changes: steps + at30, want: nearby, shows: "with a finer instrument"},
			{changes: within + "pressure.standing_mbar=29", want: in},
			{changes: within + "pressure.standing_mbar=31", want: out},
			{changes: gauge + "0.1 ± 0.1; " + at30, want: in}, {changes: gauge + "0.05 ± 0.2; " + at30, want: in},
			{changes: "instrument.gauge-1.co=5 ± 50; " + at30, want: in}, // says nothing of pressure
		},
		"pressure.meter": {
			{changes: steps + "pressure.meter_mbar=18.5", want: nearby},
			{changes: steps + "pressure.meter_mbar=23", want: nearby},
			{changes: steps + "pressure.meter_mbar=20", want: in}, {changes: steps + "pressure.meter_mbar=17", want: out},
		},
		"pressure.appliance": {
			{changes: within + "pressure.appliance_mbar=18", want: nearby},
			{changes: fine + "pressure.appliance_mbar=18", want: in},
		},
		"pressure.drop": {
			{changes: steps + "pressure.appliance_mbar=19.6", want: nearby, shows: "coarser"},
			{changes: fine + "pressure.appliance_mbar=19.6", want: in},
		},
		"tightness.test_pressure": {
			{changes: steps + "tightness.test_pressure_mbar=21", want: nearby},
			{changes: water + gauge + "0.5 ± 0; tightness.test_pressure_mbar=21", want: in},
			{changes: water + gauge + "1 ± 0; tightness.test_pressure_mbar=21", want: nearby, shows: "coarser than the 0.5"},
		},
		"tightness.let_by_pressure": {{changes: steps + "tightness.let_by_pressure_mbar=10", want: nearby},
			{changes: fine + "tightness.let_by_pressure_mbar=10", want: in}},
		"tightness.let_by_rise": {{changes: steps + "tightness.let_by_rise_mbar=0.2", want: nearby},
			{changes: fine + "tightness.let_by_rise_mbar=0.2", want: in}},
		"tightness.drop": {
			{changes: steps + "tightness.situation=new; tightness.drop_mbar=0.2", want: nearby},
			{changes: fine + "tightness.situation=new; tightness.drop_mbar=0.2", want: in},
			// a drop is the difference of two readings: its margin cancels, its steps do not
			{changes: gauge + "0.1 ± 3; tightness.situation=new; tightness.drop_mbar=0.6", want: out},
		},
		"tightness.pipework": {{changes: steps + "tightness.drop_mbar=0.6; tightness.pipework_drop_mbar=0.2", want: nearby},
			{changes: fine + "tightness.drop_mbar=0.6; tightness.pipework_drop_mbar=0.2", want: in}},
		"combustion.max_co": { // 350 ppm; class: steps of 1 ppm, ± 12 ppm or 10 %
			{changes: analyser + "co=1 ± 12 or 10 %; combustion.max_co_ppm=350", want: in},
			{changes: analyser + "co=2 ± 12 or 10 %; combustion.max_co_ppm=350", want: nearby, shows: "steps of 2"},
			{changes: analyser + "co=1 ± 13 or 11 %; combustion.max_co_ppm=350", want: nearby, shows: "± 38.5, less sure than the ± 35"},
			{changes: analyser + "co=1 ± 20 or 5 %; combustion.max_co_ppm=350", want: in}, // 20 is less than 35
			{changes: analyser + "co=1 ± 13 or 11 %; combustion.max_co_ppm=200", want: in},
			{changes: analyser + "co=1 ± 60; combustion.max_co_ppm=320", want: nearby, shows: "± 60, less sure than the ± 32"},
			{changes: analyser + "co=1 ± 13 or 11 %; combustion.max_co_ppm=500", want: out},
		},
		"combustion.min_co": {{changes: analyser + "co=2 ± 12 or 10 %; combustion.min_co_ppm=350", want: nearby}},
		"combustion.max_co2": { // the sample's manufacturer allows 8.7 to 9.5 %
			{changes: analyser + "co2=0.1 ± 0.3; combustion.max_co2_pct=9.5", want: in},
			{changes: analyser + "co2=0.2 ± 0.3; combustion.max_co2_pct=9.5", want: nearby},
		},
		"combustion.min_co2":  {{changes: analyser + "co2=0.2 ± 0.3; combustion.min_co2_pct=9.1", want: nearby}},
		"combustion.inlet_o2": {{changes: analyser + "oxygen=0.2 ± 0.4; combustion.inlet_o2_pct=20.6", want: nearby}},
		"combustion.ambient_co": {
			{changes: analyser + "co=2 ± 3 or 5 %; combustion.ambient_co_ppm=10", want: nearby, shows: "coarser than the 1"},
		},
	})
}

// A reading shows what it is known to: ± of the instrument's class or its own
// figure, the margin as a rectangle and the step as one (GUM, JCGM 100, 4.3.7),
// twice the standard uncertainty.
func TestUncertaintyShown(t *testing.T) {
	for _, c := range []struct {
		rule, changes string
		want          float64
	}{
		{"pressure.standing", "", 0.24},                                      // 2 √(0.2²/3 + 0.1²/12)
		{"pressure.standing", "instrument.gauge-1.pressure=0.1 ± 0.1", 0.13}, // 2 √(0.1²/3 + 0.1²/12)
		{"pressure.drop", "", 0.08},                                          // 2 × 0.1/√6
		{"combustion.max_co", "combustion.max_co_ppm=100", 14},               // 2 √(12²/3 + 1/12)
		{"combustion.max_co", "combustion.max_co_ppm=200", 23},               // 10 %: 2 √(20²/3 + 1/12)
		{"combustion.max_co2", "", 0.7},                                      // 7 % of 9.1: 2 √(0.637²/3 + 0.01/12)
		{"tightness.drop", "tightness.situation=new", 0.08},
		{"tightness.drop", "tightness.situation=new; tightness.gauge_kind=water", 0.4}, // 2 × 0.5/√6
	} {
		r, facts, err := ruleCase{base: "clear", changes: c.changes}.build()
		if err != nil {
			t.Errorf("%s: %v", c.changes, err)
			continue
		}
		f, _ := findingOf(rules.Evaluate(r, facts), c.rule)
		if f.Measured == nil || f.Measured.Decision != records.AsRead || f.Measured.Uncertainty < 0.9*c.want ||
			f.Measured.Uncertainty > 1.1*c.want {
			t.Errorf("%s with %q: %+v, want ± %v", c.rule, c.changes, f.Measured, c.want)
		}
	}
}
