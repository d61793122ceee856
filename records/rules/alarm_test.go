package rules_test

import "testing"

// Where the alarm is and what it is: BS EN 50292, 1 to 3 m across, 300 mm from
// walls on a ceiling, 150 mm below the ceiling on a wall; BS EN 50291-1.
func TestAlarmPlacedAndPowered(t *testing.T) {
	const wall = "ventilation.alarm_fixed=wall; ventilation.alarm_from_wall_mm=; ventilation.alarm_above_openings=yes; "
	const other = "ventilation.alarm_room=other; ventilation.alarm_distance_m=; ventilation.alarm_fixed=; " +
		"ventilation.alarm_from_wall_mm=; "
	const replaceable = "ventilation.alarm_power=replaceable; "
	const none = "ventilation.alarm=no; ventilation.alarm_room=; ventilation.alarm_distance_m=; " +
		"ventilation.alarm_fixed=; ventilation.alarm_from_wall_mm=; ventilation.alarm_standard=; " +
		"ventilation.alarm_power=; ventilation.alarm_expiry=; " +
		"ventilation.alarm_tested=; "
	mustJudge(t, map[string][]judged{
		"ventilation.alarm_distance": {
			{changes: "ventilation.alarm_distance_m=1", want: in}, {changes: "ventilation.alarm_distance_m=0.99", want: out},
			{changes: "ventilation.alarm_distance_m=3", want: in}, {changes: "ventilation.alarm_distance_m=3.01", want: out},
			{changes: other, want: exempt, shows: "not in the appliance's room"},
			{changes: other + "ventilation.alarm_distance_m=5", want: out},
			{changes: "ventilation.alarm_distance_m=", want: miss}, {changes: none, want: exempt, shows: "No alarm"},
		},
		"ventilation.alarm_position": {
			{changes: "ventilation.alarm_from_wall_mm=300", want: in},
			{changes: "ventilation.alarm_from_wall_mm=299", want: out},
			{changes: "ventilation.alarm_from_wall_mm=", want: miss},
			{changes: wall + "ventilation.alarm_below_ceiling_mm=150", want: in},
			{changes: wall + "ventilation.alarm_below_ceiling_mm=149", want: out, shows: "dead corner"},
			{changes: wall + "ventilation.alarm_below_ceiling_mm=400; ventilation.alarm_above_openings=no", want: out,
				shows: "lower than a door or window"},
			{changes: wall + "ventilation.alarm_below_ceiling_mm=400; ventilation.alarm_above_openings=", want: miss},
			{changes: wall, want: miss}, {changes: other, want: exempt},
			{changes: other + "ventilation.alarm_fixed=ceiling; ventilation.alarm_from_wall_mm=100", want: out},
			{changes: "ventilation.alarm_fixed=free; ventilation.alarm_from_wall_mm=", want: exempt, shows: "free-standing"},
			{changes: "ventilation.alarm_fixed=", want: miss}, {changes: none, want: exempt},
		},
		"ventilation.alarm_place": {
			{changes: "ventilation.alarm_room=other", want: out, shows: "have one fitted there"},
			{changes: "ventilation.alarm_room=", want: miss}, {changes: none, want: exempt},
			{changes: "ventilation.alarm_room=other; property.nation=Scotland", want: out,
				shows: "Housing (Scotland) Act 1987"},
		},
		"ventilation.alarm_power": { // a battery for its life is asked for in England's building work and in Scotland
			{changes: replaceable, want: out, shows: "must last the alarm's life"},
			{changes: replaceable + "property.nation=Scotland", want: out, shows: "sealed battery"},
			{changes: replaceable + "property.nation=Wales", want: exempt, shows: "allowed here"},
			{changes: replaceable + "property.nation=Northern Ireland", want: exempt},
			{base: "landlord", changes: replaceable, want: exempt},
			{changes: "day=2022-09-30;" + replaceable, want: exempt}, {changes: "day=2022-10-01;" + replaceable, want: out},
			{changes: "ventilation.alarm_power=wired", want: in}, {changes: "ventilation.alarm_power=", want: miss},
		},
		"ventilation.alarm_expiry": { // no alarm lasts more than 12 years: common practice, 5 to 10
			{changes: "ventilation.alarm_expiry=2026-11-20", want: in},
			{changes: "ventilation.alarm_expiry=2026-11-19", want: out},
			{changes: "ventilation.alarm_expiry=2038-11-20", want: in},
			{changes: "ventilation.alarm_expiry=2038-11-21", want: doubt},
			{changes: "ventilation.alarm_expiry=2126-03-31", want: doubt, shows: "read the date"},
			{changes: "ventilation.alarm_expiry=", want: miss}, {changes: none, want: exempt},
		},
		"ventilation.alarm_standard": {
			{changes: "ventilation.alarm_standard=no", want: out, shows: "BS EN 50291-1"},
			{changes: "ventilation.alarm_standard=", want: miss},
		},
		"ventilation.alarm_tested": {
			{changes: "ventilation.alarm_tested=no", want: out, shows: "will warn nobody"},
			{changes: "ventilation.alarm_tested=", want: miss},
		},
	})
}
