package rules_test

import "testing"

// Pressures of natural gas and LPG: IGEM/G/13 and the older training figure at
// the meter, EN 437 at the appliance, BS 6891 for the loss, each as the limit
// names it; what was examined by the Gas Safety Regulations, regulation 26(9),
// as amended from 6 April 2018.
func TestPressures(t *testing.T) {
	const inputOnly = "section.pressure=; pressure.examined=input; "
	const neither = "section.heat=; section.pressure=; pressure.examined=neither; "
	const why = "pressure.examined_reason=No test point"
	mustJudge(t, map[string][]judged{
		"pressure.examined": {
			{changes: neither, want: miss, shows: "Say why"}, {changes: neither + why, want: in, shows: "reason is given"},
			{changes: neither + why + "; combustion.max_co_ppm=", want: miss, shows: "mandatory"},
			{changes: neither + why + "; combustion.max_co2_pct=", want: miss, shows: "mandatory"},
			{changes: "day=2018-04-05;" + neither + why, want: out, shows: "did not yet allow"},
			{changes: "day=2018-04-06;" + neither + why, want: in},
			{changes: "day=2018-04-05;", want: in, shows: "26(9)(c)"}, {changes: inputOnly, want: in},
		},
		"pressure.gauge": {
			{want: in}, {changes: "pressure.gauge=", want: miss}, {changes: "pressure.gauge=gauge-9", want: miss},
			{changes: "instrument.gauge-1.calibration_due=", want: miss}, {changes: inputOnly, want: exempt},
		},
		"pressure.load": {{changes: "pressure.load=highest", want: in},
			{changes: inputOnly, want: exempt, shows: "Heat input was examined"}, {changes: neither, want: exempt}},
		"pressure.standing": { // 30 mbar: from memory, unconfirmed; LPG 57.5 mbar: EN 437
			{changes: "pressure.standing_mbar=31", want: out, shows: "letting by"},
			{changes: "pressure.standing_mbar=", want: miss}, {changes: "appliance.fuel=", want: miss},
			{base: "propane", changes: "pressure.standing_mbar=57.5", want: exempt, shows: "57.5 mbar"},
			{base: "propane", changes: "pressure.standing_mbar=57.6", want: doubt, shows: "more than any LPG appliance"},
			{changes: inputOnly + "pressure.standing_mbar=40", want: out},
		},
		"pressure.meter": {
			{changes: "pressure.meter_mbar=18.2", want: out, shows: "gas supplier"},
			{changes: "pressure.meter_mbar=22.6", want: in}, {changes: "pressure.meter_mbar=23.4", want: out},
			{changes: "day=2023-07-31;pressure.meter_mbar=18.6", want: out, shows: "19 to 23 mbar"},
			{changes: "day=2023-08-01;pressure.meter_mbar=18.9", want: in, shows: "18.5 to 23 mbar"},
			{changes: "pressure.load=alone", want: in, shows: "the pressure is lower"},
			{base: "propane", changes: "pressure.meter_mbar=26", want: in, shows: "25 to 45 mbar"},
			{base: "propane", changes: "pressure.meter_mbar=24", want: out},
			{base: "propane", changes: "pressure.meter_mbar=46", want: out},
			{changes: "appliance.fuel=butane; pressure.meter_mbar=34", want: in, shows: "25 to 35 mbar"},
			{changes: "appliance.fuel=butane; pressure.meter_mbar=36", want: out},
			{changes: inputOnly, want: exempt},
		},
		"pressure.drop": { // 1 mbar, LPG 2 mbar: BS 6891
			{changes: "pressure.appliance_mbar=19.9", want: in, shows: "20.6 − 19.9 = 0.7 mbar"},
			{changes: "pressure.appliance_mbar=19.3", want: out, shows: "undersized or blocked"},
			{changes: "pressure.appliance_mbar=20.7", want: in},
			{changes: "pressure.appliance_mbar=20.71", want: doubt, shows: "cannot be above"},
			{changes: "pressure.appliance_mbar=", want: miss}, {changes: "pressure.meter_mbar=", want: miss},
			{base: "propane", changes: "pressure.appliance_mbar=35.1", want: in, shows: "at most 2 mbar"},
			{base: "propane", changes: "pressure.appliance_mbar=34.5", want: out},
			{changes: "appliance.fuel=", want: miss}, {changes: inputOnly, want: exempt},
		},
		"pressure.falling": { // a step of the gauge, 0.1 mbar, is allowed: common practice
			{changes: "pressure.meter_mbar=22.7", want: in}, {changes: "pressure.meter_mbar=22.71", want: doubt,
				shows: "above standing pressure"},
			{changes: "pressure.appliance_mbar=20.7", want: in},
			{changes: "pressure.appliance_mbar=20.71", want: doubt, shows: "above that at the meter"},
			{changes: "pressure.meter_mbar=2.06", want: doubt}, // 20.6 with its point slipped
			{changes: "pressure.meter_mbar=", want: miss},
		},
		"pressure.flat": {
			{changes: "pressure.standing_mbar=20.6; pressure.appliance_mbar=20.6", want: doubt, shows: "was gas flowing"},
			{changes: "pressure.standing_mbar=20.6", want: in}, {changes: "pressure.appliance_mbar=20.6", want: in},
			{changes: "pressure.standing_mbar=21; pressure.meter_mbar=21; pressure.appliance_mbar=21", want: in},
		},
	})
}

