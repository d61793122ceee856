package rules_test

import (
	"strings"
	"testing"

	"gaugebook/records"
)

// Where the law asks for an alarm: each nation's for new appliances and for
// homes that are let, from its first day on. Sources as the limits name them.
func TestAlarmAskedForByLaw(t *testing.T) {
	const (
		let = "contact.tenure=tenant; "
		fix = "purpose=remedial; appliance.installed=existing; "
	)
	for _, c := range []struct {
		day, nation, changes, law string // "" where it is advised only
	}{
		{"2022-09-30", "England", "", ""}, {"2022-10-01", "England", "", "Approved Document J, England"},
		{"2022-09-30", "England", fix + let, ""},
		{"2022-10-01", "England", fix + let, "Alarm (England) Regulations"},
		{"2026-11-20", "England", fix, ""}, {"2026-11-20", "England", "appliance.kind=cooker", ""},
		{"2026-11-20", "England", "appliance.kind=cooker; " + let, ""},
		{"2026-11-20", "England", "purpose=landlord check", "Alarm (England) Regulations"},
		{"2026-11-20", "England", fix + "contact.tenure=landlord", "Alarm (England) Regulations"},
		{"2025-01-05", "Wales", "", ""}, {"2025-01-06", "Wales", "", "Approved Document J, Wales"},
		{"2026-11-20", "Wales", "appliance.flue_kind=none", ""},
		{"2026-11-20", "Wales", "appliance.kind=cooker", "Approved Document J, Wales"},
		{"2022-11-30", "Wales", fix + let, ""}, {"2022-12-01", "Wales", fix + let, "Renting Homes"},
		{"2026-11-20", "Wales", "appliance.flue_kind=none; appliance.kind=cooker; " + let, "Renting Homes"},
		{"2022-01-31", "Scotland", fix, ""}, {"2022-02-01", "Scotland", fix, "Housing (Scotland) Act"},
		{"2013-09-30", "Scotland", "", ""}, {"2013-10-01", "Scotland", "", "Technical Handbook, Scotland"},
		{"2026-11-20", "Scotland", "appliance.kind=cooker", ""},
		{"2026-11-20", "Scotland", fix + "appliance.kind=fire", "Housing (Scotland) Act"},
		{"2012-10-30", "Northern Ireland", "", ""},
		{"2012-10-31", "Northern Ireland", "", "Technical Booklet L"},
		{"2026-11-20", "Northern Ireland", "appliance.kind=cooker", ""},
		{"2024-11-30", "Northern Ireland", fix + let, ""},
		{"2024-12-01", "Northern Ireland", fix + let, "Private Tenancies"},
		{"2026-11-20", "Northern Ireland", "appliance.kind=cooker; " + let, "Private Tenancies"},
	} {
		changes := "day=" + c.day + ";property.nation=" + c.nation + "; ventilation.alarm=no; " + c.changes
		row := judged{changes: changes, want: records.Outside, shows: c.law}
		if c.law == "" {
			row.want, row.shows = records.Exempt, "still advised"
		}
		row.changes = strings.TrimSuffix(row.changes, "; ")
		mustJudge(t, map[string][]judged{"ventilation.alarm": {row}})
	}
}
