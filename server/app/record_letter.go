package app

import (
	"gaugebook/records"
	"gaugebook/templates/mail"
)

// mostAttached is the largest PDF that goes with the message itself: in a
// letter a file grows by a third, and many mail servers stop at ten megabytes.
// One larger is fetched through the link.
const mostAttached = 6 << 20

// recordLetter is the message that brings the customer the record, attached or
// behind the link.
func recordLetter(doc records.Document, link string, attach bool) records.Message {
	r := doc.Record
	l := mail.Record{
		Name: r.Contact.Name, Purpose: r.Purpose, Firm: r.Firm,
		Kind:      records.ApplianceKind.ChoiceLabel(r.Values.Choice(records.ApplianceKind)),
		MakeModel: r.Values.ApplianceName(), Address: r.Property.OneLine(), Street: r.Property.Line1,
		WorkDate: r.WorkDate, Number: doc.Number, Code: doc.Seal.Code, Amends: r.Replaces,
		Link: link, Verify: doc.VerifyURL, Attached: attach, Unsettled: records.Unsettled(doc.Findings),
		LeftOff:   r.Condition != nil && r.Condition.LeftOff,
		Emergency: records.Emergency(r.Property.Nation, r.Values.Choice(records.ApplianceFuel)),
	}
	for _, d := range doc.Duties {
		if d.Kind == records.AnnualService || d.Kind == records.LandlordCheckDue {
			l.Duties = append(l.Duties, d)
		}
	}
	m := l.Message()
	return records.Message{
		Kind: "record issued", RecordID: r.ID, ToName: r.Contact.Name, ToEmail: r.Contact.Email,
		Subject: m.Subject, Text: m.Text, HTML: m.HTML, AttachPDF: attach,
	}
}