// Heat input: timed for two minutes and more or by changes of the last digit,
// as the limits name their editions; ± 5 % of the data plate from memory,
// unconfirmed; 1 ft³ is 0.0283168 m³ (BS 350).
func TestHeatInputAsTimed(t *testing.T) {
	const minute = "heat.seconds=60; heat.end_m3="
	const late = "day=2023-08-31;heat.seconds="
	mustJudge(t, map[string][]judged{
		"heat.time": {
			{changes: late + "120", want: in}, {changes: late + "119.9", want: out, shows: "take the reading again"},
			{changes: "heat.seconds=", want: miss}, {changes: "heat.meter=", want: miss},
			{base: "imperial", changes: "heat.seconds=", want: miss},
		},
		"heat.meter_runs": {
			{want: in, shows: "1482.359 − 1482.316 = 0.043 m³"}, {want: in, shows: "0.001 m³, is 2.3 %"},
			{changes: "heat.end_m3=1482.316", want: doubt, shows: "not above the start"},
			{changes: "heat.end_m3=1482.317", want: in, shows: "is 100 %"},
			{changes: "heat.end_m3=1482.3", want: doubt},
			{changes: "heat.end_m3=1482.4", want: in, shows: "0.1 m³"}, // the coarser of the two readings
			{changes: "heat.start_m3=", want: miss}, {changes: "heat.meter=", want: miss},
			{base: "imperial", changes: "heat.start_m3=2; heat.end_m3=1", want: doubt},
		},
		"heat.input": {
			{changes: "heat.end_m3=", want: miss}, {changes: "heat.meter=", want: miss, shows: "Meter units"},
			{changes: "appliance.rated_input_kw=", want: miss}, {changes: "appliance.rated_input_basis=", want: miss},
			{changes: "appliance.rated_input_kw=18", want: out, shows: "does not agree with the data plate"},
			{changes: "appliance.rated_input_kw=34", want: out},
			{changes: "appliance.rated_input_basis=gross", want: out, shows: "kW gross"},
			{changes: "appliance.stated_input_plus_pct=3", want: in, shows: "−5 % to +3 %"},
			{changes: "appliance.stated_input_minus_pct=2", want: in, shows: "−2 % to +5 %"},
			{base: "imperial", want: in, shows: "ft³/h × 0.0283168"},
			{base: "imperial", changes: "heat.dial_ft3=", want: miss}, {base: "imperial", changes: "heat.turns=", want: miss},
			// read at the minute, the last digit may be out by a step at both ends
			{changes: minute + "1482.336; appliance.rated_input_kw=11.5", want: nearby, shows: "step of the meter is 5 %"},
			{changes: minute + "1482.336; appliance.rated_input_kw=11.5", want: nearby, shows: "s more"},
			{base: "imperial", changes: "heat.dial_ft3=0.1; heat.seconds=4.1; appliance.rated_input_kw=25.8", want: nearby,
				shows: "stopwatch alone"},
		},
	})
}
