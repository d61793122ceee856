package rules_test

import "testing"

// The flue: lengths and falls by the sample's manufacturer (9 m, 44 mm/m),
// distances by BS 5440-1 as testdata/gas has its table, guards below 2 m.
func TestFlueRouteAndTerminal(t *testing.T) {
	bend := func(more string) string { return "flue.bends=angle_deg:90+count:1+equivalent_m:1" + more + "; " }
	at := func(places string) string { return "flue.distances=" + places }
	mustJudge(t, map[string][]judged{
		"flue.length": {
			{changes: bend("") + "flue.length_m=8", want: in, shows: "Together 9 m"},
			{changes: bend("") + "flue.length_m=8.01", want: out, shows: "longer than the manufacturer allows"},
			{changes: bend("|angle_deg:45+count:2+equivalent_m:0.5") + "flue.length_m=7", want: in, shows: "2 × bend of 45°"},
			{changes: bend("|angle_deg:45+count:2+equivalent_m:0.5") + "flue.length_m=7.01", want: out},
			{changes: bend("|angle_deg:45+equivalent_m:0.5"), want: miss, shows: "Bend row 2"},
			{changes: bend("|angle_deg:45+count:1"), want: miss, shows: "Bend row 2"},
			{changes: "flue.length_m=0", want: miss, shows: "no flue without length"},
			{changes: "flue.length_m=18; flue.bends=", want: out}, {changes: "flue.length_m=", want: miss},
			{changes: "flue.bends=angle_deg:90+count:1+equivalent_m:0", want: doubt},
			{changes: "flue.bends=; flue.length_m=9; appliance.stated_flue_length_max_m=", want: miss,
				shows: "maximum length"},
		},
		"flue.fall": {
			{changes: "flue.fall_mm_per_m=-52", want: out, shows: "condensate will stay"},
			{changes: "flue.fall_mm_per_m=", want: miss},
			{changes: "flue.terminal=roof; flue.fall_mm_per_m=20", want: out},
			{changes: "appliance.stated_flue_fall_min_mm_per_m=", want: miss, shows: "2.5° is 43.7 mm/m"},
			{changes: "appliance.stated_flue_fall_min_mm_per_m=; flue.fall_mm_per_m=", want: miss},
			{changes: "appliance.condensing=no; flue.fall_mm_per_m=30", want: out},
		},
		"flue.terminal": {
			{changes: at("position:below-opening+distance_mm:400|position:below-eaves+distance_mm:199"), want: out,
				shows: "eaves"},
			{changes: at("position:below-eaves+distance_mm:199|position:below-opening+distance_mm:299"), want: out,
				shows: "199 mm"},
			{changes: at("position:from-own-wall+distance_mm:100|position:below-eaves+distance_mm:199"), want: out},
			{changes: at("position:below-eaves+distance_mm:250|position:from-own-wall+distance_mm:100"), want: miss,
				shows: "manufacturer's figure"},
			{changes: at("position:below-eaves+distance_mm:250|distance_mm:900"), want: miss, shows: "row 2 needs"},
			{changes: at("position:below-opening+distance_mm:300|position:below-eaves+distance_mm:900"), want: in,
				shows: "300 mm"},
			{changes: at("position:below-eaves+distance_mm:200+stated_mm:25"), want: in},
			{changes: at("position:below-opening+distance_mm:299"), want: out},
			{changes: at("position:below-opening+distance_mm:30"), want: out},
			{base: "fire", changes: "flue.terminal=wall; " + at("position:below-opening+distance_mm:3000"), want: out,
				shows: "must not end at a wall"},
			{base: "landlord", changes: at(""), want: exempt}, {changes: "flue.terminal=", want: miss},
			{changes: "appliance.flue_kind=", want: miss},
			{changes: "appliance.rated_input_kw=; " + at("position:below-opening+distance_mm:300"), want: miss,
				shows: "rated heat input"},
		},
		"flue.guard": {
			{changes: "flue.low=yes; flue.guard=no", want: out, shows: "within reach"},
			{changes: "flue.low=yes; flue.guard=yes", want: in, shows: "fitted"},
		},
		"flue.nuisance": {
			{changes: "flue.nuisance=yes; appliance.condensing=no", want: out},
			{changes: "flue.nuisance=no; appliance.condensing=no", want: in},
			{changes: "flue.nuisance=; appliance.condensing=no", want: exempt, shows: "does not condense"},
		},
		"flue.flow": { // judged whatever the flue is said to be
			{changes: "flue.flow_test=failed", want: out, shows: "immediately dangerous"},
			{changes: "flue.flow_test=drawn", want: in},
			{changes: "appliance.flue_kind=", want: miss}, {changes: "appliance.flue_kind=open-fanned", want: miss},
		},
		"flue.spillage": {
			{changes: "flue.spillage_test=failed", want: out, shows: "turn the appliance off"},
			{changes: "flue.spillage_test=drawn", want: in},
			{base: "fire", changes: "flue.spillage_test=", want: miss},
			{base: "fire", changes: "flue.spillage_test=failed", want: out, shows: "immediately dangerous"},
		},
	})
}

