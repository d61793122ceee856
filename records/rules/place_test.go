package rules_test

import "testing"

// Where an appliance may stand: Gas Safety (Installation and Use) Regulations
// 1998, regulations 6(9) and 30; 14 kW gross. Postcode areas from memory,
// unconfirmed; those on a border count for both nations.
func TestWhereTheApplianceStands(t *testing.T) {
	const open = "appliance.flue_kind=open-natural; appliance.rated_input_basis=gross; appliance.rated_input_kw="
	const place = "; appliance.location="
	in9 := func(postcode, nation string) string {
		return "property.postcode=" + postcode + "; property.nation=" + nation
	}
	mustJudge(t, map[string][]judged{
		"appliance.room": {
			{changes: "appliance.location=Bathroom; appliance.flue_kind=room-sealed-natural", want: in},
			{changes: "appliance.location=", want: exempt}, {changes: "appliance.flue_kind=", want: exempt},
			{changes: open + "5" + place + "BATHROOM", want: out, shows: "Only a room-sealed appliance"},
			{changes: open + "5" + place + "Shower room", want: out, shows: "at risk"},
			{changes: open + "5" + place + "En-suite", want: out, shows: "30(1)"},
			{changes: open + "5" + place + "Wet room", want: out},
			{changes: open + "5" + place + "Landing next to the bathroom", want: in},
			{changes: open + "5" + place + "Cupboard opposite the bathroom", want: in},
			{changes: open + "5" + place + "Loft above the bedroom", want: in},
			{changes: open + "14" + place + "Bedroom 2", want: doubt, shows: "shuts it off"},
			{changes: open + "14.01" + place + "Bedroom 2", want: out, shows: "Above 14 kW gross"},
			{changes: open + "12.7; appliance.rated_input_basis=net" + place + "Bedroom", want: out}, // 14.1 kW gross
			{changes: open + "12.6; appliance.rated_input_basis=net" + place + "Bedroom", want: doubt},
			{changes: open + place + "Bedroom 2", want: out}, {changes: open + "5" + place + "Nursery", want: doubt},
			{changes: open + "5; appliance.kind=cooker" + place + "Bedsit kitchen", want: in},
			{changes: open + "5; appliance.kind=cooker" + place + "Bathroom", want: out},
			{changes: "appliance.flue_kind=none" + place + "Bathroom", want: out},
			{changes: "appliance.flue_kind=open-fanned" + place + "Dormitory", want: out},
			{changes: "appliance.location=Cellar", want: in},
			{base: "propane", changes: "appliance.location=Basement flat", want: doubt, shows: "6(9)"},
			{base: "propane", changes: "appliance.location=Kitchen", want: in},
			{base: "propane", changes: "appliance.location=Hall, below ground level", want: doubt},
			{changes: "appliance.fuel=butane; appliance.location=Cellar", want: doubt},
		},
		"appliance.nation": {
			{changes: in9("EH1 1AA", "Scotland"), want: in},
			{changes: in9("EH1 1AA", "England"), want: doubt, shows: "lies in Scotland, yet"},
			{changes: in9("TD15 1AA", "England"), want: in}, {changes: in9("TD15 1AA", "Scotland"), want: in},
			{changes: in9("TD15 1AA", "Wales"), want: doubt}, {changes: in9("DG16 5AA", "England"), want: in},
			{changes: in9("CA1 1AA", "Scotland"), want: in}, {changes: in9("NE1 1AA", "Scotland"), want: in},
			{changes: in9("LA1 1AA", "Scotland"), want: doubt}, {changes: in9("CF10 1AA", "Wales"), want: in},
			{changes: in9("CF10 1AA", "England"), want: doubt, shows: "lies in Wales, yet"},
			{changes: in9("SA1 1AA", "England"), want: doubt}, {changes: in9("SY1 1AA", "Wales"), want: in},
			{changes: in9("SY1 1AA", "England"), want: in}, {changes: in9("LD1 1AA", "England"), want: in},
			{changes: in9("LL11 1AA", "England"), want: in}, {changes: in9("HR1 1AA", "Wales"), want: in},
			{changes: in9("BT1 1AA", "Northern Ireland"), want: in},
			{changes: in9("BT1 1AA", "Scotland"), want: doubt, shows: "lies in Northern Ireland, yet"},
			{changes: in9("B1 1AA", "Wales"), want: doubt}, {changes: in9("G1 1AA", "England"), want: doubt},
			{changes: in9("GL1 1AA", "Wales"), want: in}, {changes: in9("GU1 1AA", "Scotland"), want: doubt},
			{changes: in9("E1 1AA", "England"), want: in}, {changes: in9("ZE1 0AA", "Scotland"), want: in},
			{changes: in9("JE2 3AA", "England"), want: exempt, shows: "says nothing"},
			{changes: in9("IM1 1AA", "Scotland"), want: exempt},
			{changes: in9("1AA", "England"), want: exempt}, {changes: in9("EH1 1AA", ""), want: exempt},
		},
		"appliance.identified": {
			{changes: "appliance.kind=", want: miss}, {changes: "appliance.make=", want: miss},
			{changes: "appliance.model=", want: miss}, {changes: "appliance.serial=", want: miss},
			{changes: "appliance.location=", want: miss},
			{changes: "appliance.flue_kind=", want: miss},
		},
		// No more comes out than goes in, gross: 24.5 kW net is 27.2 kW; and at least
		// half of the net input, 12.25 kW: common practice, no published source.
		"appliance.rated_input": {
			{changes: "appliance.rated_output_kw=2.4; appliance.kind=water-heater", want: doubt},
			{changes: "appliance.rated_output_kw=2.4; appliance.kind=boiler-regular", want: doubt},
			{changes: "appliance.rated_output_kw=2.4; appliance.kind=boiler-system", want: doubt},
			{changes: "appliance.rated_output_kw=2.4; appliance.kind=range-cooker", want: in},
			{changes: "appliance.rated_output_kw=30; appliance.kind=range-cooker", want: doubt},
			{changes: "appliance.fuel=", want: in},
			{base: "propane", changes: "appliance.rated_output_kw=26.6", want: in},
			{base: "propane", changes: "appliance.rated_output_kw=26.7", want: doubt},
		},
	})
}

