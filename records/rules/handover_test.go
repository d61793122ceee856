package rules_test

import (
	"testing"

	"gaugebook/records"
)

// Who signs, and when the next service is: yearly, longer only where the
// manufacturer says so (common practice, no published source).
func TestHandover(t *testing.T) {
	const named, page = "appliance.stated_document=Invented manual; ", "appliance.stated_page=41; "
	mustJudge(t, map[string][]judged{
		"handover.interval": {
			{changes: "handover.service_interval_months=13", want: doubt, shows: "name the instructions and the page"},
			{changes: named + page + "handover.service_interval_months=13", want: in, shows: "outranked at most 12 months"},
			{changes: named + page + "handover.service_interval_months=24", want: in},
			{changes: named + page + "handover.service_interval_months=25", want: doubt, shows: "so long without a service"},
			{changes: page + "appliance.stated_document=; handover.service_interval_months=13", want: doubt},
			{changes: named + page + "handover.service_interval_months=60", want: doubt},
			{changes: "handover.service_interval_months=1", want: in},
			{changes: "handover.service_interval_months=", want: exempt},
		},
		// the sample's engineer is Tamsin Oakhurst
		"handover.declared": {
			{changes: "handover.engineer_name=T. Oakhurst", want: in},
			{changes: "handover.engineer_name=T Oakhurst", want: in},
			{changes: "handover.engineer_name=tamsin OAKHURST", want: in},
			{changes: "handover.engineer_name=Tamsin M. Oakhurst", want: in},
			{changes: "handover.engineer_name=M. Oakhurst", want: doubt, shows: "that of Tamsin Oakhurst"},
			{changes: "handover.engineer_name=Oakhurst", want: doubt}, {changes: "handover.engineer_name=Tamsin", want: doubt},
			{changes: "handover.engineer_name=Tam Oakhurst", want: doubt},
			{changes: "handover.engineer_name=Tamsin Oakhurs", want: doubt},
			{changes: "handover.engineer_name=Oakhurst Tamsin", want: doubt},
			{changes: "handover.engineer_name=.", want: doubt},
			{changes: "engineer.name=; handover.engineer_name=Anybody Else", want: in},
			{changes: "engineer.name=Orla O’Dell; handover.engineer_name=Orla O'Dell", want: in},
			{changes: "handover.declared=no", want: miss, shows: "not declared"},
		},
		"handover.received": {
			{changes: "handover.received_by=; handover.nobody_present=no", want: miss},
			{changes: "handover.nobody_present=yes; handover.received_by=; handover.received_signature=M5,5 L9,9",
				want: doubt, shows: "remove one"},
			{changes: "handover.received_by=; handover.received_signature=M5,5 L9,9", want: in, shows: "signed"},
		},
		"handover.competence": {
			{changes: "engineer.competence_until=2026-11-21", want: in},
			{changes: "engineer.competence_until=2025-11-20", want: out},
		},
	})
}

