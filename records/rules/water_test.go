package rules_test

import "testing"

// The water of the system: BS 7593, dissolved solids within 10 % of the main;
// BS EN 12828 for vessel and safety valve; Approved Document G and the water
// regulations for what is let out, each as the limit names it.
func TestWaterOfTheSystem(t *testing.T) {
	const panels = "water.volume_l=; water.volume_basis=panels; "
	const output = "water.volume_l=; water.volume_basis=output; "
	mustJudge(t, map[string][]judged{
		"water.solids": { // cold main 310 ppm
			{changes: "water.solids_system_ppm=341", want: in},
			{changes: "water.solids_system_ppm=342", want: doubt, shows: "keep flushing"},
			{changes: "water.solids_system_ppm=279", want: in},
			{changes: "water.solids_system_ppm=278", want: doubt, shows: "swapped"},
			{changes: "water.solids_system_ppm=3280", want: out, shows: "flush again"},
			{changes: "water.solids_system_ppm=32", want: doubt, shows: "less dissolved solids"},
			{changes: "water.solids_mains_ppm=", want: miss}, {changes: "water.solids_system_ppm=", want: miss},
			{changes: "water.solids_mains_ppm=; water.solids_system_ppm=; water.turbidity_ppm=100", want: exempt,
				shows: "Turbidity was read"},
			{changes: "water.solids_mains_ppm=; water.solids_system_ppm=", want: miss},
			{base: "service", changes: "water.solids_mains_ppm=; water.solids_system_ppm=", want: exempt},
		},
		"water.turbidity": { // below 200 ppm
			{changes: "water.turbidity_ppm=199", want: in}, {changes: "water.turbidity_ppm=200", want: out, shows: "cloudy"},
			{changes: "water.solids_mains_ppm=; water.solids_system_ppm=", want: miss},
			{changes: "water.solids_mains_ppm=", want: exempt, shows: "Dissolved solids were read"},
		},
		"water.volume": { // 24 kW: 24 l at least; a dose of at most a twentieth
			{changes: "water.volume_l=24", want: in}, {changes: "water.volume_l=23.9", want: doubt, shows: "so little water"},
			{changes: "water.volume_l=8.5", want: doubt}, {changes: "water.dose_l=4.25", want: in},
			{changes: "water.dose_l=4.251", want: doubt, shows: "dose 4.251 l"}, {changes: "water.dose_l=10", want: doubt},
			{changes: "water.volume_l=", want: exempt}, {changes: "appliance.rated_output_kw=", want: exempt},
		},
		"water.inhibitor": { // a litre treats 100 l, and there are 85 l
			{changes: "water.dose_l=0.85", want: in, shows: "1 % of the system's water"},
			{changes: "water.dose_l=0.849", want: out},
			{changes: "water.dose_l=", want: miss}, {changes: "water.dose_l=; water.inhibitor_level=enough", want: exempt},
			{changes: "water.dose_l=; water.inhibitor_level=low", want: miss},
			{changes: "water.inhibitor=", want: miss},
			{changes: "water.product_treats_l=", want: miss, shows: "no general dose"},
			{changes: "water.volume_l=", want: miss}, {changes: "water.volume_basis=", want: miss},
			{changes: panels + "water.panels_single=4; water.panels_double=3", want: in, shows: "estimated"},
			{changes: panels + "water.panels_double=15", want: doubt, shows: "measure the volume"},
			{changes: panels, want: miss},
			{changes: panels + "water.panels_single=0", want: miss, shows: "cannot be worked out"},
			{changes: output + "water.emitters=microbore", want: doubt, shows: "24 kW × 6 l/kW"},
			{changes: output, want: miss}, {changes: output + "water.emitters=steel; appliance.rated_output_kw=", want: miss},
			{changes: output + "water.emitters=underfloor; water.dose_l=6", want: in},
			{changes: output + "water.emitters=cast-iron; water.dose_l=3.36", want: in},
		},
		"water.inhibitor_level": {
			{changes: "water.inhibitor_level=low", want: in, shows: "then dosed with 1.0 l"},
			{changes: "water.inhibitor_level=low; water.dose_l=", want: out, shows: "will corrode"},
			{changes: "water.inhibitor_level=low; water.dose_l=0", want: out},
			{changes: "water.inhibitor_level=enough", want: in}, {changes: "", want: exempt, shows: "dosed at this visit"},
			{changes: "water.dose_l=0", want: miss}, {base: "service", changes: "water.dose_l=", want: exempt},
		},
		"water.scale": { // 200 ppm: Approved Document L, as the limit names it
			{changes: "water.hardness_ppm=200", want: in}, {changes: "water.hardness_ppm=201", want: out},
			{changes: "water.hardness_ppm=201; water.scale=softener", want: in, shows: "has scale treatment"},
			{changes: "water.hardness_ppm=201; water.scale=physical", want: in},
			{changes: "water.hardness_ppm=201; water.scale=", want: miss},
			{changes: "water.hardness_ppm=", want: miss},
			{changes: "water.hardness_ppm=; appliance.kind=boiler-system", want: exempt},
			{changes: "water.hardness_ppm=; appliance.kind=boiler-regular", want: exempt, shows: "straight from the main"},
		},
		"water.vessel_charge": { // 4.5 m by 10.2 m/bar: 0.44 bar
			{changes: "water.vessel_charge_bar=0.44", want: in}, {changes: "water.vessel_charge_bar=0.43", want: out},
			{changes: "water.vessel_charge_bar=1.2", want: in},
			{changes: "water.vessel_charge_bar=1.21", want: doubt, shows: "above the cold pressure"},
			{changes: "water.vessel_charge_bar=1.21; water.cold_fill_bar=", want: in},
			{changes: "water.static_height_m=45", want: out}, {changes: "water.static_height_m=", want: miss},
			{changes: "water.vessel_charge_bar=", want: miss}, {changes: "water.system=", want: miss},
			{changes: "water.system=open-vented; water.vessel_charge_bar=; water.static_height_m=; " +
				"water.cold_fill_bar=", want: exempt, shows: "open vented"},
		},
		"water.vessel_size": { // 5.6 l by the formula; a third less is far too small
			{changes: "water.vessel_l=5.6", want: in},
			{changes: "water.vessel_l=5.5", want: doubt, shows: "look up the manufacturer's"},
			{changes: "water.vessel_l=0.8", want: out, shows: "far too small"}, {changes: "water.vessel_l=", want: miss},
			{changes: "water.vessel_stated_l=8", want: in},
			{changes: "water.vessel_stated_l=8.1", want: out, shows: "than the manufacturer requires"},
			{changes: "water.flow_max_c=", want: miss}, {changes: "water.safety_valve_bar=", want: miss},
			{changes: "water.cold_fill_bar=3", want: doubt, shows: "no vessel can take up the expansion"},
			{changes: "water.volume_l=", want: miss}, {changes: "water.volume_l=850", want: out},
		},
		"water.safety_valve": {
			{changes: "water.safety_valve_bar=3", want: in},
			{changes: "water.safety_valve_bar=3.01", want: doubt, shows: "data plate"},
			{changes: "water.safety_valve_bar=", want: miss},
		},
		"water.discharge": {
			{changes: "water.discharge_pipe=no", want: out, shows: "not metal"},
			{changes: "water.discharge_end=no", want: out, shows: "scald"},
			{changes: "water.discharge_pipe=no; water.discharge_end=no", want: out, shows: "not metal"},
			{changes: "water.discharge_end=", want: miss},
		},
		"water.filling_loop": {{changes: "water.filling_loop_off=no", want: out}, {changes: "water.filling_loop_off=",
			want: miss}},
		"water.cleaned": {
			{changes: "water.cleaning=none", want: out, shows: "not cleaned"}, {changes: "water.cleaning=power", want: in},
			{changes: "water.cleaning=gravity", want: in}, {changes: "water.cleaning=", want: miss},
		},
		"water.condensate_end": {
			{changes: "water.condensate_end=rainwater", want: out, shows: "acid"},
			{changes: "water.condensate_end=soakaway", want: in},
			{changes: "water.condensate_end=", want: miss},
			{changes: "water.condensate_end=; appliance.condensing=no", want: exempt, shows: "does not condense"},
			{changes: "water.condensate_end=rainwater; appliance.condensing=no", want: out},
		},
		"water.condensate_size": { // 19 mm inside: BS 6798, the manufacturer's figure first
			{changes: "water.condensate_mm=19", want: in}, {changes: "water.condensate_mm=18.9", want: out},
			{changes: "water.condensate_mm=21.5; water.condensate_stated_mm=22", want: out, shows: "manufacturer"},
			{changes: "water.condensate_mm=22; water.condensate_stated_mm=22", want: in},
		},
		"water.condensate_fall": { // 2.5°: 44 mm/m
			{changes: "water.condensate_fall_mm_per_m=44", want: in},
			{changes: "water.condensate_fall_mm_per_m=43.9", want: out},
			{changes: "water.condensate_fall_mm_per_m=-52", want: out},
			{changes: "water.condensate_fall_mm_per_m=", want: miss},
		},
		"water.condensate_insulated": {
			{changes: "water.condensate_outside=yes; water.condensate_insulated=no", want: out, shows: "freeze shut"},
			{changes: "water.condensate_outside=yes; water.condensate_insulated=yes", want: in},
			{changes: "water.condensate_outside=yes", want: miss}, {changes: "water.condensate_outside=", want: miss},
			{changes: "water.condensate_insulated=no", want: out},
		},
	})
}
