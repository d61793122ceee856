package pdf

import (
	"gaugebook/pdf/layout"
	"gaugebook/pdf/seal"
	"gaugebook/records"
)

// ConditionReport prints the notice to leave on site where a visit found
// something that is not settled, and, if it is in a class of danger, a page of
// labels to cut out and tie on. It may be printed before the record is issued,
// since it must be left before the engineer leaves; it says so then. What is
// not known yet is left as a line to write on.
//
// Classes are in the general terms of IGEM/G/11, gas industry unsafe
// situations procedure, Edition 2 with amendments July 2022 and June 2024.
// Errors: those of Render, and records.NotReady for a record whose condition
// report has no entry.
func ConditionReport(doc records.Document) ([]byte, error) {
	if _, err := check(doc); err != nil {
		return nil, err
	}
	c := doc.Record.Condition
	if c == nil || len(c.Entries) == 0 {
		return nil, records.Fail(records.NotReady,
			"there is no condition report to print: the record has no entry of one")
	}
	p := noticePaper{newPrinter(doc)}
	p.Document = layout.New(layout.Options{Header: p.header,
		Footer: layout.Footer("Notice to leave on site; the firm keeps a copy")})
	class := gravest(c)
	p.notice(class)
	if dangerous(class) {
		p.NewPage()
		p.labels(class)
	}
	body, err := p.Bytes()
	if err != nil {
		return nil, err
	}
	m := meta(doc)
	m.Title = "Notice of what was found, " + lower(m.Title)
	return seal.Finish(body, m, nil)
}

// noticePaper is the notice to leave on site with its labels.
type noticePaper struct{ *printer }

// gravest is the gravest class of a condition report.
func gravest(c *records.ConditionReport) records.Class {
	for _, k := range records.Classes {
		for _, e := range c.Entries {
			if e.Class == k {
				return k
			}
		}
	}
	return ""
}

func (p noticePaper) notice(class records.Class) {
	r := p.doc.Record
	p.Bookmark("Notice")
	title := "Something about your gas appliance needs attention"
	if dangerous(class) {
		title = "Do not use this gas appliance"
	}
	p.Paragraph(eyebrow, "Notice of what was found on "+long(r.WorkDate))
	p.Space(2)
	p.Paragraph(layout.Title, title)
	p.Space(6)
	p.Columns(20, []float64{1, 1}, func() {
		p.Pairs(1, p.pairs(pair{"Appliance", p.values.ApplianceName()},
			pair{"Serial", p.values.Text(records.ApplianceSerial)},
			pair{"Where", p.values.Text(records.ApplianceLocation)}, pair{"Address", address(r.Property)})...)
	}, func() {
		p.Pairs(1, p.pairs(pair{"Firm", r.Firm.Name}, pair{"Telephone", r.Firm.Phone},
			pair{"Registration", r.Firm.Registration},
			pair{"Engineer", joined(r.Engineer.Name, inBrackets(r.Engineer.Licence))})...)
	})
	p.Space(10)
	p.Paragraph(layout.Heading2, "What was found, and what was done")
	titles := map[string]string{}
	for _, f := range p.doc.Findings {
		titles[f.Rule] = list(present(f.Title, f.Reading), ": ") + ", " + outcomeWord(f)
	}
	for _, e := range r.Condition.Entries {
		p.KeepTogether(func() {
			p.Space(4)
			name := titles[e.Rule]
			if name == "" {
				name = e.Rule
			}
			p.Paragraph(layout.Strong, p.line(name))
			t := layout.Table{PadY: 1, Style: layout.Style{Size: 9.2, Leading: 12.4}, NoRules: true,
				Columns: []layout.Column{{Weight: 1.3}, {Weight: 9}}}
			for _, l := range p.long(pair{"How serious", sentence(gravity(e.Class))}, pair{"Found", e.Found},
				pair{"Done", e.Done}) {
				t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{{Text: l.Label, Style: labelStyle}, l.Value}})
			}
			p.Table(t)
		})
	}
	p.Space(8)
	p.KeepTogether(func() { p.permission(class) })
	p.Space(8)
	p.KeepTogether(func() { p.whatToDo(class) })
	p.Space(10)
	p.emergency()
	p.Space(8)
	p.KeepTogether(p.noticeSignatures)
}

// permission says whether the appliance was made safe, and by whose leave.
func (p noticePaper) permission(class records.Class) {
	c := p.doc.Record.Condition
	p.Paragraph(layout.Heading2, "How it was left")
	switch {
	case c.Refused:
		p.Paragraph(layout.Body, "Permission to turn the appliance off or disconnect it was asked for and refused. "+
			"The person named below was warned not to use it.")
		if class == records.Immediate {
			p.Paragraph(layout.Body,
				"Where a danger is immediate and permission is refused, the gas emergency service is told.")
		}
	case c.LeftOff:
		p.Paragraph(layout.Body, "Permission was given. The appliance was turned off or disconnected, and labelled.")
	case dangerous(class):
		p.Paragraph(layout.Body,
			"Whether permission to turn it off was given is not on record yet. Given / refused, by:")
		p.blank()
	default:
		p.Paragraph(layout.Body, "The appliance was not turned off for this.")
	}
	told := list(present(c.Told, c.ToldHow), ", ")
	if told != "" {
		p.Paragraph(layout.Body, p.line("Told: "+stop(told)))
		return
	}
	p.Paragraph(layout.Body, "Told, and how:")
	p.blank()
}

