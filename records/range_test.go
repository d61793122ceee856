package records_test

import (
	"testing"

	"gaugebook/records"
)

// entryRange is what a number field takes: at its ends, and no step beyond.
type entryRange struct {
	key         string
	least, most string // accepted
	below, over string // refused; "" where a minus sign is
	unit        string
}

// The ranges are our own choice, wide enough for every genuine reading and
// narrow enough to refuse what cannot be read in the unit: common practice, no
// published source.
var entryRanges = []entryRange{
	{"appliance.rated_input_kw", "0.50", "100.00", "0.49", "100.01", "kW"},
	{"appliance.rated_output_kw", "0.50", "100.00", "0.49", "100.01", "kW"},
	{"appliance.stated_inlet_min_mbar", "1.00", "100.00", "0.99", "100.01", "mbar"},
	{"appliance.stated_inlet_max_mbar", "1.00", "100.00", "0.99", "100.01", "mbar"},
	{"appliance.stated_input_minus_pct", "0.0", "30.0", "-0.1", "30.1", "%"},
	{"appliance.stated_input_plus_pct", "0.0", "30.0", "-0.1", "30.1", "%"},
	{"appliance.stated_co_max_ppm", "1", "2000", "0", "2001", "ppm"},
	{"appliance.stated_ratio_max", "0.00010", "0.10000", "0.00009", "0.10001", ""},
	{"appliance.stated_co2_max_rate_low_pct", "1.00", "20.00", "0.99", "20.01", "%"},
	{"appliance.stated_co2_max_rate_high_pct", "1.00", "20.00", "0.99", "20.01", "%"},
	{"appliance.stated_co2_min_rate_low_pct", "1.00", "20.00", "0.99", "20.01", "%"},
	{"appliance.stated_co2_min_rate_high_pct", "1.00", "20.00", "0.99", "20.01", "%"},
	{"appliance.stated_flue_length_max_m", "0.10", "60.00", "0.09", "60.01", "m"},
	{"appliance.stated_flue_fall_min_mm_per_m", "0.0", "200.0", "-0.1", "200.1", "mm/m"},
	{"tightness.before_drop_mbar", "0.00", "100.00", "-0.01", "100.01", "mbar"},
	{"tightness.let_by_pressure_mbar", "0.00", "100.00", "-0.01", "100.01", "mbar"},
	{"tightness.let_by_min", "0.0", "60.0", "-0.1", "60.1", "min"},
	{"tightness.let_by_rise_mbar", "0.00", "100.00", "-0.01", "100.01", "mbar"},
	{"tightness.test_pressure_mbar", "0.00", "150.00", "-0.01", "150.01", "mbar"},
	{"tightness.stabilise_min", "0.0", "120.0", "-0.1", "120.1", "min"},
	{"tightness.test_min", "0.0", "120.0", "-0.1", "120.1", "min"},
	{"tightness.drop_mbar", "0.00", "100.00", "-0.01", "100.01", "mbar"},
	{"tightness.pipework_drop_mbar", "0.00", "100.00", "-0.01", "100.01", "mbar"},
	{"tightness.gas_temp_change_k", "-20.0", "20.0", "-20.1", "20.1", "K"},
	{"tightness.stated_drop_mbar", "0.00", "50.00", "-0.01", "50.01", "mbar"},
	{"pressure.standing_mbar", "0.00", "150.00", "-0.01", "150.01", "mbar"},
	{"pressure.meter_mbar", "0.00", "150.00", "-0.01", "150.01", "mbar"},
	{"pressure.appliance_mbar", "0.00", "150.00", "-0.01", "150.01", "mbar"},
	{"pressure.other_flow_m3_per_h", "0.000", "20.000", "-0.001", "20.001", "m³/h"},
	{"heat.start_m3", "0.000", "9999999.000", "-0.001", "9999999.001", "m³"},
	{"heat.end_m3", "0.000", "9999999.000", "-0.001", "9999999.001", "m³"},
	{"heat.dial_ft3", "0.10", "100.00", "0.09", "100.01", "ft³"},
	{"heat.turns", "1", "100", "0", "101", ""},
	{"heat.seconds", "1.0", "3600.0", "0.9", "3600.1", "s"},
	{"heat.cv_mj_per_m3", "25.00", "140.00", "24.99", "140.01", "MJ/m³"},
	{"combustion.settle_min", "0.0", "120.0", "-0.1", "120.1", "min"},
	{"combustion.ambient_co_ppm", "0", "1000", "-1", "1001", "ppm"},
	{"combustion.inlet_o2_pct", "0.00", "25.00", "-0.01", "25.01", "%"},
	{"combustion.inlet_co2_pct", "0.00", "20.00", "-0.01", "20.01", "%"},
	{"combustion.max_co_ppm", "0", "20000", "-1", "20001", "ppm"},
	{"combustion.max_co2_pct", "0.00", "25.00", "-0.01", "25.01", "%"},
	{"combustion.max_o2_pct", "0.00", "25.00", "-0.01", "25.01", "%"},
	{"combustion.max_flue_temp_c", "-20.0", "600.0", "-20.1", "600.1", "°C"},
	{"combustion.air_temp_c", "-30.0", "60.0", "-30.1", "60.1", "°C"},
	{"combustion.min_co_ppm", "0", "20000", "-1", "20001", "ppm"},
	{"combustion.min_co2_pct", "0.00", "25.00", "-0.01", "25.01", "%"},
	{"combustion.min_o2_pct", "0.00", "25.00", "-0.01", "25.01", "%"},
	{"combustion.min_flue_temp_c", "-20.0", "600.0", "-20.1", "600.1", "°C"},
	{"flue.length_m", "0.00", "60.00", "-0.01", "60.01", "m"},
	{"flue.fall_mm_per_m", "-100.0", "500.0", "-100.1", "500.1", "mm/m"},
	{"ventilation.opening_cm2", "0.0", "5000.0", "-0.1", "5000.1", "cm²"},
	{"ventilation.high_cm2", "0.0", "5000.0", "-0.1", "5000.1", "cm²"},
	{"ventilation.low_cm2", "0.0", "5000.0", "-0.1", "5000.1", "cm²"},
	{"ventilation.stated_high_cm2", "0.0", "5000.0", "-0.1", "5000.1", "cm²"},
	{"ventilation.stated_low_cm2", "0.0", "5000.0", "-0.1", "5000.1", "cm²"},
	{"ventilation.alarm_distance_m", "0.00", "30.00", "-0.01", "30.01", "m"},
	{"ventilation.alarm_from_wall_mm", "0", "10000", "-1", "10001", "mm"},
	{"ventilation.alarm_below_ceiling_mm", "0", "5000", "-1", "5001", "mm"},
	{"water.solids_mains_ppm", "1", "5000", "0", "5001", "ppm"},
	{"water.solids_system_ppm", "0", "20000", "-1", "20001", "ppm"},
	{"water.turbidity_ppm", "0", "5000", "-1", "5001", "ppm"},
	{"water.dose_l", "0.000", "100.000", "-0.001", "100.001", "l"},
	{"water.product_treats_l", "1.0", "2000.0", "0.9", "2000.1", "l"},
	{"water.volume_l", "1.0", "10000.0", "0.9", "10000.1", "l"},
	{"water.panels_single", "0", "200", "-1", "201", ""},
	{"water.panels_double", "0", "200", "-1", "201", ""},
	{"water.hardness_ppm", "0", "1000", "-1", "1001", "ppm"},
	{"water.cold_fill_bar", "0.00", "6.00", "-0.01", "6.01", "bar"},
	{"water.vessel_charge_bar", "0.00", "6.00", "-0.01", "6.01", "bar"},
	{"water.vessel_l", "0.5", "1000.0", "0.4", "1000.1", "l"},
	{"water.vessel_stated_l", "0.5", "1000.0", "0.4", "1000.1", "l"},
	{"water.static_height_m", "0.0", "100.0", "-0.1", "100.1", "m"},
	{"water.safety_valve_bar", "0.50", "10.00", "0.49", "10.01", "bar"},
	{"water.flow_max_c", "20", "110", "19", "111", "°C"},
	{"water.condensate_mm", "5.0", "150.0", "4.9", "150.1", "mm"},
	{"water.condensate_fall_mm_per_m", "-100.0", "1000.0", "-100.1", "1000.1", "mm/m"},
	{"water.condensate_outside_mm", "5.0", "150.0", "4.9", "150.1", "mm"},
	{"water.condensate_outside_m", "0.00", "50.00", "-0.01", "50.01", "m"},
	{"water.condensate_stated_mm", "5.0", "150.0", "4.9", "150.1", "mm"},
	{"water.condensate_stated_fall_mm_per_m", "0.0", "200.0", "-0.1", "200.1", "mm/m"},
	{"delivery.flow_c", "5.0", "110.0", "4.9", "110.1", "°C"},
	{"delivery.return_c", "5.0", "110.0", "4.9", "110.1", "°C"},
	{"delivery.heating_flow_l_per_min", "0.50", "500.00", "0.49", "500.01", "l/min"},
	{"delivery.design_flow_c", "20.0", "90.0", "19.9", "90.1", "°C"},
	{"delivery.hot_flow_l_per_min", "0.50", "100.00", "0.49", "100.01", "l/min"},
	{"delivery.hot_in_c", "0.0", "60.0", "-0.1", "60.1", "°C"},
	{"delivery.hot_out_c", "0.0", "100.0", "-0.1", "100.1", "°C"},
	{"delivery.hot_rated_kw", "0.50", "100.00", "0.49", "100.01", "kW"},
	{"electrical.fuse_a", "1", "63", "0", "64", "A"},
	{"electrical.fuse_stated_a", "1", "63", "0", "64", "A"},
	{"electrical.bond_mm2", "0.5", "50.0", "0.4", "50.1", "mm²"},
	{"electrical.bond_from_meter_mm", "0", "20000", "-1", "20001", "mm"},
	{"electrical.floor_m2", "1", "5000", "0", "5001", "m²"},
	{"electrical.zones", "1", "50", "0", "51", ""},
	{"handover.service_interval_months", "1", "60", "0", "61", "months"},
}

func TestNumbersAreTakenInTheirRange(t *testing.T) {
	listed := map[string]bool{}
	for _, c := range entryRanges {
		listed[c.key] = true
		f := records.FieldByKey(c.key)
		if f == nil || f.Unit != c.unit {
			t.Errorf("%s: %+v, want a field in %q", c.key, f, c.unit)
			continue
		}
		for _, entry := range []string{c.least, c.most} {
			if v, err := f.Parse(entry); err != nil || v.Text() != entry {
				t.Errorf("%s = %s: %q, %v", c.key, entry, v.Text(), err)
			}
			// one decimal more than the field has
			if _, err := f.Parse(entry + map[bool]string{true: ".0", false: "0"}[f.Decimals == 0]); err == nil {
				t.Errorf("%s: %s is taken with one decimal more", c.key, entry)
			}
		}
		for _, entry := range []string{c.below, c.over} {
			_, err := f.Parse(entry)
			mustBeAbout(t, c.key+" = "+entry, err, c.key, "“"+entry+"” is not accepted")
		}
	}
	for _, f := range numberFields() {
		if f.Section() != "" && records.FieldByKey(f.Key) == f && !listed[f.Key] {
			t.Errorf("%s: its range is not in the table", f.Key)
		}
	}
}
