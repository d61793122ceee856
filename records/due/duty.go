package due

import (
	"fmt"

	"gaugebook/records"
)

// Lengths of the periods that the duties are counted in.
const (
	ServiceMonths         = 12 // where the record states no other interval
	LandlordMonths        = 12 // between two landlord checks
	EarlyMonths           = 2  // before its deadline that a check keeps the date
	AlignMonths           = 2  // that a first check may be put off, once, to align it with another
	TenantCopyDays        = 28
	BuildingNoticeDays    = 30
	IncidentReportDays    = 14
	CalibrationMonths     = 12 // where the certificate states no date
	InhibitorTestMonths   = 12
	InhibitorRedoseMonths = 60
)

// AnnualService returns the next service: months after the work, from the
// date of the work itself, however early or late that was. Months below 1
// count as ServiceMonths.
//
// Source: the manufacturer's instructions; twelve months where they are
// silent is common practice, no published source.
func AnnualService(workDate records.Date, months int) records.Duty {
	if months < 1 {
		months = ServiceMonths
	}
	return records.Duty{
		Kind: records.AnnualService, Due: workDate.AddMonths(months), Source: manufacturer,
		Why: fmt.Sprintf("%s after the work of %s; the manufacturer's instructions decide.", count(months, "month"),
			workDate.Long()),
	}
}

// TenantCopy returns the last day for giving the existing tenant a copy of
// the record of a landlord check completed on a date: 28 days after it.
//
// Source: Gas Safety (Installation and Use) Regulations 1998, regulation
// 36(6); Northern Ireland has regulations of its own, figure unconfirmed.
func TenantCopy(completed records.Date, nation records.Nation) records.Duty {
	return records.Duty{
		Kind: records.TenantCopy, Due: completed.AddDays(TenantCopyDays),
		Source: gasRegulations(nation, "regulation 36(6)"),
		Why: fmt.Sprintf("%d days after the check of %s; a new tenant must have the copy before moving in.",
			TenantCopyDays, completed.Long()),
	}
}

// BuildingNotice returns what has to be told to building control after
// notifiable work completed on a date, and a note for people.
//
// England and Wales: 30 calendar days after completion. Northern Ireland: a
// task dated the day of the work, since the council's procedure has no number
// of days that we could confirm. Scotland: no duty (false), only the note. An
// unknown nation gives no duty and no note.
//
// Source: Building Regulations 2010, regulation 20(3); Building (Scotland)
// Regulations 2004, regulation 5 and schedule 3.
func BuildingNotice(completed records.Date, nation records.Nation) (duty records.Duty, note string, ok bool) {
	d := records.Duty{Kind: records.BuildingNotice}
	switch nation {
	case records.England, records.Wales:
		d.Due, d.Source = completed.AddDays(BuildingNoticeDays), buildingRegulations
		d.Why = fmt.Sprintf("Not more than %d days after completion on %s, to the local authority and the occupier, "+
			"usually through the registration body.",
			BuildingNoticeDays, completed.Long())
		return d, "The occupier gets a certificate of compliance: keep it for a sale of the home.", true
	case records.NorthernIreland:
		d.Due, d.Source = completed, buildingRegulationsNI
		d.Why = "Northern Ireland has its own procedure: ask the council's building control office what it needs. " +
			"Dated the day of the work because no number of days could be confirmed."
		return d, "The notice period of England and Wales does not apply in Northern Ireland.", true
	case records.Scotland:
		return records.Duty{}, "Scotland asks for no such notice; the work must still meet its building " +
			"regulations, and a flat or a building of over three storeys may need a warrant: ask the verifier.", false
	}
	return records.Duty{}, "", false
}

// IncidentReport returns the last day for reporting a dangerous gas fitting:
// 14 days after the day on which enough was known. Whether a report is due at
// all is for the registered person to decide.
//
// Source: Reporting of Injuries, Diseases and Dangerous Occurrences
// Regulations 2013, regulation 11(2), Great Britain. For Northern Ireland the
// same figure is given as an indication, unconfirmed.
func IncidentReport(learned records.Date, nation records.Nation) records.Duty {
	d := records.Duty{
		Kind: records.IncidentReport, Due: learned.AddDays(IncidentReportDays), Source: incidentRegulations,
		Why: fmt.Sprintf("%d days after %s, but only if regulation 11(2) applies: the design, construction, "+
			"installation, modification or servicing of the fitting could have caused death, unconsciousness or a "+
			"stay in hospital. The engineer decides.",
			IncidentReportDays, learned.Long()),
	}
	if ownGasLaw(nation) {
		d.Source = incidentRegulationsNI
		d.Why = fmt.Sprintf("%d days after %s, as in Great Britain. Northern Ireland has its own regulations and "+
			"the figure is unconfirmed: ask its health and safety executive. The engineer decides whether a report "+
			"is due.",
			IncidentReportDays, learned.Long())
	}
	return d
}

// Calibration returns when an instrument is next due: the date on its
// certificate, else twelve months after the last calibration (common
// practice, no published source). It is false when neither date is known.
func Calibration(i records.Instrument) (records.Duty, bool) {
	d := records.Duty{Kind: records.Calibration}
	switch {
	case !i.CalibrationDue.IsZero():
		d.Due, d.Source = i.CalibrationDue, calibrationSheet
		d.Why = "The date on the calibration certificate of the " + i.Name() + "."
	case !i.CalibratedOn.IsZero():
		d.Due, d.Source = i.CalibratedOn.AddMonths(CalibrationMonths), calibrationHabit
		d.Why = fmt.Sprintf("%s after the calibration of the %s on %s; its certificate states no date.",
			count(CalibrationMonths, "month"), i.Name(), i.CalibratedOn.Long())
	default:
		return records.Duty{}, false
	}
	return d, true
}

// CompetenceExpiry returns the last day of an engineer's competence as on
// their licence. It is false when no date is known.
func CompetenceExpiry(e records.Engineer) (records.Duty, bool) {
	if e.CompetenceUntil.IsZero() {
		return records.Duty{}, false
	}
	return records.Duty{
		Kind: records.CompetenceExpiry, Due: e.CompetenceUntil, Source: licenceCard,
		Why: "The last day on the licence of " + e.Name + "; no gas work may be done after it.",
	}, true
}

// InhibitorRecheck returns the next duty on the water of a heating system
// that was last dosed and last tested on these dates: a test twelve months
// after the later of the two, or, where that comes no later, a new dose or a
// full water test five years after the dose. A zero tested means not since
// the dose; a zero dosed that nobody knows when.
//
// Source: BS 7593:2019 as two trade texts give it.
func InhibitorRecheck(dosed, tested records.Date) records.Duty {
	last := dosed
	if tested.After(dosed) {
		last = tested
	}
	d := records.Duty{Kind: records.InhibitorRecheck, Due: last.AddMonths(InhibitorTestMonths), Source: waterTreatment,
		Why: fmt.Sprintf("Test of inhibitor and cleanliness, %s after %s.", count(InhibitorTestMonths, "month"),
			last.Long())}
	if dosed.IsZero() {
		d.Why += " This record does not say when it was last dosed; a dose lasts five years at most."
		return d
	}
	if redose := dosed.AddMonths(InhibitorRedoseMonths); !redose.After(d.Due) {
		d.Due = redose
		d.Why = fmt.Sprintf("New dose of inhibitor or full water test, five years after the dose of %s.", dosed.Long())
	}
	return d
}

func count(n int, unit string) string {
	if n == 1 {
		return "1 " + unit
	}
	return fmt.Sprintf("%d %ss", n, unit)
}
