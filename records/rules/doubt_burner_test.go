package rules_test

import "testing"

// The flame's readings against each other. Leanest mixtures: IEC 60079-20-1,
// methane 4.4 %, propane 1.7 %, butane 1.4 % by volume, from memory,
// unconfirmed; bands from the accuracy of instruments: common practice, no
// published source.
func TestDoubtsOfTheFlame(t *testing.T) {
	const one = "combustion.min_rate=not-possible; combustion.min_rate_reason=no test mode on this make; " +
		"combustion.min_co_ppm=; combustion.min_co2_pct=; combustion.min_o2_pct=; combustion.min_flue_temp_c=; "
	mustJudge(t, map[string][]judged{
		// natural gas: (100/4.4 − 1)/9.5 − 1 = 128 % excess air, which is 12.4 % O₂
		// dry, and 0.3 % for the sensor; propane 142 %, 13.0 % O₂
		"combustion.lean_limit": {
			{changes: "combustion.max_o2_pct=12.6", want: in},
			{changes: "combustion.max_o2_pct=12.9", want: doubt, shows: "12.9 %"},
			{changes: "combustion.min_o2_pct=12.9", want: doubt, shows: "check the hose and probe"},
			{changes: "combustion.max_o2_pct=13; combustion.min_o2_pct=12.9", want: doubt, shows: "13 %"},
			{changes: "combustion.max_o2_pct=20.9", want: doubt, shows: "At least"},
			{changes: "combustion.max_o2_pct=13; appliance.condensing=no", want: exempt, shows: "premixed"},
			{changes: "combustion.max_o2_pct=13; appliance.condensing=", want: exempt},
			{changes: "combustion.max_o2_pct=13; appliance.flue_kind=open-fanned", want: doubt},
			{changes: "combustion.max_o2_pct=13; appliance.flue_kind=open-natural", want: exempt},
			{changes: "combustion.max_o2_pct=13; appliance.fuel=", want: exempt},
			{changes: "combustion.max_o2_pct=; combustion.min_o2_pct=", want: exempt, shows: "No oxygen reading"},
			{base: "propane", changes: "combustion.max_o2_pct=13", want: in},
			{base: "propane", changes: "combustion.max_o2_pct=13.5", want: doubt, shows: "propane"},
			{changes: "appliance.fuel=butane; combustion.max_o2_pct=12.9", want: doubt, shows: "butane"},
		},
		// CO air-free = CO × 20.9/(20.9 − O₂): at 4.7 %, × 1.290
		"combustion.air_free": {
			{changes: "combustion.max_co_ppm=7751", want: in}, {changes: "combustion.max_co_ppm=7752", want: doubt},
			{changes: "combustion.min_co_ppm=7416", want: in}, // × 1.3484 at 5.4 %
			{changes: "combustion.min_co_ppm=7417", want: doubt, shows: "flooded sensor"},
			{changes: "combustion.max_co_ppm=20000", want: doubt, shows: "turn the appliance off"},
			{changes: "combustion.max_co_ppm=; combustion.min_o2_pct=", want: exempt, shows: "not both entered"},
			{changes: "combustion.max_o2_pct=; combustion.min_co_ppm=", want: exempt},
			{changes: "combustion.max_co_ppm=", want: in, shows: "19 ppm air-free"},
			{changes: "combustion.max_o2_pct=20.9; combustion.min_co_ppm=", want: exempt},
		},
		"combustion.rates_alike": {
			{changes: "combustion.min_co_ppm=92; combustion.min_co2_pct=9.1; combustion.min_o2_pct=4.7; " +
				"combustion.min_flue_temp_c=58.4", want: doubt, shows: "4 of 4"},
			{changes: "combustion.min_co_ppm=92; combustion.min_co2_pct=9.1; combustion.min_o2_pct=4.7", want: in,
				shows: "3 of 4"},
			{changes: "combustion.min_co_ppm=92; combustion.min_co2_pct=9.1; combustion.min_o2_pct=4.7; " +
				"combustion.min_flue_temp_c=", want: doubt, shows: "3 of 3"},
			{changes: "combustion.min_co_ppm=92; combustion.min_co2_pct=9.1; combustion.min_o2_pct=; " +
				"combustion.min_flue_temp_c=", want: exempt, shows: "Too few readings"},
			{changes: one, want: exempt},
		},
		"combustion.rates_temperature": { // 5 K for the sensor, 15 K of warming up
			{changes: "combustion.min_flue_temp_c=78.4", want: in},
			{changes: "combustion.min_flue_temp_c=78.5", want: doubt, shows: "swapped"},
			{changes: "combustion.min_flue_temp_c=", want: exempt}, {changes: one, want: exempt},
		},
		"combustion.flue_range": {
			{changes: "combustion.max_flue_temp_c=130", want: in},
			{changes: "combustion.max_flue_temp_c=130.1", want: doubt, shows: "shut down before that"},
			{changes: "combustion.min_flue_temp_c=130.1", want: doubt, shows: "130.1 °C"},
			{changes: "combustion.max_flue_temp_c=140; combustion.min_flue_temp_c=135", want: doubt, shows: "140 °C"},
			{changes: "combustion.max_flue_temp_c=584", want: doubt}, // 58.4 without its point
			{changes: "combustion.max_flue_temp_c=20", want: in},
			{changes: "appliance.condensing=", want: exempt}, {changes: "combustion.max_flue_temp_c=", want: exempt},
			// not condensing: dew point 56 °C or so at 4 % O₂, 5 K for the probe
			{changes: "appliance.condensing=no; combustion.max_flue_temp_c=45", want: doubt, shows: "would condense"},
			{changes: "appliance.condensing=no; combustion.max_flue_temp_c=60", want: in, shows: "Dew point at 4.7 % oxygen"},
			{changes: "appliance.condensing=no; combustion.max_flue_temp_c=180", want: in},
			{changes: "appliance.condensing=no; combustion.max_flue_temp_c=45; combustion.max_o2_pct=16", want: in},
			{changes: "appliance.condensing=no; combustion.max_flue_temp_c=45; combustion.max_o2_pct=", want: exempt},
			{changes: "appliance.condensing=no; combustion.max_flue_temp_c=45; appliance.fuel=", want: exempt},
		},
		// CO₂ = CO₂max × (20.9 − O₂)/20.9; CO₂max of natural gas 11.7 to 11.9 %, of
		// propane 13.7 to 13.8 %: DIN 33831-2 and handbooks, as testdata/gas names
		"combustion.fuel_set": {
			{changes: "combustion.max_co2_pct=10.7; combustion.min_co2_pct=10.2", want: doubt,
				shows: "match propane, not natural gas"},
			{changes: "combustion.max_co2_pct=10.7; combustion.min_co2_pct=10.2; combustion.co2_method=measured", want: doubt},
			{changes: "combustion.max_co2_pct=9.4; combustion.min_co2_pct=9; combustion.co2_method=measured", want: in},
			{changes: "combustion.max_co2_pct=7.4; combustion.min_co2_pct=7", want: in}, // below every line
			{changes: "combustion.co2_method=", want: exempt, shows: "how the analyser gets CO₂"},
			{changes: "appliance.fuel=", want: exempt},
			{changes: one + "combustion.max_o2_pct=", want: exempt},
			{changes: one + "combustion.max_co2_pct=10.7", want: doubt, shows: "over 1 rates"},
			{base: "propane", changes: "combustion.max_co2_pct=9.1; combustion.max_o2_pct=4.7", want: doubt,
				shows: "match natural gas"},
		},
		"combustion.no_co": {
			{changes: "combustion.max_co_ppm=0; combustion.min_co_ppm=0", want: doubt, shows: "No CO at either rate"},
			{changes: "combustion.max_co_ppm=1; combustion.min_co_ppm=0", want: in},
			{changes: "combustion.max_co_ppm=0; combustion.min_co_ppm=1", want: in},
			{changes: one + "combustion.max_co_ppm=0", want: exempt, shows: "not read at both rates"},
			{changes: "combustion.max_co_ppm=", want: exempt},
		},
		"combustion.enough_air": { // at least 2 % O₂: from memory, unconfirmed
			{changes: "combustion.max_o2_pct=2", want: in, shows: "2 % O₂"},
			{changes: "combustion.max_o2_pct=1.99", want: doubt, shows: "at risk"},
			{changes: "combustion.max_o2_pct=0.47", want: doubt, shows: "hardly any oxygen left"},
			{changes: "combustion.max_o2_pct=; combustion.max_co2_pct=10.7", want: in, shows: "10.7 % CO₂"},
			{changes: "combustion.max_o2_pct=; combustion.max_co2_pct=10.8", want: doubt, shows: "At 2 % oxygen"},
			{changes: "combustion.max_o2_pct=4.7; combustion.max_co2_pct=10.8", want: doubt, shows: "at risk"},
			{changes: "combustion.max_o2_pct=; combustion.max_co2_pct=", want: exempt},
			{changes: "combustion.max_o2_pct=1; appliance.fuel=", want: exempt},
			{base: "propane", changes: "combustion.max_o2_pct=; combustion.max_co2_pct=12.4", want: in},
			{base: "propane", changes: "combustion.max_o2_pct=; combustion.max_co2_pct=12.6", want: doubt,
				shows: "propane gives"},
		},
		// Siegert: loss = (flue − air) × (0.66/(21 − O₂) + 0.009), BImSchV 1 annex 2
		"combustion.efficiency": {
			{changes: "combustion.max_flue_temp_c=600; combustion.max_o2_pct=4.7", want: in},
			{changes: "combustion.max_flue_temp_c=600; combustion.max_o2_pct=14", want: doubt, shows: "More than half"},
			{changes: "combustion.max_flue_temp_c=", want: exempt}, {changes: "combustion.air_temp_c=", want: exempt},
			{changes: "combustion.max_o2_pct=", want: exempt}, {changes: "appliance.fuel=", want: exempt},
			{changes: "combustion.max_o2_pct=22", want: exempt, shows: "no flue loss"},
			{changes: "combustion.max_flue_temp_c=45", want: in, shows: "Below the dew point up to"},
			{changes: "combustion.max_flue_temp_c=80", want: in, shows: "flue gas 80 °C, air 16.2 °C"},
		},
	})
}
