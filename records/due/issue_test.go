package due_test

import (
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/due"
)

func TestForIssue(t *testing.T) {
	const worked = "2026-11-25"
	type want struct {
		kind records.DutyKind
		due  string
	}
	service := want{records.AnnualService, "2027-11-25"}
	for _, c := range []struct {
		name       string
		purpose    records.Purpose
		nation     records.Nation
		tenure     records.Tenure
		put        map[*records.Field]string
		deadline   string
		classes    []records.Class
		wants      []want
		mustMatter string // in the reason of the last duty
	}{
		{name: "commissioning for an owner", purpose: records.Commissioning, nation: records.England,
			tenure: records.OwnerOccupier, wants: []want{service}},
		{name: "stated interval", purpose: records.Commissioning, nation: records.England,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.ServiceMonths.Field: "24"},
			wants:  []want{{records.AnnualService, "2028-11-25"}}, mustMatter: "24 months"},
		{name: "notifiable in England", purpose: records.Commissioning, nation: records.England,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.Notifiable.Field: "yes"},
			wants:  []want{service, {records.BuildingNotice, "2026-12-25"}}},
		{name: "notifiable in Wales, remedial", purpose: records.Remedial, nation: records.Wales,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.Notifiable.Field: "yes"},
			wants:  []want{{records.BuildingNotice, "2026-12-25"}}},
		{name: "marked not notifiable", purpose: records.Commissioning, nation: records.England,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.Notifiable.Field: "no"}, wants: []want{service}},
		{name: "notifiable in Scotland", purpose: records.Commissioning, nation: records.Scotland,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.Notifiable.Field: "yes"}, wants: []want{service}},
		{name: "notifiable in Northern Ireland", purpose: records.Commissioning, nation: records.NorthernIreland,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.Notifiable.Field: "yes"},
			wants:  []want{service, {records.BuildingNotice, worked}}, mustMatter: "council"},
		{name: "new in a let property", purpose: records.Commissioning, nation: records.England,
			tenure: records.Landlord,
			wants:  []want{service, {records.LandlordCheckDue, "2027-11-25"}}},
		{name: "agent", purpose: records.Commissioning, nation: records.England, tenure: records.Agent,
			wants: []want{service, {records.LandlordCheckDue, "2027-11-25"}}},
		{name: "tenant", purpose: records.Commissioning, nation: records.England, tenure: records.Tenant,
			wants: []want{service, {records.LandlordCheckDue, "2027-11-25"}}, mustMatter: "tenant's own"},
		{name: "was there already", purpose: records.Commissioning, nation: records.England, tenure: records.Landlord,
			put: map[*records.Field]string{records.ApplianceInstalled.Field: "existing"}, wants: []want{service}},
		{name: "service of a let property moves no check", purpose: records.Service, nation: records.England,
			tenure:   records.Landlord,
			deadline: "2027-01-20", wants: []want{service}},
		{name: "check that keeps its date", purpose: records.LandlordCheck, nation: records.England,
			tenure:   records.Landlord,
			deadline: "2027-01-20", wants: []want{{records.LandlordCheckDue, "2028-01-20"},
				{records.TenantCopy, "2026-12-23"}}},
		{name: "check with no deadline on file", purpose: records.LandlordCheck, nation: records.England,
			tenure: records.Landlord,
			wants:  []want{{records.LandlordCheckDue, "2027-11-25"}, {records.TenantCopy, "2026-12-23"}}},
		{name: "check in Northern Ireland", purpose: records.LandlordCheck, nation: records.NorthernIreland,
			tenure:   records.Landlord,
			deadline: "2027-01-20", wants: []want{{records.LandlordCheckDue, "2027-11-25"},
				{records.TenantCopy, "2026-12-23"}}},
		{name: "inhibitor put in", purpose: records.Commissioning, nation: records.England,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.InhibitorLitres.Field: "1.0"},
			wants:  []want{service, {records.InhibitorRecheck, "2027-11-25"}}, mustMatter: "inhibitor"},
		{name: "inhibitor made good at a service", purpose: records.Service, nation: records.England,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.InhibitorLitres.Field: "0.25"},
			wants:  []want{service, {records.InhibitorRecheck, "2027-11-25"}}},
		{name: "inhibitor found to be enough", purpose: records.Service, nation: records.England,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.InhibitorLevel.Field: "enough"},
			wants:  []want{service, {records.InhibitorRecheck, "2027-11-25"}}, mustMatter: "does not say when"},
		{name: "inhibitor too low and not made good", purpose: records.Service, nation: records.England,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.InhibitorLevel.Field: "low"}, wants: []want{service}},
		{name: "no inhibitor put in", purpose: records.Commissioning, nation: records.England,
			tenure: records.OwnerOccupier,
			put:    map[*records.Field]string{records.InhibitorLitres.Field: "0"}, wants: []want{service}},
		{name: "no water side", purpose: records.Service, nation: records.England, tenure: records.OwnerOccupier,
			put: map[*records.Field]string{records.InhibitorLitres.Field: "1.0",
				records.ApplianceKind.Field: records.KindFire}, wants: []want{service}},
		{name: "dangerous", purpose: records.Remedial, nation: records.England, tenure: records.OwnerOccupier,
			classes: []records.Class{records.AtRisk, records.Immediate},
			wants:   []want{{records.IncidentReport, "2026-12-09"}}, mustMatter: "The engineer decides"},
		{name: "dangerous in Northern Ireland", purpose: records.Remedial, nation: records.NorthernIreland,
			tenure:  records.OwnerOccupier,
			classes: []records.Class{records.Immediate}, wants: []want{{records.IncidentReport, "2026-12-09"}},
			mustMatter: "unconfirmed"},
		{name: "at risk only", purpose: records.Remedial, nation: records.England, tenure: records.OwnerOccupier,
			classes: []records.Class{records.AtRisk}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := &records.Record{Purpose: c.purpose, WorkDate: records.MustDate(worked), Values: records.Values{},
				Property: records.Property{Nation: c.nation}, Contact: records.Contact{Tenure: c.tenure}}
			for f, entry := range c.put {
				r.Values.Put(f, entry)
			}
			if c.classes != nil {
				r.Condition = &records.ConditionReport{}
				for _, class := range c.classes {
					r.Condition.Entries = append(r.Condition.Entries, records.ConditionEntry{Rule: "flue.spillage",
						Class: class})
				}
			}
			got := due.ForIssue(r, date(t, c.deadline))
			if len(got) != len(c.wants) {
				t.Fatalf("%d duties %v, want %v", len(got), got, c.wants)
			}
			for i, d := range got {
				if d.Kind != c.wants[i].kind || d.Due.String() != c.wants[i].due {
					t.Errorf("%s on %s, want %v", d.Kind, d.Due, c.wants[i])
				}
				if d.Why == "" || d.Source.Document == "" || d.Source.Confidence == "" {
					t.Errorf("%s does not say why and by what source: %+v", d.Kind, d)
				}
			}
			if c.mustMatter != "" && !strings.Contains(got[len(got)-1].Why, c.mustMatter) {
				t.Errorf("why %q does not say %q", got[len(got)-1].Why, c.mustMatter)
			}
		})
	}
}