// Answers that take checks away, against what else is on the record and which
// nation's law applies. England and Wales ask for a notice: Building Regulations
// 2010, regulation 12; new boilers in England condense since 1 April 2005, from
// memory, unconfirmed.
func TestAnswersAgainstTheRecord(t *testing.T) {
	const dry = "appliance.condensing=no; section.water=; flue.fall_mm_per_m=; flue.nuisance=; " +
		"appliance.stated_flue_fall_min_mm_per_m=; "
	const unnotified = "handover.notifiable=no; handover.notifiable_reason="
	const why = "because the works were only a repair; "
	mustJudge(t, map[string][]judged{
		"appliance.condensing_fits": {
			{changes: "day=2005-04-01;" + dry, want: doubt, shows: "a new boiler condenses"},
			{changes: "day=2005-03-31;" + dry, want: miss},
			{changes: dry + "property.nation=Scotland", want: miss}, {changes: dry + "appliance.installed=existing", want: in},
			{base: "service", changes: dry, want: in, shows: "not installed at this visit"},
			{changes: dry + "appliance.kind=warm-air", want: in, shows: "Only boilers condense"},
		},
		"handover.notifiable_fits": {
			{changes: unnotified, want: doubt}, {changes: unnotified + "; property.nation=Wales", want: doubt},
			{changes: unnotified + "; property.nation=Scotland", want: in, shows: "its own rules"},
			{changes: unnotified + "; property.nation=Northern Ireland", want: in},
			{changes: unnotified + "; appliance.installed=existing", want: in, shows: "Nothing was installed"},
			{base: "service", changes: unnotified, want: in},
			{base: "cooker", changes: unnotified, want: in, shows: "A cooker is not notified"},
			{changes: unnotified + why, want: in, shows: "ecause the works were only a repair"},
		},
		"appliance.installed_fits": {
			{changes: "appliance.installed=existing", want: doubt, shows: "a commissioning"},
			{base: "service", changes: "appliance.installed=existing", want: in},
			{base: "landlord", changes: "appliance.installed=existing", want: in},
		},
		"tightness.situation_fits": {
			{base: "service", changes: "tightness.situation=new", want: doubt, shows: "the visit is a service"},
			{base: "landlord", changes: "tightness.situation=new", want: doubt, shows: "the visit is a landlord check"},
			{base: "remedial", changes: "tightness.situation=new", want: in},
		},
		"appliance.fuel_fits": { // propane 90 to 100 MJ/m³ or so; natural gas less than half
			{base: "propane", changes: "heat.cv_mj_per_m3=39.2", want: doubt, shows: "that of natural gas"},
			{base: "propane", changes: "heat.cv_mj_per_m3=95", want: in},
			{base: "propane", changes: "heat.cv_mj_per_m3=", want: in},
		},
		"tightness.gauge_kind_fits": {
			{changes: "instrument.gauge-1.pressure=0.1 ± 0.1", want: in},
			{changes: "instrument.gauge-1.pressure=0.11 ± 0.1", want: doubt, shows: "steps of 0.11 mbar"},
		},
		"combustion.co2_method_fits": {
			{changes: "combustion.co2_method=measured; instrument.analyser-1.oxygen=0.1 ± 0.3", want: doubt,
				shows: "none for CO₂"},
			{changes: "combustion.co2_method=measured; instrument.analyser-1.oxygen=0.1 ± 0.3; " +
				"instrument.analyser-1.co2=0.1 ± 0.3", want: in},
			{changes: "combustion.co2_method=measured", want: in},
		},
		"flue.low_fits": {
			{changes: "flue.distances=position:above-ground+distance_mm:2000", want: in},
			{changes: "flue.distances=position:above-ground+distance_mm:1999", want: doubt, shows: "1999 mm above ground"},
			{changes: "flue.distances=position:below-eaves+distance_mm:1999", want: in},
		},
		"flue.terminal_fits": {
			{changes: "flue.terminal=roof; flue.fall_mm_per_m=; flue.distances=position:below-eaves+distance_mm:900",
				want: doubt, shows: "Below the eaves"},
			{changes: "flue.terminal=roof; flue.fall_mm_per_m=; flue.distances=position:below-gutter+distance_mm:900",
				want: doubt},
			{changes: "flue.terminal=roof; flue.fall_mm_per_m=; flue.distances=position:facing-terminal+distance_mm:900",
				want: in},
		},
		"flue.system_fits": {
			{changes: "flue.system=single; combustion.inlet_o2_pct=; combustion.inlet_co2_pct=", want: doubt,
				shows: "Room-sealed"},
			{changes: "flue.system=single; appliance.flue_kind=room-sealed-natural; " +
				"combustion.inlet_o2_pct=; combustion.inlet_co2_pct=", want: doubt},
			{base: "fire", changes: "flue.system=twin", want: doubt},
		},
		"ventilation.place_fits": {
			{base: "fire", changes: "ventilation.place=outdoors; ventilation.opening_cm2=; ventilation.airtight=",
				want: doubt},
			{changes: "ventilation.place=outdoors; ventilation.opening_cm2=; ventilation.airtight=", want: in},
			{base: "cooker", changes: "ventilation.place=outdoors; ventilation.opening_cm2=; ventilation.airtight=",
				want: doubt},
		},
		"electrical.supply_fits": {
			{changes: "electrical.supply=none; electrical.fuse_a=; electrical.polarity=; " +
				"electrical.earth=; electrical.isolation=", want: doubt},
			{base: "fire",
				changes: "electrical.supply=none; electrical.fuse_a=; electrical.polarity=; " +
					"electrical.earth=; electrical.isolation=", want: in},
		},
	})
	if got := len(records.Nations); got != 4 {
		t.Errorf("%d nations: the rows above know four", got)
	}
}
