package rules_test

import "testing"

// One reading each against physics, the instructions and the class of the
// analyser. CO₂max of natural gas 11.9 % and propane 13.8 %, as testdata/gas
// names them; air of -20 to 45 °C: common practice, no published source.
func TestCombustionReadings(t *testing.T) {
	const unsaid = "appliance.stated_co2_max_rate_low_pct=; appliance.stated_co2_max_rate_high_pct=; "
	const measured = "combustion.co2_method=measured; "
	mustJudge(t, map[string][]judged{
		"combustion.max_co2": {
			{changes: "combustion.max_co2_pct=8.69", want: out, shows: "only as the instructions allow"},
			{changes: "combustion.max_co2_pct=9.51", want: out}, {changes: "combustion.max_co2_pct=9.5", want: in},
			{changes: "combustion.max_co2_pct=12", want: doubt, shows: "No flame of natural gas"},
			{changes: "appliance.stated_co2_max_rate_low_pct=; combustion.max_co2_pct=3", want: in, shows: "at most 9.5 %"},
			{changes: "appliance.stated_co2_max_rate_high_pct=; combustion.max_co2_pct=8.69", want: out,
				shows: "at least 8.7 %"},
			{changes: "appliance.stated_co2_max_rate_high_pct=; combustion.max_co2_pct=8.7", want: in},
			{changes: unsaid + "combustion.max_o2_pct=2.99", want: doubt, shows: "Very little air"},
			{changes: unsaid + "combustion.max_o2_pct=3", want: in, shows: "nothing unusual"},
			{changes: unsaid + "combustion.max_o2_pct=", want: in},
			{changes: "combustion.max_co2_pct=", want: miss}, {changes: "appliance.fuel=", want: miss},
			{base: "propane", changes: "combustion.max_co2_pct=13.9", want: doubt, shows: "No flame of propane"},
			{base: "propane", changes: "combustion.max_co2_pct=12.5", want: doubt, shows: "Very little air"},
		},
		"combustion.max_o2_co2": { // 0.1 % apart where worked out, the sensors' 0.3 % each where measured
			{changes: "combustion.max_co2_pct=8.96", want: doubt, shows: "cannot both be right"},
			{changes: measured + "combustion.max_co2_pct=9.4", want: in},
			{changes: measured + "combustion.max_co2_pct=9.6", want: in, shows: "further apart than usual"},
			{changes: measured + "combustion.max_co2_pct=8.7", want: in, shows: "further apart than usual"},
			{changes: measured + "combustion.max_co2_pct=7.1", want: doubt, shows: "the hose"},
			{changes: "combustion.max_co2_pct=7.4; combustion.max_o2_pct=9.1", want: doubt},
			{changes: "combustion.max_o2_pct=21.5", want: doubt, shows: "more oxygen than in fresh air"},
			{changes: "combustion.co2_method=", want: miss}, {changes: "combustion.max_o2_pct=", want: miss},
		},
		"combustion.max_temperature": {
			{changes: "combustion.air_temp_c=45", want: in},
			{changes: "combustion.air_temp_c=45.1", want: doubt, shows: "hardly ever"},
			{changes: "combustion.air_temp_c=-20", want: in}, {changes: "combustion.air_temp_c=-20.1", want: doubt},
			{changes: "combustion.max_flue_temp_c=18.2", want: in},
			{changes: "combustion.max_flue_temp_c=18.1", want: doubt, shows: "no warmer than the air"},
			{changes: "combustion.max_flue_temp_c=16.1", want: doubt, shows: "colder than the air"},
			{changes: "combustion.max_flue_temp_c=5.8", want: doubt}, {changes: "combustion.air_temp_c=", want: miss},
		},
		"combustion.settled": {
			{changes: "combustion.settle_min=3", want: in}, {changes: "combustion.settle_min=2.9", want: out},
			{changes: "combustion.settle_min=", want: miss},
		},
		"appliance.rated_input": { // 24.5 kW net, 27.2 kW gross; half of the net at least
			{changes: "appliance.rated_output_kw=27.1", want: in},
			{changes: "appliance.rated_output_kw=27.4", want: doubt, shows: "more than the gross"},
			{changes: "appliance.rated_output_kw=12.25", want: in},
			{changes: "appliance.rated_output_kw=12.24", want: doubt, shows: "less than half"},
			{changes: "appliance.rated_output_kw=2.4", want: doubt}, {changes: "appliance.rated_output_kw=", want: in},
			{changes: "appliance.kind=water-heater; appliance.rated_output_kw=12.24", want: doubt},
			{changes: "appliance.kind=fire; appliance.rated_output_kw=12.24", want: in},
			{changes: "appliance.rated_input_basis=gross; appliance.rated_output_kw=24.6", want: doubt},
			{changes: "appliance.rated_input_kw=", want: miss}, {changes: "appliance.rated_input_basis=", want: miss},
		},
	})
}

