package pdf

import (
	"fmt"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

const draftWords = "Draft, not issued"

// documentName is what the document is called in lists of files.
func documentName(p records.Purpose) string {
	switch p {
	case records.Commissioning:
		return "Commissioning record"
	case records.Service:
		return "Service record"
	case records.LandlordCheck:
		return "Landlord's check record"
	case records.Remedial:
		return "Record of remedial work"
	}
	return "Gas appliance record"
}

// fitted tells whether the appliance was not there before.
func fitted(vs records.Values) bool {
	how := vs.Choice(records.ApplianceInstalled)
	return how == "new" || how == "replacement"
}

// worked says what was done to the appliance, for the head of its details.
func worked(r *records.Record) string {
	switch {
	case r.Purpose == records.Service:
		return "What was serviced"
	case r.Purpose == records.LandlordCheck:
		return "What was checked"
	case r.Purpose == records.Commissioning && fitted(r.Values):
		return "What was fitted"
	}
	return "The appliance"
}

// keepFor says what the customer needs the paper for.
func keepFor(p records.Purpose) string {
	const common = "whoever services or repairs the appliance next will compare with these readings"
	switch p {
	case records.Commissioning:
		return "Keep this record with the manufacturer's instructions for as long as the appliance is in the house: " +
			common +
			", the maker may ask for it with a claim under guarantee, and a buyer of the house may ask to see it."
	case records.LandlordCheck:
		return "Keep this record where it can be found: a landlord has to be able to show it and to give the tenant " +
			"a copy, and " + common + "."
	}
	return "Keep this record with the earlier ones: " + common +
		", and the maker may ask for proof of servicing with a claim under guarantee."
}

// cautions are the general ones. Common practice, no published source, but for
// the registration of those who work on gas, which the Gas Safety
// (Installation and Use) Regulations 1998, regulation 3, ask for.
var cautions = []string{
	"This record says which readings, taken on the day named, are inside which limits. It does not say that the " +
		"appliance is safe, then or later, and it says nothing of what was not measured.",
	"The manufacturer's instructions for the appliance come first, then the law and the codes in force where it is " +
		"fitted. Where this record and they differ, follow them.",
	"Only a registered, competent person may fit, service, adjust or repair gas appliances and pipes. Do not open " +
		"the sealed casing.",
	"Do not block air vents, flue outlets or the space round the appliance. Have a carbon monoxide alarm where its " +
		"instructions say, and test it.",
	"Turn the appliance off and call for help if flames turn yellow or lift, soot or stains appear, or it smells, " +
		"goes out often or sounds different.",
}

// outcomeWord is the word printed for an outcome.
func outcomeWord(f records.Finding) string {
	switch f.Outcome {
	case records.Inside:
		if f.AtLimit {
			return "inside, at the limit"
		}
	case records.Exempt:
		return "does not apply"
	case records.Close:
		return "too close to call"
	case records.Attention:
		return "needs attention"
	}
	return string(f.Outcome)
}

func mark(o records.Outcome) layout.Mark {
	switch o {
	case records.Inside:
		return layout.Inside
	case records.Outside:
		return layout.Outside
	case records.Missing:
		return layout.Missing
	case records.Exempt:
		return layout.Exempt
	}
	return layout.Doubtful
}

// gravity says in plain words what a class asks of the customer. Common
// practice, no published source.
func gravity(c records.Class) string {
	switch c {
	case records.Immediate:
		return "immediately dangerous: do not use it until it has been put right"
	case records.AtRisk:
		return "at risk: it may become a danger, so do not use it until it has been put right"
	case records.Observation:
		return "observation: have it looked into"
	}
	return "not stated"
}

// dutyWord names a duty for the customer.
func dutyWord(k records.DutyKind) string {
	switch k {
	case records.AnnualService:
		return "Next service"
	case records.LandlordCheckDue:
		return "Next landlord's gas check"
	case records.TenantCopy:
		return "Copy of this record to the tenant"
	case records.BuildingNotice:
		return "Building control to be told of this work"
	case records.IncidentReport:
		return "Report of a dangerous fitting"
	case records.InhibitorRecheck:
		return "Heating water to be checked again"
	}
	return sentence(string(k))
}

// sentence starts with a capital and ends with a full stop only if it had one.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// stop ends a sentence.
func stop(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") || strings.HasSuffix(s, "!") || strings.HasSuffix(s, "?") {
		return s
	}
	return s + "."
}

// count writes a number with its noun: 1 check, 2 checks.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// list joins parts with a sign between them, the last one with another.
func list(parts []string, between string, last ...string) string {
	n := len(parts)
	if n < 2 || len(last) == 0 {
		return strings.Join(parts, between)
	}
	return strings.Join(parts[:n-1], between) + last[0] + parts[n-1]
}

// long writes a date so that it is never parted at the end of a line.
func long(d records.Date) string { return strings.ReplaceAll(d.Long(), " ", "\u00a0") }

// address writes an address in one line with its postcode in one piece.
func address(p records.Property) string {
	p.Postcode = strings.ReplaceAll(p.Postcode, " ", "\u00a0")
	return p.OneLine()
}

// lower starts with a small letter unless the word is an abbreviation.
func lower(s string) string {
	if len(s) < 2 || s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func present(parts ...string) (out []string) {
	for _, s := range parts {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

func joined(parts ...string) string { return strings.Join(present(parts...), " ") }
