package rules_test

import "testing"

// Answers that take checks away: each needs a fact or a reason, and nothing on
// the record against it. Common practice, no published source.
func TestAnswersAndReadingsAgree(t *testing.T) {
	const fire = "appliance.kind=fire"
	mustJudge(t, map[string][]judged{
		"appliance.kind_fits": {
			{want: exempt}, {changes: "appliance.kind=", want: exempt},
			{changes: fire, want: doubt, shows: "How the system was cleaned"},
			{changes: fire + "; section.water=; section.delivery=", want: doubt, shows: "Heating times can be set"},
			{changes: fire + "; section.water=; section.delivery=; section.controls=", want: in},
			{changes: "appliance.kind=cooker; section.water=; section.delivery=; section.controls=", want: doubt,
				shows: "zeroed"},
			{changes: "appliance.kind=boiler-system", want: doubt, shows: "Hot water flow"},
			{changes: "appliance.kind=boiler-regular; delivery.hot_flow_l_per_min=; delivery.hot_in_c=", want: doubt,
				shows: "Hot water out"},
			{changes: "appliance.kind=boiler-system; delivery.hot_flow_l_per_min=; delivery.hot_in_c=; " +
				"delivery.hot_out_c=", want: in},
			{changes: "appliance.kind=water-heater", want: doubt},
			{changes: "appliance.kind=water-heater; section.water=; section.delivery=; section.controls=; " +
				"delivery.hot_out_c=45", want: in},
			{changes: "appliance.kind=warm-air; section.water=; section.delivery=; section.controls=; " +
				"delivery.hot_out_c=45", want: doubt},
		},
		"appliance.flue_kind_fits": {
			{changes: "appliance.flue_kind=none; section.flue=", want: doubt, shows: "Oxygen in the air inlet"},
			{changes: "appliance.flue_kind=none; section.flue=; combustion.inlet_o2_pct=; combustion.inlet_co2_pct=",
				want: in},
			{changes: "appliance.flue_kind=open-fanned; combustion.inlet_o2_pct=", want: doubt, shows: "CO₂ in the air"},
			{changes: "appliance.flue_kind=open-natural", want: doubt},
			{changes: "flue.spillage_test=drawn", want: doubt, shows: "Spillage test"},
			{changes: "appliance.flue_kind=room-sealed-natural; flue.flow_test=failed", want: doubt, shows: "flow test"},
		},
		"appliance.condensing_fits": {
			{want: exempt},
			{changes: "appliance.condensing=no; water.condensate_mm=; water.condensate_fall_mm_per_m=; " +
				"water.condensate_outside=; water.condensate_end=; water.condensate_trap=", want: doubt,
				shows: "a new boiler condenses"},
		},
		"appliance.installed_fits": {
			{changes: "appliance.installed=new", want: exempt}, {changes: "appliance.installed=", want: exempt},
		},
		"appliance.fuel_fits": {
			{changes: "appliance.fuel=butane", want: doubt},
		},
		"tightness.supply_fits": {
			{changes: "tightness.supply=medium; tightness.stated_drop_source=Invented procedure", want: in},
			{changes: "tightness.stated_drop_mbar=1", want: doubt, shows: "a limit of its own"},
			{base: "propane", want: exempt},
		},
		"tightness.situation_fits": {
			{base: "service", changes: "tightness.situation=none-connected", want: in},
			{changes: "tightness.situation=new; tightness.pipework_drop_mbar=0", want: doubt, shows: "appliances isolated"},
		},
		"tightness.gauge_kind_fits": {
			{changes: "instrument.gauge-1.pressure=0.1 ± 0.2", want: in},
			{changes: "tightness.gauge_kind=water; instrument.gauge-1.pressure=0.5 ± 0.5", want: exempt},
		},
		"tightness.meter_fits": {
			{changes: "tightness.meter=none; heat.start_m3=; heat.end_m3=", want: in},
			{changes: "tightness.meter=none; heat.start_m3=; heat.end_m3=; heat.turns=2", want: doubt, shows: "Whole turns"},
		},
		"pressure.examined_fits": {
			{want: exempt},
			{changes: "pressure.examined=input", want: doubt, shows: "Standing pressure"},
			{changes: "pressure.examined=neither; section.heat=; section.pressure=; pressure.examined=neither", want: miss},
			{changes: "section.heat=; section.pressure=; pressure.examined=neither; pressure.examined_reason=No test point",
				want: in},
		},
		"pressure.load_fits": {
			{changes: "pressure.load=highest; pressure.other_flow_m3_per_h=1", want: exempt},
		},
		"heat.meter_fits": {
			{changes: "heat.dial_ft3=1", want: doubt, shows: "test dial"},
			{base: "imperial", changes: "heat.end_m3=2", want: doubt, shows: "at the end"},
		},
		"combustion.min_rate_fits": {
			{changes: "combustion.min_rate=not-possible", want: doubt, shows: "46.9 °C"},
			{changes: "combustion.min_rate_reason=none", want: exempt},
			{base: "fire", changes: "combustion.min_rate=not-possible; combustion.min_co_ppm=; combustion.min_co2_pct=; " +
				"combustion.min_o2_pct=; combustion.min_flue_temp_c=", want: in, shows: "one rate only"},
			{changes: "combustion.min_rate=not-possible; combustion.min_co_ppm=; combustion.min_co2_pct=; " +
				"combustion.min_o2_pct=; combustion.min_flue_temp_c=", want: miss, shows: "instructions say so"},
		},
		"combustion.co2_method_fits": {
			{changes: "combustion.co2_method=measured; instrument.analyser-1.oxygen=0.1 ± 0.3; " +
				"instrument.analyser-1.co2=0.1 ± 0.3", want: in},
			{changes: "instrument.analyser-1.oxygen=0.1 ± 0.3", want: exempt},
		},
		"flue.system_fits": {
			{want: exempt},
			{changes: "flue.system=twin", want: doubt, shows: "Oxygen in the air inlet"},
			{base: "fire", want: in},
		},
		"flue.terminal_fits": {
			{changes: "flue.terminal=roof; flue.fall_mm_per_m=; flue.distances=position:below-eaves+distance_mm:300",
				want: doubt, shows: "a distance is measured"},
			{changes: "flue.terminal=roof; flue.fall_mm_per_m=; flue.distances=position:below-gutter+distance_mm:300",
				want: doubt},
			{changes: "flue.terminal=roof; flue.fall_mm_per_m=; flue.distances=position:from-own-wall+distance_mm:300",
				want: doubt},
			{changes: "flue.terminal=roof; flue.fall_mm_per_m=; flue.distances=position:above-ground+distance_mm:3000",
				want: in},
		},
		"flue.low_fits": {
			{changes: "flue.distances=position:below-opening+distance_mm:1000", want: in},
			{changes: "flue.guard=yes", want: doubt, shows: "Guard fitted"}, {changes: "flue.low=yes", want: exempt},
		},
		"ventilation.place_fits": {
			{base: "fire", changes: "ventilation.place=outdoors; ventilation.airtight=; ventilation.opening_cm2=", want: doubt,
				shows: "Gas fire"},
			{changes: "ventilation.place=outdoors; ventilation.airtight=; ventilation.opening_cm2=", want: in},
			{changes: "ventilation.place=outdoors", want: doubt, shows: "Permanent opening"},
			{changes: "ventilation.high_cm2=10", want: doubt, shows: "High opening"},
		},
		"ventilation.vents_to_fits": {
			{changes: "ventilation.vents_to=none; ventilation.high_cm2=1", want: doubt, shows: "High opening"},
			{changes: "ventilation.vents_to=none; ventilation.low_cm2=1", want: doubt, shows: "Low opening"},
			{changes: "ventilation.vents_to=none", want: in}, {changes: "ventilation.vents_to=room", want: exempt},
		},
		"ventilation.stated_fits": {
			{changes: "ventilation.stated=none; ventilation.stated_document=Invented manual", want: in},
			{base: "fire", changes: "appliance.rated_input_kw=20; ventilation.stated=none; " +
				"ventilation.stated_document=Invented manual", want: doubt, shows: "Open flue"},
			{base: "fire", changes: "appliance.rated_input_kw=6; ventilation.stated=none; " +
				"ventilation.stated_document=Invented manual", want: in}, // below 7 kW net
			{base: "flueless", changes: "ventilation.stated=none; ventilation.stated_document=Invented manual", want: doubt},
		},
		"ventilation.alarm_fits": {
			{want: exempt},
		},
		"ventilation.alarm_fixed_fits": {
			{changes: "ventilation.alarm_below_ceiling_mm=200", want: doubt},
			{changes: "ventilation.alarm_fixed=free; ventilation.alarm_from_wall_mm=", want: in},
		},
		"water.volume_basis_fits": {
			{changes: "water.panels_single=3", want: doubt, shows: "Single-panel"},
			{changes: "water.volume_basis=output", want: doubt}, {changes: "water.emitters=steel", want: doubt},
		},
		"water.system_fits": {
			{changes: "water.system=open-vented", want: doubt, shows: "Combination boiler"},
			{changes: "water.system=open-vented; appliance.kind=boiler-regular", want: doubt, shows: "Pressure when cold"},
			{want: exempt},
		},
		"water.condensate_outside_fits": {
			{changes: "water.condensate_outside_m=1", want: doubt, shows: "Run outdoors"},
			{changes: "water.condensate_insulated=yes", want: doubt, shows: "Insulated"},
			{changes: "water.condensate_outside=yes; water.condensate_outside_m=1", want: exempt},
		},
		"electrical.supply_fits": {
			{changes: "electrical.supply=none", want: doubt, shows: "Fuse fitted"},
			{base: "fire", changes: "electrical.supply=none; electrical.fuse_a=; electrical.polarity=; electrical.earth=; " +
				"electrical.isolation=", want: in},
		},
		"electrical.bond_fits": {
			{changes: "electrical.bond=absent", want: doubt, shows: "Bonding conductor"},
		},
		"electrical.bond_at_fits": {
			{want: exempt},
		},
		"handover.notifiable_fits": {
			{changes: "handover.notifiable=no; appliance.installed=new; property.nation=Wales", want: doubt},
			{changes: "handover.notifiable=no; handover.notifiable_reason=Invented exemption", want: in},
			{changes: "handover.notifiable=no; property.nation=Scotland", want: in, shows: "own rules"},
			{changes: "handover.notifiable=no; property.nation=Northern Ireland", want: in},
			{changes: "handover.notifiable=no; appliance.kind=cooker", want: in, shows: "A cooker is not notified"},
			{base: "service", changes: "handover.notifiable=no", want: in, shows: "Nothing was installed"},
		},
	})
}
