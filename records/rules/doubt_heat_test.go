package rules_test

import "testing"

// Meter, data plate, pressure and water against each other. The sample burns
// 0.043 m³ in 62 s: 2.497 m³/h.
func TestDoubtsOfTheHeatInput(t *testing.T) {
	const same = "facts.earlier=same; "
	mustJudge(t, map[string][]judged{
		"heat.meter_capacity": { // largest flow of the size of the meter: 6 m³/h and 10 %, common practice
			{changes: "heat.end_m3=1482.429", want: in}, // 0.113 m³: 6.56 m³/h
			{changes: "heat.end_m3=1482.431", want: doubt, shows: "cannot pass that much"},
			{changes: "heat.end_m3=1482.746", want: doubt}, // 0.43 for 0.043
			{changes: "heat.seconds=6.2", want: doubt},     // 62 with its point slipped
			{changes: "tightness.meter=", want: exempt}, {changes: "heat.end_m3=", want: exempt, shows: "not both known"},
			{changes: "tightness.meter=g10; heat.end_m3=1482.431", want: in},
			{changes: "tightness.meter=e6; heat.end_m3=1482.429", want: in},
			{changes: "tightness.meter=e6; heat.end_m3=1482.431", want: doubt},
		},
		"heat.meter_since": {
			{changes: same + "heat.start_m3=1482.359", want: in, shows: "earlier 1482.359"},
			{changes: same + "heat.start_m3=1482.358", want: doubt, shows: "below the earlier record's"},
			{changes: same + "heat.start_m3=148.236", want: doubt}, {changes: same + "heat.start_m3=", want: exempt},
			{changes: same + "heat.meter=imperial; heat.start_m3=1", want: exempt, shows: "not read at both"},
			{changes: same + "heat.meter=; heat.start_m3=1", want: exempt},
		},
		"heat.input_pressure": { // 30 % either way: common practice, no published source
			{changes: "heat.seconds=47.8", want: in, shows: "129.6 % of the rated input"},
			{changes: "heat.seconds=47.6", want: doubt, shows: "130.1 % of the rated input"},
			{changes: "heat.seconds=88.3", want: in}, {changes: "heat.seconds=88.6", want: doubt, shows: "69.9 %"},
			{changes: "heat.seconds=47.6; pressure.appliance_mbar=10", want: exempt, shows: "may be the reason"},
			{changes: "heat.seconds=47.6; pressure.appliance_mbar=", want: exempt, shows: "not both measured"},
			{changes: "heat.seconds=47.6; appliance.rated_input_kw=", want: exempt},
			{changes: "heat.seconds=47.6; appliance.fuel=", want: exempt},
			{changes: "heat.seconds=47.6; pressure.examined=input", want: exempt},
			{changes: "appliance.rated_input_kw=2.45", want: doubt}, {changes: "heat.seconds=", want: exempt},
		},
		// gross: natural gas 37 to 43.5 MJ/m³, Gas Safety (Management) Regulations
		// 1996 by way of the Wobbe number; LPG by handbooks
		"heat.cv": {
			{changes: "heat.cv_mj_per_m3=37", want: in}, {changes: "heat.cv_mj_per_m3=36.99", want: doubt},
			{changes: "heat.cv_mj_per_m3=43.5", want: in}, {changes: "heat.cv_mj_per_m3=43.51", want: doubt},
			{changes: "heat.cv_mj_per_m3=93", want: doubt, shows: "for the fuel entered"},
			{base: "propane", changes: "heat.cv_mj_per_m3=93", want: in},
			{base: "propane", changes: "heat.cv_mj_per_m3=39.2", want: doubt},
			{changes: "appliance.fuel=butane; heat.cv_mj_per_m3=122", want: in},
			{changes: "appliance.fuel=butane; heat.cv_mj_per_m3=93", want: doubt},
			{changes: "heat.cv_mj_per_m3=", want: exempt}, {changes: "appliance.fuel=", want: exempt},
		},
		"heat.rate_from_pipe": { // looked at from 15 % apart
			{changes: "heat.seconds=53.9", want: in, shows: "agree well enough"},
			{changes: "heat.seconds=53.7", want: in, shows: "Loss measured 0.5 mbar"},
			{changes: "heat.seconds=16", want: doubt, shows: "not the one timed"},
			{changes: "heat.seconds=16; pressure.appliance_mbar=17", want: in}, // a loss that large is the meter's
			{changes: "heat.seconds=31; pressure.appliance_mbar=", want: exempt, shows: "not both measured"},
			{changes: "heat.seconds=31; pressure.meter_mbar=", want: exempt},
			{changes: "heat.seconds=31; tightness.runs=", want: exempt, shows: "runs are not complete"},
			{changes: "heat.seconds=31; pressure.load=highest", want: exempt, shows: "other appliances on the same pipe"},
			{changes: "heat.seconds=", want: exempt},
		},
	})
}

