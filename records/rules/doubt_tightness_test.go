package rules_test

import "testing"

// Pressures of the test against each other. A gauge is read to 0.2 mbar and a
// regulator locks up within 1 mbar: common practice, no published source. Let-by
// at 7 to 10 mbar, test at 20 to 21 mbar: IGEM/UP/1B.
func TestDoubtsOfTheTightnessTest(t *testing.T) {
	const swapped, itself, supply, rises = "were the two swapped", "more than itself", "than the supply gives",
		"gone above the test pressure"
	mustJudge(t, map[string][]judged{
		"tightness.pressures_fit": {
			{changes: "tightness.drop_mbar=20.6", want: in}, // 20.4 + 0.2
			{changes: "tightness.drop_mbar=20.61", want: doubt, shows: itself},
			{changes: "tightness.drop_mbar=10", want: in}, // 1.0 typed without its point is another rule's
			{changes: "tightness.before_drop_mbar=21.4", want: in},
			{changes: "tightness.before_drop_mbar=21.41", want: doubt, shows: supply},
			{changes: "tightness.before_drop_mbar=21.41; tightness.drop_mbar=20.61", want: doubt, shows: itself},
			{changes: "tightness.let_by_pressure_mbar=19.99", want: in},
			{changes: "tightness.let_by_pressure_mbar=20", want: doubt, shows: swapped}, // 20.4 − 2 × 0.2
			{changes: "tightness.let_by_pressure_mbar=85", want: doubt, shows: swapped}, // 8.5 without its point
			{changes: "tightness.let_by_rise_mbar=13.3", want: in},                      // 8.5 + 13.3 = 20.4 + 1 + 0.4
			{changes: "tightness.let_by_rise_mbar=13.31", want: doubt, shows: rises},
			{changes: "tightness.let_by_pressure_mbar=; tightness.let_by_rise_mbar=30", want: in},
			{changes: "tightness.let_by_pressure_mbar=; tightness.drop_mbar=", want: exempt, shows: "not entered"},
			{changes: "tightness.drop_mbar=; tightness.let_by_pressure_mbar=20", want: doubt, shows: swapped},
			{changes: "tightness.drop_mbar=", want: in}, {changes: "tightness.let_by_pressure_mbar=", want: in},
			{changes: "tightness.test_pressure_mbar=", want: exempt},
			{changes: "tightness.test_pressure_mbar=2.04", want: doubt, shows: swapped}, // 20.4 with its point slipped
		},
		"tightness.supply_reach": { // test at most 2 × 0.2 + 1 mbar above standing
			{changes: "pressure.standing_mbar=18.99", want: doubt, shows: "one of the two was misread"},
			{changes: "pressure.standing_mbar=2.26", want: doubt},
			{changes: "tightness.test_pressure_mbar=24", want: in},
			{changes: "tightness.test_pressure_mbar=24.01", want: doubt},
			{changes: "pressure.standing_mbar=", want: exempt, shows: "not both entered"},
			{changes: "tightness.test_pressure_mbar=", want: exempt, shows: "not both entered"},
			{changes: "pressure.standing_mbar=2; tightness.situation=", want: exempt, shows: "installation under test"},
			{changes: "pressure.standing_mbar=2; tightness.situation=new", want: exempt, shows: "may be tested with air"},
			{changes: "pressure.standing_mbar=2; tightness.situation=none-connected", want: doubt},
			{changes: "pressure.standing_mbar=2; tightness.supply=medium", want: exempt, shows: "medium-pressure"},
			{base: "propane", changes: "pressure.standing_mbar=2", want: exempt, shows: "stated for LPG"},
		},
		"tightness.worse_after": { // at most 1 mbar more
			{changes: "tightness.drop_mbar=1.11", want: doubt, shows: "what was disturbed"},
			{changes: "tightness.drop_mbar=4; tightness.before_drop_mbar=3", want: in},
			{changes: "tightness.drop_mbar=0; tightness.before_drop_mbar=4", want: in},
			{changes: "tightness.before_drop_mbar=", want: exempt, shows: "before the work is not entered"},
			{changes: "tightness.drop_mbar=", want: exempt},
		},
		// Movement that can be seen: 0.2 mbar by an electronic gauge, 0.25 mbar by
		// a water gauge, IGEM/UP/1B edition 4; 0.25 mbar by any in edition 3.
		"tightness.smell_without_drop": {
			{changes: "tightness.smell=yes", want: doubt, shows: "smell of gas, drop 0.1 mbar"},
			{changes: "tightness.smell=yes; tightness.drop_mbar=0.2", want: doubt},
			{changes: "tightness.smell=yes; tightness.drop_mbar=0.21", want: in},
			{changes: "tightness.smell=yes; tightness.drop_mbar=0.25; tightness.gauge_kind=water", want: doubt},
			{changes: "tightness.smell=yes; tightness.drop_mbar=0.26; tightness.gauge_kind=water", want: in},
			{changes: "tightness.before_smell=yes", want: doubt, shows: "a smell of gas before the work"},
			{changes: "tightness.before_smell=yes; tightness.before_drop_mbar=1", want: in},
			{changes: "tightness.before_smell=yes; tightness.before_drop_mbar=", want: in},
			{changes: "tightness.before_smell=yes; tightness.drop_mbar=", want: doubt},
			{changes: "tightness.smell=; tightness.before_smell=", want: exempt, shows: "not both entered"},
			{changes: "tightness.smell=; tightness.before_drop_mbar=", want: exempt},
			{changes: "tightness.drop_mbar=; tightness.before_smell=", want: exempt},
			{changes: "tightness.drop_mbar=; tightness.before_drop_mbar=", want: exempt},
		},
		"tightness.gauge_reach": { // a water gauge is read to 0.25 mbar: common practice
			{changes: "tightness.gauge_kind=water; tightness.drop_mbar=0.33", want: doubt, shows: "finer than a water gauge"},
			{changes: "tightness.gauge_kind=water; tightness.drop_mbar=0.5; tightness.test_pressure_mbar=20.25", want: in},
			{changes: "tightness.gauge_kind=water; tightness.drop_mbar=0; tightness.test_pressure_mbar=20", want: in},
			{changes: "tightness.gauge_kind=water; tightness.drop_mbar=; tightness.let_by_rise_mbar=0.63; " +
				"tightness.test_pressure_mbar=20", want: doubt},
			{changes: "tightness.gauge_kind=", want: exempt},
			{changes: "tightness.drop_mbar=0.03", want: exempt, shows: "electronic"},
		},
	})
}
