package server

import (
	"bytes"
	htmltemplate "html/template"
	"strings"
	texttemplate "text/template"

	"gaugebook/records"
	"gaugebook/records/store"
)

// letter is what the customer's message is made from.
type letter struct {
	Name, Firm, Phone, Email, Appliance, Address, Number, Code, WorkDate, Link, Verify string
	Purpose                                                                            string
	Inside                                                                             int
	Unsettled                                                                          []records.Finding
	Duties                                                                             []records.Duty
	Emergency                                                                          string
	Amends                                                                             string
}

var letterText = texttemplate.Must(texttemplate.New("text").Parse(`Dear {{.Name}},

Here is the record of the {{.Purpose}} of your gas appliance.

Appliance: {{.Appliance}}
At:        {{.Address}}
Date:      {{.WorkDate}}
Record:    {{.Number}}, code {{.Code}}
{{if .Amends}}
It replaces record {{.Amends}}, which is no longer in force.
{{end}}
{{if .Unsettled}}Not everything was inside its limit. Please read page one of the record, it says what was done:
{{range .Unsettled}}- {{.Title}}: {{.Outcome}}
{{end}}{{else}}All readings taken on the day were inside the limits named in the record.
{{end}}{{range .Duties}}
Due {{.Due.Long}}: {{.Kind}}{{end}}

The full record is attached as a PDF. You can also read it here; the link is private to you:
{{.Link}}

Anyone can check that the record is the one we issued:
{{.Verify}}

{{.Emergency}}

{{.Firm}}
{{.Phone}}
{{.Email}}
`))

var letterHTML = htmltemplate.Must(htmltemplate.New("html").Parse(`<!doctype html><html lang="en-GB"><body style="font-family:Georgia,serif;color:#1d2433;max-width:36em;line-height:1.5">
<p>Dear {{.Name}},</p>
<p>Here is the record of the {{.Purpose}} of your gas appliance.</p>
<table style="border-collapse:collapse"><tr><td style="padding-right:1em">Appliance</td><td>{{.Appliance}}</td></tr><tr><td>At</td><td>{{.Address}}</td></tr><tr><td>Date</td><td>{{.WorkDate}}</td></tr><tr><td>Record</td><td>{{.Number}}, code {{.Code}}</td></tr></table>
{{if .Amends}}<p>It replaces record {{.Amends}}, which is no longer in force.</p>{{end}}
{{if .Unsettled}}<p><strong>Not everything was inside its limit.</strong> Please read page one of the record, it says what was done:</p><ul>{{range .Unsettled}}<li>{{.Title}}: {{.Outcome}}</li>{{end}}</ul>{{else}}<p>All readings taken on the day were inside the limits named in the record.</p>{{end}}
{{range .Duties}}<p style="margin:0">Due {{.Due.Long}}: {{.Kind}}</p>{{end}}
<p>The full record is attached as a PDF. You can also <a href="{{.Link}}">read it here</a>; the link is private to you.</p>
<p>Anyone can <a href="{{.Verify}}">check that the record is the one we issued</a>.</p>
<p>{{.Emergency}}</p>
<p>{{.Firm}}<br>{{.Phone}}<br>{{.Email}}</p></body></html>
`))

// Emergency says what to do on a smell of gas or an alarm, by nation and
// fuel. The number of Great Britain is the published one of the gas emergency
// service; that of Northern Ireland is from memory, unconfirmed, so the reader
// is told to check it.
func Emergency(nation records.Nation, lpg bool) string {
	do := "If you smell gas or a carbon monoxide alarm sounds: turn the gas off at the emergency control, open doors and windows, touch no switch and make no flame, go outside and "
	switch {
	case lpg:
		return do + "phone the number on your gas vessel or cylinder store."
	case nation == records.NorthernIreland:
		return do + "phone 0800 002 001 (compare this number with your gas supplier’s now, before you need it)."
	}
	return do + "phone 0800 111 999, free at any hour."
}

// recordLetter is the message that brings the customer the record.
func recordLetter(doc records.Document, link string) store.OutboxMessage {
	r := doc.Record
	l := letter{
		Name: r.Contact.Name, Firm: r.Firm.Name, Phone: r.Firm.Phone, Email: r.Firm.Email,
		Appliance: records.ApplianceKind.ChoiceLabel(r.Values.Choice(records.ApplianceKind)) + ", " + r.Values.ApplianceName(),
		Address:   r.Property.OneLine(), Number: doc.Number, Code: doc.Seal.Code, WorkDate: r.WorkDate.Long(),
		Link: link, Verify: doc.VerifyURL, Purpose: string(r.Purpose), Unsettled: records.Unsettled(doc.Findings),
		Emergency: Emergency(r.Property.Nation, r.Values.LPG()), Amends: r.Replaces,
	}
	for _, d := range doc.Duties {
		if d.Kind == records.AnnualService || d.Kind == records.LandlordsCheck {
			l.Duties = append(l.Duties, d)
		}
	}
	var text strings.Builder
	var page bytes.Buffer
	// Both templates are fixed and fed plain strings: they cannot fail.
	if err := letterText.Execute(&text, l); err != nil {
		panic(err)
	}
	if err := letterHTML.Execute(&page, l); err != nil {
		panic(err)
	}
	return store.OutboxMessage{
		Kind: "record issued", RecordID: r.ID, ToName: r.Contact.Name, ToEmail: r.Contact.Email,
		Subject: "Record " + doc.Number + ": " + r.Values.ApplianceName() + ", " + r.Property.Line1,
		Text:    text.String(), HTML: page.String(), AttachPDF: true,
	}
}
