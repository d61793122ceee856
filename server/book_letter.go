package server

import (
	"bytes"
	htmltemplate "html/template"
	"strings"
	texttemplate "text/template"

	"gaugebook/records"
	"gaugebook/records/store"
)

// mostAttached is the largest PDF that goes with the message itself: in a
// letter a file grows by a third, and many mail servers stop at ten megabytes.
// One larger is fetched through the link.
const mostAttached = 6 << 20

// letter is what the customer's message is made from.
type letter struct {
	Name, Appliance, Address, Number, Code, WorkDate, Link, Verify string
	Purpose                                                        records.Purpose
	Firm                                                           records.Firm
	Unsettled                                                      []records.Finding
	LeftOff                                                        bool
	Duties                                                         []records.Duty
	Emergency                                                      records.EmergencyCall
	Amends                                                         string
	Attached                                                       bool
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
{{end}}{{if .LeftOff}}The appliance was left turned off or disconnected. Do not use it until a registered, competent person has put it right.
{{end}}{{else}}All readings taken on the day were inside the limits named in the record.
{{end}}{{with .Duties}}
Due next:
{{range .}}- {{.Due.Long}}: {{.Kind}}
{{end}}{{end}}
{{if .Attached}}The full record is attached as a PDF. You can also read it here,{{else}}The full record holds many photos and is too large for a message. Read it and download the PDF here,{{end}}
with what was recorded before; the link is private to you:
{{.Link}}

Anyone can check that the record is the one we issued:
{{.Verify}}

IF YOU SMELL GAS, OR A CARBON MONOXIDE ALARM SOUNDS
{{range .Emergency.Do}}- {{.}}
{{end}}Call: {{.Emergency.Call}}
{{.Emergency.Note}}

{{.Firm.Name}}{{with .Firm.Phone}}
{{.}}{{end}}{{with .Firm.Email}}
{{.}}{{end}}{{with .Firm.Registration}}
Registration {{.}}{{end}}

The record says which readings were inside which limits on that day. The
manufacturer's instructions and the judgement of a registered, competent
person come first.
`))

// letterHTML keeps to what mail programs know: one table as a frame, styles on
// each element, no picture and nothing that is fetched.
var letterHTML = htmltemplate.Must(htmltemplate.New("html").Parse(`<!doctype html>
<html lang="en-GB"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light"><title>Record {{.Number}}</title></head>
<body style="margin:0;padding:0;background:#f5efe4;color:#221d17;font-family:Georgia,'Times New Roman',serif;font-size:17px;line-height:1.5">
<div style="display:none;max-height:0;overflow:hidden">{{if .Unsettled}}Not everything was inside its limit: please read page one.{{else}}All readings taken on the day were inside their limits.{{end}}</div>
<table role="presentation" width="100%" cellpadding="0" cellspacing="0" style="background:#f5efe4"><tr><td align="center" style="padding:16px 10px">
<table role="presentation" width="100%" cellpadding="0" cellspacing="0" style="max-width:600px;background:#fdfaf4;border:1px solid #dccfba;border-top:5px solid #8f4417;text-align:left"><tr><td style="padding:22px 22px 26px">
<p style="margin:0 0 18px;color:#5d5346;font-size:15px">{{.Firm.Name}}</p>
<h1 style="margin:0 0 14px;font-size:24px;line-height:1.25;font-weight:bold">The record of your gas appliance</h1>
<p style="margin:0 0 14px">Dear {{.Name}},</p>
<p style="margin:0 0 16px">here is the record of the {{.Purpose}} of {{.WorkDate}}.</p>
<table role="presentation" width="100%" cellpadding="0" cellspacing="0" style="border-collapse:collapse;margin:0 0 18px;font-size:16px">
<tr><td style="padding:7px 14px 7px 0;border-bottom:1px solid #dccfba;color:#5d5346;vertical-align:top;width:92px">Appliance</td><td style="padding:7px 0;border-bottom:1px solid #dccfba">{{.Appliance}}</td></tr>
<tr><td style="padding:7px 14px 7px 0;border-bottom:1px solid #dccfba;color:#5d5346;vertical-align:top">At</td><td style="padding:7px 0;border-bottom:1px solid #dccfba">{{.Address}}</td></tr>
<tr><td style="padding:7px 14px 7px 0;border-bottom:1px solid #dccfba;color:#5d5346;vertical-align:top">Record</td><td style="padding:7px 0;border-bottom:1px solid #dccfba">{{.Number}}, code {{.Code}}</td></tr>
{{range .Duties}}<tr><td style="padding:7px 14px 7px 0;border-bottom:1px solid #dccfba;color:#5d5346;vertical-align:top">Due next</td><td style="padding:7px 0;border-bottom:1px solid #dccfba"><strong>{{.Due.Long}}</strong>, {{.Kind}}</td></tr>
{{end}}</table>
{{if .Amends}}<p style="margin:0 0 16px">It replaces record {{.Amends}}, which is no longer in force.</p>{{end}}
{{if .Unsettled}}<div style="margin:0 0 18px;padding:12px 16px;border-left:5px solid #9c1d15;background:#f8e1db"><p style="margin:0 0 8px"><strong>Not everything was inside its limit.</strong> Please read page one of the record, it says what was done:</p><ul style="margin:0;padding-left:20px">{{range .Unsettled}}<li>{{.Title}}: {{.Outcome}}</li>{{end}}</ul>{{if .LeftOff}}<p style="margin:8px 0 0"><strong>The appliance was left turned off or disconnected. Do not use it until a registered, competent person has put it right.</strong></p>{{end}}</div>
{{else}}<p style="margin:0 0 18px">All readings taken on the day were inside the limits named in the record.</p>{{end}}
<p style="margin:0 0 14px">{{if .Attached}}The full record is attached as a PDF. Your own page shows it too, with what was recorded before.{{else}}The full record holds many photos and is too large for a message. Read it and download the PDF on your own page, with what was recorded before.{{end}}</p>
<table role="presentation" cellpadding="0" cellspacing="0" style="margin:0 0 10px"><tr><td style="background:#8f4417;border-radius:3px"><a href="{{.Link}}" style="display:inline-block;padding:13px 24px;color:#fff9f0;font-weight:bold;text-decoration:none">Open your record</a></td></tr></table>
<p style="margin:0 0 22px;color:#5d5346;font-size:15px">The link is private to you. Anyone else can <a href="{{.Verify}}" style="color:#8f4417">check that the record is the one we issued</a>.</p>
<div style="margin:0 0 22px;padding:14px 16px;border:2px solid #9c1d15"><p style="margin:0 0 6px;font-size:15px">If you smell gas, or a carbon monoxide alarm sounds, go outside and call</p>
<p style="margin:0 0 8px;font-size:24px;line-height:1.25;font-weight:bold">{{if .Emergency.Number}}<a href="tel:{{.Emergency.Tel}}" style="color:#221d17;text-decoration:none">{{.Emergency.Number}}</a>{{else}}{{.Emergency.Instead}}{{end}}</p>
<p style="margin:0 0 10px;color:#5d5346;font-size:15px">{{.Emergency.Note}}</p>
<ul style="margin:0;padding-left:20px;font-size:15px">{{range .Emergency.Do}}<li style="margin:0 0 4px">{{.}}</li>{{end}}</ul></div>
<p style="margin:0;font-size:15px"><strong>{{.Firm.Name}}</strong>{{with .Firm.Phone}}<br>{{.}}{{end}}{{with .Firm.Email}}<br>{{.}}{{end}}{{with .Firm.Registration}}<br>Registration {{.}}{{end}}</p>
<p style="margin:14px 0 0;padding-top:12px;border-top:1px solid #dccfba;color:#5d5346;font-size:14px">The record says which readings were inside which limits on that day. The manufacturer’s instructions and the judgement of a registered, competent person come first.</p>
</td></tr></table></td></tr></table></body></html>
`))

// recordLetter is the message that brings the customer the record, attached or
// behind the link.
func recordLetter(doc records.Document, link string, attach bool) store.OutboxMessage {
	r := doc.Record
	l := letter{
		Name: r.Contact.Name, Firm: r.Firm,
		Appliance: records.ApplianceKind.ChoiceLabel(r.Values.Choice(records.ApplianceKind)) + ", " +
			r.Values.ApplianceName(),
		Address: r.Property.OneLine(), Number: doc.Number, Code: doc.Seal.Code, WorkDate: r.WorkDate.Long(),
		Link: link, Verify: doc.VerifyURL, Purpose: r.Purpose, Unsettled: records.Unsettled(doc.Findings),
		LeftOff:   r.Condition != nil && r.Condition.LeftOff,
		Emergency: records.Emergency(r.Property.Nation, r.Values.Choice(records.ApplianceFuel)), Amends: r.Replaces,
		Attached: attach,
	}
	for _, d := range doc.Duties {
		if d.Kind == records.AnnualService || d.Kind == records.LandlordCheckDue {
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
		Text:    text.String(), HTML: page.String(), AttachPDF: attach,
	}
}
