package rules_test

import "testing"

// Supply, bonding and controls: BS 7671 for the bonding (10 mm², within 600 mm
// of the meter), 3 A as common practice, Approved Document L (England) from 6
// April 2018 for the controls and the further measure.
func TestElectricalAnswersAndSizes(t *testing.T) {
	const absent,
		plastic = "electrical.bond=absent; electrical.bond_mm2=; electrical.bond_at=; electrical.bond_from_meter_mm=; ",
		"electrical.bond=plastic; electrical.bond_mm2=; electrical.bond_at=; electrical.bond_from_meter_mm=; "
	const unplugged = "electrical.supply=none; electrical.fuse_a=; electrical.polarity=; " +
		"electrical.earth=; electrical.isolation=; "
	const extra = "electrical.compensation=; electrical.extra_measure="
	mustJudge(t, map[string][]judged{
		"electrical.fuse": {
			{changes: "electrical.fuse_a=3", want: in}, {changes: "electrical.fuse_a=4", want: out, shows: "too large"},
			{changes: "electrical.fuse_a=13", want: out}, {changes: "electrical.fuse_a=", want: miss},
			{changes: "electrical.fuse_a=5; electrical.fuse_stated_a=5", want: in, shows: "outranked at most 3 A"},
			{changes: "electrical.fuse_a=3; electrical.fuse_stated_a=2", want: out, shows: "manufacturer"},
			{changes: "electrical.supply=plug; electrical.fuse_a=4", want: out}, {changes: "electrical.supply=", want: miss},
			{changes: unplugged, want: exempt, shows: "no electricity supply"},
			{changes: unplugged + "electrical.fuse_a=13", want: out},
		},
		"electrical.polarity": {{changes: "electrical.polarity=no", want: out}, {changes: "electrical.polarity=",
			want: miss}, {changes: unplugged, want: exempt}},
		"electrical.earth": {{changes: "electrical.earth=no", want: out}, {changes: "electrical.earth=", want: miss},
			{changes: unplugged, want: exempt}},
		"electrical.isolation": {{changes: "electrical.isolation=no", want: out}, {changes: "electrical.isolation=",
			want: miss}},
		"electrical.bond": {
			{changes: absent, want: out, shows: "competent electrician"}, {changes: plastic, want: in},
			{changes: "electrical.bond=", want: miss},
		},
		"electrical.bond_size": { // at least 10 mm²; 6 mm² does on some supplies
			{changes: "electrical.bond_mm2=9.9", want: doubt, shows: "some supplies only"},
			{changes: "electrical.bond_mm2=6", want: doubt},
			{changes: "electrical.bond_mm2=5.9", want: out, shows: "too small on any supply"},
			{changes: "electrical.bond_mm2=", want: miss},
			{changes: absent, want: exempt, shows: "no bonding to measure"}, {changes: plastic, want: exempt},
			{changes: absent + "electrical.bond_mm2=4", want: out}, {changes: "electrical.bond=", want: miss},
		},
		"electrical.bond_place": {
			{changes: "electrical.bond_from_meter_mm=600", want: in},
			{changes: "electrical.bond_from_meter_mm=601", want: out},
			{changes: "electrical.bond_from_meter_mm=", want: miss}, {changes: "electrical.bond_at=", want: miss},
			{changes: "electrical.bond_at=entry; electrical.bond_from_meter_mm=", want: in, shows: "enters the building"},
			{changes: absent, want: exempt}, {changes: "electrical.bond=", want: miss},
		},
		"electrical.zones": {
			{changes: "electrical.floor_m2=150", want: in, shows: "one zone is enough"},
			{changes: "electrical.floor_m2=960", want: out},
			{changes: "electrical.floor_m2=151; electrical.zones=3", want: in}, {changes: "electrical.floor_m2=", want: miss},
		},
		"electrical.cylinder_control": {
			{changes: "electrical.cylinder_control=no", want: out}, {changes: "electrical.cylinder_control=yes", want: in},
			{changes: "appliance.kind=boiler-system; electrical.cylinder_control=", want: miss},
			{changes: "appliance.kind=fire; electrical.cylinder_control=", want: exempt},
		},
		"electrical.time_control": { // the law of England where a boiler is installed, practice otherwise
			{changes: "electrical.time_control=no", want: out, shows: "regulation"},
			{changes: "electrical.time_control=no; appliance.installed=existing", want: out, shows: "common practice"},
			{changes: "electrical.time_control=no; property.nation=Wales", want: out, shows: "common practice"},
			{base: "service", changes: "electrical.time_control=no", want: out, shows: "common practice"},
			{changes: "electrical.time_control=", want: miss},
		},
		"electrical.extra_measure": {
			{changes: "electrical.compensation=load; electrical.extra_measure=weather", want: doubt, shows: "check both"},
			{changes: "electrical.compensation=weather; electrical.extra_measure=load", want: doubt},
			{changes: "electrical.compensation=weather; electrical.extra_measure=smart", want: in},
			{changes: "electrical.compensation=none; electrical.extra_measure=flue-gas-recovery", want: in},
			{changes: "day=2018-04-05;" + extra + "weather", want: exempt, shows: "6 April 2018"},
			{changes: extra + "none; appliance.kind=", want: out},
			{changes: extra + "; property.nation=Scotland", want: exempt},
		},
	})
}
