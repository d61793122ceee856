package rules_test

import "testing"

// What is read in the room and in the air inlet, and the times. Oxygen of fresh
// air 20.9 % with 0.35 % for the sensor; CO to 3 ppm in the room and 20 ppm in
// the flue: EN 50379-2 and -3, from memory, unconfirmed.
func TestDoubtsOfTheAir(t *testing.T) {
	mustJudge(t, map[string][]judged{
		"combustion.oxygen_range": {
			{changes: "combustion.inlet_o2_pct=21.25", want: in},
			{changes: "combustion.inlet_o2_pct=21.26", want: doubt, shows: "21.26 %"},
			{changes: "combustion.max_o2_pct=21.3", want: doubt}, {changes: "combustion.min_o2_pct=21.3", want: doubt},
			{changes: "combustion.inlet_o2_pct=22; combustion.max_o2_pct=23", want: doubt, shows: "23 %"},
			{changes: "combustion.inlet_o2_pct=; combustion.max_o2_pct=; combustion.min_o2_pct=", want: exempt},
			{changes: "combustion.inlet_o2_pct=; combustion.max_o2_pct=", want: in, shows: "5.4 %"},
			{changes: "combustion.inlet_o2_pct=0; combustion.max_o2_pct=; combustion.min_o2_pct=", want: in},
		},
		"combustion.inlet_agree": { // 0.3 % each for the two sensors
			{changes: "combustion.inlet_co2_pct=0.6", want: in}, {changes: "combustion.inlet_co2_pct=0.61", want: doubt},
			{changes: "combustion.inlet_o2_pct=20.6; combustion.inlet_co2_pct=0.17", want: in},
			{changes: "combustion.inlet_o2_pct=18; combustion.inlet_co2_pct=1.6", want: in}, // a true recirculation
			{changes: "combustion.inlet_o2_pct=18", want: doubt, shows: "contradict each other"},
			{changes: "combustion.inlet_o2_pct=21.2", want: in}, // as 20.9
			{changes: "combustion.inlet_o2_pct=2.09", want: doubt, shows: "At 2.09 % O₂ expect"},
			{changes: "combustion.inlet_o2_pct=", want: exempt}, {changes: "combustion.inlet_co2_pct=", want: exempt},
			{changes: "appliance.fuel=", want: exempt},
		},
		"combustion.ambient_flue": { // 3 + 20 + 2 ppm
			{changes: "combustion.ambient_co_ppm=117", want: in}, {changes: "combustion.ambient_co_ppm=118", want: doubt},
			{changes: "combustion.ambient_co_ppm=40; combustion.max_co_ppm=", want: doubt, shows: "room 40 ppm, flue 14 ppm"},
			{changes: "combustion.ambient_co_ppm=39; combustion.max_co_ppm=", want: in},
			{changes: "combustion.ambient_co_ppm=118; combustion.min_co_ppm=118", want: in},
			{changes: "combustion.ambient_co_ppm=", want: exempt},
			{changes: "combustion.max_co_ppm=; combustion.min_co_ppm=", want: exempt, shows: "not both entered"},
		},
		"combustion.time_enough": { // clocks differ by up to 2 minutes
			{changes: "combustion.time=10:43", want: in},
			{changes: "combustion.time=10:42", want: doubt, shows: "7 min between"},
			{changes: "combustion.settle_min=72", want: in}, {changes: "combustion.settle_min=72.1", want: doubt},
			{changes: "combustion.settle_min=100", want: doubt, shows: "does not fit"}, // 10.0 without its point
			{changes: "combustion.time=10:35; combustion.settle_min=2", want: in},
			{changes: "combustion.time=10:34", want: exempt, shows: "earlier than the test"},
			{changes: "tightness.time=", want: exempt}, {changes: "combustion.time=", want: exempt},
			{changes: "combustion.settle_min=", want: exempt, shows: "not all entered"},
		},
		"combustion.ambient_co": { // WHO guideline of 9 ppm over 8 hours, as the limit names it
			{changes: "combustion.ambient_co_ppm=9", want: in}, {changes: "combustion.ambient_co_ppm=10", want: out},
			{changes: "combustion.ambient_co_ppm=", want: miss},
		},
	})
}

// Answers of the appliance that cannot all be true.
func TestDoubtsOfTheAppliance(t *testing.T) {
	mustJudge(t, map[string][]judged{
		"appliance.fits": {
			{changes: "appliance.flue_kind=room-sealed-natural", want: doubt, shows: "it needs a fan"},
			{changes: "appliance.flue_kind=open-fanned", want: in},
			{changes: "appliance.flue_kind=open-natural; appliance.condensing=no", want: in},
			{changes: "appliance.flue_kind=open-natural; appliance.condensing=", want: in},
			{changes: "appliance.kind=fire; appliance.condensing=no; appliance.flue_kind=none", want: in},
			{changes: "appliance.kind=boiler-system; appliance.flue_kind=none", want: doubt, shows: "entered as flueless"},
			{changes: "appliance.kind=boiler-regular; appliance.flue_kind=none", want: doubt},
			{changes: "appliance.flue_kind=", want: exempt},
		},
		// Areas of postcodes and their nations: from memory, unconfirmed
		"appliance.nation": {
			{changes: "property.postcode=CA3 8AB; property.nation=England", want: in},
			{changes: "property.postcode=CA3 8AB; property.nation=Scotland", want: in},
			{changes: "property.postcode=CA3 8AB; property.nation=Wales", want: doubt, shows: "lies in England"},
			{changes: "property.postcode=M1 1AA; property.nation=Scotland", want: doubt, shows: "entered as Scotland"},
			{changes: "property.postcode=ML1 1AA; property.nation=Scotland", want: in},
			{changes: "property.postcode=ML1 1AA; property.nation=England", want: doubt, shows: "lies in Scotland"},
			{changes: "property.postcode=TD15 1AA; property.nation=England", want: in},
			{changes: "property.postcode=TD15 1AA; property.nation=Northern Ireland", want: doubt},
			{changes: "property.postcode=CF10 1AA; property.nation=Wales", want: in},
			{changes: "property.postcode=CF10 1AA; property.nation=England", want: doubt, shows: "lies in Wales"},
			{changes: "property.postcode=SY10 1AA; property.nation=England", want: in},
			{changes: "property.postcode=SY10 1AA; property.nation=Wales", want: in},
			{changes: "property.postcode=SY10 1AA; property.nation=Scotland", want: doubt, shows: "lies in Wales"},
			{changes: "property.postcode=BT1 1AA; property.nation=Northern Ireland", want: in},
			{changes: "property.postcode=BT1 1AA; property.nation=England", want: doubt, shows: "lies in Northern Ireland"},
			{changes: "property.postcode=B1 1AA; property.nation=England", want: in},
			{changes: "property.postcode=JE2 3AB; property.nation=England", want: exempt, shows: "says nothing"},
			{changes: "property.postcode=BT1 1AA; property.nation=", want: exempt},
		},
	})
}