// blank is a line to write on.
func (p noticePaper) blank() {
	p.Figure(20, func(f *layout.Figure) {
		f.Line(0, 18, f.W, 18, layout.Pen{Colour: layout.Slate, Width: layout.HairWidth})
	})
}

// whatToDo tells the user what follows. That a dangerous appliance must not be
// used: Gas Safety (Installation and Use) Regulations 1998, regulation 34,
// from memory, unconfirmed. The rest is common practice, no published source.
func (p noticePaper) whatToDo(class records.Class) {
	p.Paragraph(layout.Heading2, "What to do now")
	if !dangerous(class) {
		p.Bullets(layout.Body, "Have it looked into by a registered, competent person, and show them this notice.",
			"Follow the manufacturer's instructions until then. If anything changes, turn the appliance off.")
		return
	}
	p.Bullets(layout.Body, "Do not use the appliance and do not turn the gas to it back on. The law forbids using "+
		"an appliance that one knows, or has reason to suspect, to be a danger.",
		"Leave the label on. Only a registered, competent person may take it off, once the fault has been put right.",
		"Show this notice to whoever puts it right, and to anybody else who lives here or answers for the property.")
}

func (p noticePaper) noticeSignatures() {
	vs := p.values
	given := func(label string, by string, ink records.TextField) func() {
		return func() { p.signature(label, p.line(by), vs.Text(ink)) }
	}
	engineer := vs.Text(records.EngineerName)
	if engineer == "" {
		engineer = p.doc.Record.Engineer.Name
	}
	p.Columns(20, []float64{1, 1},
		given("Engineer", engineer, records.EngineerSignature),
		given("Received and understood by", vs.Text(records.ReceivedBy), records.ReceivedSignature))
	if absent, _ := vs.Flag(records.NobodyPresent); absent {
		p.Paragraph(layout.Body, "Nobody was there to receive it: this notice was left on site.")
	}
}

// labels is a page of two labels to cut out and tie on, one for the appliance
// and one for the valve that was closed.
func (p noticePaper) labels(class records.Class) {
	p.Bookmark("Labels")
	p.Paragraph(layout.Small, "Cut out along the broken lines, punch the ring, and tie one to the appliance and one "+
		"to the valve or the open end.")
	for range 2 {
		p.Space(12)
		p.tag(class)
	}
}

const labelHeight = 280

func (p noticePaper) tag(class records.Class) {
	r := p.doc.Record
	large := layout.Style{Face: layout.Bold, Size: 46, Leading: 54, Align: layout.Centre}
	middle := layout.Style{Face: layout.Bold, Size: 13, Leading: 18, Align: layout.Centre}
	p.Figure(labelHeight, func(f *layout.Figure) {
		cut := layout.Pen{Colour: layout.Slate, Width: 0.7, Dash: 4}
		for _, e := range [4][4]float64{{0, 0, f.W, 0}, {0, f.H, f.W, f.H}, {0, 0, 0, f.H}, {f.W, 0, f.W, f.H}} {
			f.Line(e[0], e[1], e[2], e[3], cut)
		}
		f.Rect(14, 14, f.W-14, f.H-14, 0, layout.Pen{Colour: layout.Ink, Width: 2.5})
		f.Circle(f.W/2, 34, 9, layout.White, layout.Pen{Colour: layout.Ink, Width: 1.2})
		mid, room := f.W/2, f.W-60
		line := func(y float64, s layout.Style, text string) {
			f.Text(mid, y, 0, 0, s, shorten(s, p.line(text), room))
		}
		line(98, large, "DO NOT USE")
		line(126, middle, "This gas appliance is "+string(class)+".")
		plain := layout.Style{Size: 11, Leading: 15, Align: layout.Centre}
		line(150, plain, list(present(p.values.ApplianceName(), p.values.Text(records.ApplianceLocation)), ", "))
		line(167, plain, "Found on "+long(r.WorkDate)+" by "+r.Engineer.Name)
		line(184, plain, list(present(r.Firm.Name, r.Firm.Phone, r.Firm.Registration), ", "))
		small := layout.Style{Size: 9.5, Leading: 13, Align: layout.Centre}
		line(212, small, "Do not turn the gas back on. Leave this label in its place until a registered,")
		line(225, small, "competent person has put the fault right. Read the notice left with it.")
		line(248, small.Coloured(layout.Slate), p.recordLine())
	})
}

func (p noticePaper) recordLine() string {
	if p.draft() {
		return "Record not issued yet"
	}
	return "Record " + p.doc.Number
}