// Pressures that were written rather than read.
func TestDoubtsOfThePressures(t *testing.T) {
	const same = "facts.earlier=same; "
	mustJudge(t, map[string][]judged{
		"pressure.flat": {
			{changes: "pressure.standing_mbar=20.1; pressure.meter_mbar=20.1", want: doubt, shows: "20.1, 20.1, 20.1 mbar"},
			{changes: "pressure.standing_mbar=20.2; pressure.meter_mbar=20.1", want: in},
			{changes: "pressure.standing_mbar=20.1; pressure.meter_mbar=20.1; pressure.appliance_mbar=20", want: in},
			{changes: "pressure.standing_mbar=20; pressure.meter_mbar=20; pressure.appliance_mbar=20", want: in},
			// whole figures
			{changes: "pressure.standing_mbar=", want: exempt, shows: "not all entered"},
			{changes: "pressure.meter_mbar=", want: exempt}, {changes: "pressure.appliance_mbar=", want: exempt},
		},
		"pressure.copied": {
			{changes: same, want: doubt, shows: "5 of 5 pressures the same"},
			{changes: same + "pressure.standing_mbar=22.7", want: in, shows: "4 of 5 pressures the same"},
			{changes: same + "tightness.let_by_pressure_mbar=", want: doubt, shows: "4 of 4"},
			{changes: same + "tightness.let_by_pressure_mbar=; pressure.standing_mbar=", want: exempt, shows: "Too few"},
			{changes: same + "tightness.let_by_pressure_mbar=8; pressure.standing_mbar=22", want: exempt},
			// whole ones tell nothing
			{changes: "", want: exempt, shows: "no earlier record"},
		},
		"combustion.copied": {
			{changes: same, want: doubt}, {changes: "", want: exempt, shows: "no earlier record"},
			{changes: same + "combustion.max_co2_pct=9; combustion.max_o2_pct=4.8; combustion.min_o2_pct=5.5; " +
				"combustion.min_co2_pct=8.6; combustion.max_flue_temp_c=58.1; combustion.min_flue_temp_c=47.2", want: in},
		},
	})
}

// Heat into the water against gas burnt and flue loss.
func TestDoubtsOfTheWater(t *testing.T) {
	mustJudge(t, map[string][]judged{
		// 16.5 l/min × 19.5 K × 4.19/60 = 22.47 kW
		"delivery.flue_balance": {
			{changes: "delivery.heating_flow_l_per_min=17.5", want: in},
			{changes: "delivery.heating_flow_l_per_min=25", want: doubt, shows: "more heat in the water"},
			{changes: "delivery.flow_c=86; delivery.return_c=48", want: doubt}, // 68 with its figures swapped
			{changes: "delivery.return_c=67.1", want: exempt, shows: "do not give a heat balance"},
			{changes: "delivery.return_c=67", want: in},
			{changes: "delivery.return_c=70", want: exempt},
			{changes: "delivery.heating_flow_l_per_min=", want: exempt, shows: "not all measured"},
			{changes: "combustion.max_o2_pct=", want: exempt}, {changes: "combustion.air_temp_c=", want: exempt},
			{changes: "heat.seconds=", want: exempt}, {changes: "appliance.fuel=", want: exempt},
			{changes: "pressure.examined=pressure; delivery.heating_flow_l_per_min=25", want: exempt},
			{changes: "pressure.examined=neither; delivery.heating_flow_l_per_min=25", want: exempt},
			{changes: "pressure.examined=input; delivery.heating_flow_l_per_min=25", want: doubt},
			{changes: "delivery.heating_flow_l_per_min=25; combustion.max_o2_pct=22", want: exempt},
		},
		"delivery.flow_return": { // two thermometers of 1.2 K or so each: √2 × 1.2 K = 1.7 K
			{changes: "delivery.return_c=66.2", want: in}, {changes: "delivery.return_c=67.5", want: doubt},
			{changes: "delivery.return_c=68", want: doubt}, {changes: "delivery.return_c=86", want: doubt},
			{changes: "delivery.flow_c=", want: miss},
		},
		"delivery.scald": { // 60 °C and less at the tap: HSG274 part 2, as the limit names it
			{changes: "delivery.hot_out_c=60", want: in}, {changes: "delivery.hot_out_c=65", want: tell},
			{changes: "delivery.hot_out_c=65; delivery.hot_mixer=yes", want: doubt, shows: "the valve does not mix"},
			{changes: "delivery.hot_out_c=", want: exempt},
		},
		"delivery.condensing": {
			{changes: "delivery.return_c=54", want: in}, {changes: "delivery.return_c=56", want: exempt, shows: "advice only"},
			{changes: "delivery.return_c=56; appliance.condensing=no", want: exempt},
		},
		"delivery.heating_balance": {
			{changes: "delivery.heating_flow_l_per_min=22", want: doubt},
			{changes: "delivery.heating_flow_l_per_min=6", want: doubt,
				shows: "Hardly any of the heat"},
			{changes: "delivery.heating_flow_l_per_min=9", want: in},
			{changes: "delivery.heating_flow_l_per_min=20", want: in},
			{changes: "delivery.heating_flow_l_per_min=165", want: doubt},
			{changes: "delivery.heating_flow_l_per_min=1.65", want: doubt},
		},
		"delivery.hot_output": { // 95 % of the output rated, 24 kW: 22.8 kW
			{changes: "delivery.hot_flow_l_per_min=9.8", want: in},
			{changes: "delivery.hot_flow_l_per_min=9", want: out, shows: "observation"},
			{changes: "delivery.hot_rated_kw=28", want: out, shows: "(95 % of 28 kW)"},
			{changes: "delivery.hot_in_c=", want: miss},
		},
	})
}