// An instrument proves something within twelve months of its calibration: BS
// 7967, yearly. The day of the work is 20 November 2026.
func TestInstrumentsInCalibration(t *testing.T) {
	on := func(calibrated, due string) string {
		return "instrument.gauge-1.calibrated_on=" + calibrated + "; instrument.gauge-1.calibration_due=" + due
	}
	mustJudge(t, map[string][]judged{
		"tightness.gauge": {
			{changes: on("2025-11-20", "2026-11-20"), want: in},
			{changes: on("2025-11-19", "2026-11-20"), want: doubt, shows: "more than 12 months before"},
			{changes: on("2016-11-20", "2027-01-01"), want: doubt, shows: "whatever date is given as due"},
			{changes: on("", "2027-11-20"), want: in}, {changes: on("", "2027-11-21"), want: doubt, shows: "not on file"},
			{changes: on("2026-11-20", "2027-11-20"), want: in}, {changes: on("2026-11-21", "2027-11-20"), want: doubt},
			{changes: on("2026-01-10", ""), want: miss},
			{changes: on("2025-11-20", "2026-11-19"), want: doubt, shows: "do not rely on it"},
			{changes: "tightness.gauge=analyser-1", want: doubt, shows: "This is an analyser"},
			{changes: "tightness.gauge=analyser-1; instrument.analyser-1.pressure=0.01 ± 0.1", want: in},
			{changes: "tightness.gauge=lost", want: miss, shows: "“lost” is not on this record"},
		},
		"combustion.analyser": {
			{changes: "combustion.analyser=gauge-1", want: doubt, shows: "This is a gauge"},
			{changes: "combustion.analyser=gauge-1; instrument.gauge-1.co=1 ± 20", want: doubt},
			{changes: "instrument.analyser-1.kind=", want: doubt},
		},
	})
}

// A section left out: a routine visit need not test tightness, a landlord check
// need not take combustion readings unless nothing else could be examined. Gas
// Safety (Installation and Use) Regulations 1998, regulations 26(9) and 36(3).
func TestSectionsLeftOut(t *testing.T) {
	const tight, burnt = "section.tightness=; ", "section.combustion=; "
	const neither = "pressure.examined=neither; pressure.examined_reason=No meter and no test point; "
	mustJudge(t, map[string][]judged{
		"tightness.test_pressure": {
			{changes: tight, want: miss}, {base: "remedial", changes: tight, want: miss},
			{base: "service", changes: tight, want: exempt, shows: "not always required"},
			{base: "landlord", changes: tight, want: exempt},
			{base: "service", changes: tight + "tightness.smell=no", want: exempt},
			{base: "service", changes: tight + "tightness.drop_mbar=0", want: miss},
		},
		"tightness.smell": { // asked at every visit
			{base: "service", changes: tight, want: miss},
			{base: "landlord", changes: tight + "tightness.smell=yes", want: out, shows: "immediately dangerous"},
			{changes: tight, want: miss}, {base: "service", changes: tight + "tightness.smell=no", want: in},
		},
		"combustion.max_co": {
			{changes: burnt, want: miss}, {base: "service", changes: burnt, want: miss},
			{base: "landlord", changes: burnt, want: exempt, shows: "only where the instructions do"},
			{base: "landlord", changes: burnt + neither, want: miss},
			{base: "landlord", changes: burnt + "combustion.max_co2_pct=9", want: miss},
			{base: "cooker", changes: "", want: exempt, shows: "flame picture"},
			{base: "cooker", changes: "combustion.max_co_ppm=900", want: exempt, shows: "900 ppm"},
			{base: "flueless", changes: "", want: exempt, shows: "no flue to sample"},
			{base: "flueless", changes: neither, want: miss},
		},
		"heat.input": {
			{changes: "pressure.examined=pressure; section.heat=", want: exempt, shows: "perating pressure was examined"},
			{changes: neither + "section.heat=", want: exempt},
			{changes: "pressure.examined=input; section.heat=", want: miss},
		},
		"flue.joints": {
			{base: "cooker", changes: "", want: exempt, shows: "no flue"},
			{base: "cooker", changes: "flue.joints=no", want: out},
		},
	})
}
