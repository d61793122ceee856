package due

import (
	"fmt"

	"gaugebook/records"
)

// ForIssue returns what falls due because a record is issued, in the order of
// records.DutyKinds:
//
//   - commissioning, service: the next service, by the record's interval
//   - commissioning of an appliance in a let property, unless it was there
//     already: its first landlord check
//   - landlord check: the next one, and the copy for the tenant
//   - notifiable work: the notice to building control, by nation
//   - inhibitor put into the heating water, or found to be enough: its next test
//   - an immediate danger, by its rule or by the engineer: the report of a
//     dangerous fitting, unless it comes from wear; the engineer may lift it
//
// landlordDeadline is the last day that was set for the appliance's landlord
// check before this record, zero if none is known; for an amendment it is the
// one before the record that is replaced. A duty that these records cannot
// date, such as the check of a let appliance with no check on file, is left
// out.
func ForIssue(r *records.Record, landlordDeadline records.Date) []records.Duty {
	var out []records.Duty
	nation := r.Property.Nation
	if r.Purpose == records.Commissioning || r.Purpose == records.Service {
		months, _ := r.Values.Float(records.ServiceMonths)
		out = append(out, AnnualService(r.WorkDate, int(months)))
	}
	switch {
	case r.Purpose == records.LandlordCheck:
		out = append(out, LandlordCheck(landlordDeadline, r.WorkDate, nation).Duty(), TenantCopy(r.WorkDate, nation))
	case r.Purpose == records.Commissioning && let(r.Contact.Tenure) && newlyInstalled(r.Values):
		out = append(out, firstLandlordCheck(r))
	}
	if notifiable, _ := r.Values.Flag(records.Notifiable); notifiable {
		if d, note, ok := BuildingNotice(r.WorkDate, nation); ok {
			d.Why += " " + note
			out = append(out, d)
		}
	}
	if records.Water.ExemptReason(r.Values) == "" {
		if litres, _ := r.Values.Float(records.InhibitorLitres); litres > 0 {
			out = append(out, InhibitorRecheck(r.WorkDate, records.Date{}))
		} else if r.Values.Choice(records.InhibitorLevel) == "enough" {
			out = append(out, InhibitorRecheck(records.Date{}, r.WorkDate))
		}
	}
	if records.Reportable(r.Findings, r.Condition) {
		out = append(out, IncidentReport(r.WorkDate, nation))
	}
	return out
}

func firstLandlordCheck(r *records.Record) records.Duty {
	d := records.Duty{
		Kind: records.LandlordCheckDue, Due: FirstLandlordDeadline(r.WorkDate),
		Source: gasRegulations(r.Property.Nation, "regulation 36(3)(a)"),
		Why: fmt.Sprintf("First check, within %d months of the installation on %s.", LandlordMonths,
			r.WorkDate.Long()),
	}
	if r.Contact.Tenure == records.Tenant {
		d.Why += " Not due if the appliance is the tenant's own."
	}
	return d
}

// let reports whether a contact of this tenure means that the property is let.
func let(t records.Tenure) bool { return t != records.OwnerOccupier && t != "" }

// newlyInstalled is also true while nobody has answered: a check too early
// does no harm.
func newlyInstalled(vs records.Values) bool {
	return vs.Choice(records.ApplianceInstalled) != "existing"
}