// What the manufacturer states: named with document, and page where it is looser
// than the general limit; nothing beyond what any manufacturer prints.
func TestWhatTheManufacturerStates(t *testing.T) {
	const of, page = "appliance.stated_document=Invented manual; appliance.", "; appliance.stated_page="
	near := func(mm, page string) string {
		return of + "stated_page=" + page + "; flue.distances=position:below-opening+distance_mm:400+stated_mm:" + mm
	}
	mustJudge(t, map[string][]judged{
		"appliance.stated_limits": {
			{base: "unlimited", changes: "appliance.stated_document=Invented manual", want: exempt},
			{changes: "appliance.stated_co2_max_rate_low_pct=9.6", want: doubt, shows: "is above Highest CO₂ at maximum"},
			{changes: "appliance.stated_co2_min_rate_low_pct=9.2", want: doubt, shows: "is above Highest CO₂ at minimum"},
			{base: "unlimited", changes: of + "stated_inlet_max_mbar=30.1" + page + "7", want: doubt,
				shows: "at most 30 mbar"},
			{base: "unlimited", changes: of + "stated_inlet_max_mbar=30" + page + "7", want: in},
			{base: "unlimited", changes: of + "stated_inlet_max_mbar=30", want: doubt, shows: "page"},
			{base: "unlimited", changes: of + "stated_inlet_max_mbar=25", want: in},
			{base: "unlimited", changes: of + "stated_inlet_min_mbar=14.9" + page + "7", want: doubt, shows: "at least 15"},
			{base: "unlimited", changes: of + "stated_inlet_min_mbar=15" + page + "7", want: in},
			{base: "unlimited", changes: of + "stated_input_minus_pct=10.1" + page + "7", want: doubt, shows: "at most 10 %"},
			{base: "unlimited", changes: of + "stated_input_plus_pct=10.1" + page + "7", want: doubt, shows: "at most 10 %"},
			{base: "unlimited", changes: of + "stated_input_plus_pct=5", want: in},
			{base: "unlimited", changes: of + "stated_co_max_ppm=701" + page + "7", want: doubt, shows: "at most 700 ppm"},
			{base: "unlimited", changes: of + "stated_co_max_ppm=700" + page + "7", want: in},
			{base: "unlimited", changes: of + "stated_co_max_ppm=351", want: doubt}, // 350 ppm is general
			{base: "unlimited", changes: of + "stated_co_max_ppm=350", want: in},
			{base: "unlimited", changes: of + "stated_ratio_max=0.02" + page + "7", want: doubt},
			{base: "unlimited", changes: of + "stated_ratio_max=0.004", want: in},
			{base: "unlimited", changes: of + "stated_ratio_max=0.0041", want: doubt, shows: "page"},
			{base: "unlimited", changes: of + "stated_flue_length_max_m=9", want: in},
			{base: "unlimited", changes: of + "stated_flue_fall_min_mm_per_m=24.9" + page + "7", want: doubt,
				shows: "at least 25 mm/m"},
			{base: "unlimited", changes: of + "stated_flue_fall_min_mm_per_m=24.9; appliance.condensing=no" + page + "7",
				want: in},
			{base: "unlimited", changes: of + "stated_page=; electrical.fuse_stated_a=14", want: doubt, shows: "at most 13 A"},
			{base: "unlimited", changes: of + "stated_page=; electrical.fuse_stated_a=13", want: doubt, shows: "page"},
			{base: "unlimited", changes: of + "stated_page=7; electrical.fuse_stated_a=13", want: in},
			{base: "unlimited", changes: of + "stated_page=7; water.condensate_stated_mm=15.9", want: doubt,
				shows: "at least 16 mm"},
			{base: "unlimited", changes: near("299", ""), want: doubt, shows: "page"},
			{base: "unlimited", changes: near("300", ""), want: exempt},
			{base: "unlimited", changes: near("299", "7"), want: in, shows: "Distances of the terminal below"},
		},
	})
}