// Openings: 5 cm² for each kW net above 7 (BS 5440-2), without the allowance in
// Northern Ireland; the instructions first.
func TestVentilationOpenings(t *testing.T) {
	const fire = "appliance.rated_input_kw=20; appliance.rated_input_basis=net; "
	const states = "ventilation.stated_document=Invented manual page 4; ventilation.stated="
	mustJudge(t, map[string][]judged{
		"ventilation.opening": {
			{base: "fire", changes: fire + "ventilation.airtight=no; ventilation.opening_cm2=6.5", want: out,
				shows: "at risk"},
			{base: "fire", changes: fire + "ventilation.airtight=no; ventilation.opening_cm2=650", want: in},
			{base: "fire",
				changes: fire + "appliance.rated_input_basis=gross; ventilation.airtight=no; ventilation.opening_cm2=55.1",
				want:    in},
			{base: "fire",
				changes: fire + "appliance.rated_input_basis=gross; ventilation.airtight=no; ventilation.opening_cm2=54",
				want:    out},
			{base: "fire", changes: fire + "property.nation=Northern Ireland; ventilation.opening_cm2=99.9", want: out,
				shows: "no 7 kW allowance"},
			{base: "fire",
				changes: fire + "property.nation=Northern Ireland; ventilation.airtight=; ventilation.opening_cm2=100", want: in},
			{base: "fire", changes: fire + states + "area; ventilation.opening_cm2=40; ventilation.stated_low_cm2=",
				want: miss},
			{base: "fire", changes: fire + states + "area; ventilation.opening_cm2=99.9; ventilation.stated_low_cm2=100",
				want: out, shows: "manufacturer"},
			{base: "fire", changes: fire + states + "silent; ventilation.airtight=no; ventilation.opening_cm2=64.9",
				want: out},
			{base: "fire", changes: fire + "ventilation.stated=area; ventilation.stated_low_cm2=40", want: miss,
				shows: "Not entered"},
			{changes: "ventilation.opening_cm2=", want: exempt, shows: "room-sealed"},
			{changes: "ventilation.place=outdoors; ventilation.opening_cm2=", want: exempt, shows: "outdoors"},
		},
		"ventilation.clear": {
			{changes: "ventilation.opening_cm2=0", want: exempt, shows: "No opening"},
			{changes: "ventilation.opening_cm2=0.1", want: miss},
			{changes: "ventilation.opening_cm2=50; ventilation.clear=yes", want: in},
			{changes: "ventilation.opening_cm2=50; ventilation.clear=no", want: out},
			{changes: "ventilation.high_cm2=50; ventilation.clear=no", want: out},
			{changes: "ventilation.low_cm2=50; ventilation.clear=no", want: out},
			{changes: "ventilation.opening_cm2=; ventilation.clear=no", want: out, shows: "none is on the record"},
			{changes: "ventilation.opening_cm2=; ventilation.clear=yes", want: exempt},
		},
	})
}
