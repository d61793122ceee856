package pdf

import (
	"fmt"
	"slices"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// closingPages print what stands around the readings: the visit, the answers to
// findings, instruments, sources and cautions.
type closingPages struct{ *printer }

// visit prints who was there and when, before the sections. The customer's
// telephone and e-mail are printed nowhere: a copy that is passed on must not
// carry them.
func (p closingPages) visit() {
	r := p.doc.Record
	p.Heading(1, "The visit")
	p.twoAbreast(p.pairs(
		pair{"Purpose", sentence(string(r.Purpose))},
		pair{"Work done on", long(r.WorkDate)},
		pair{"Property", address(r.Property)},
		pair{"Nation", string(r.Property.Nation)},
		pair{"Customer", joined(r.Contact.Name, inBrackets(string(r.Contact.Tenure)))},
		pair{"Customer's address", r.Contact.Address},
		pair{"Firm", r.Firm.Name},
		pair{"Firm's e-mail", r.Firm.Email},
		pair{"Engineer", joined(r.Engineer.Name, inBrackets(r.Engineer.Licence))},
		pair{"Competence until", long(r.Engineer.CompetenceUntil)},
		pair{"Taken over from", signedList(p.doc.TakenOverFrom)},
		pair{"Amended by", signatory(p.doc.AmendedBy)},
		pair{"Declared and issued by", signatory(p.doc.IssuedBy)},
	))
	p.Space(6)
	p.Rich(layout.Span{Text: "How to read the following pages. ", Style: layout.Strong},
		layout.Span{Text: "Each section first shows what was held against a limit, with the working in small type, " +
			"then what else was entered. ", Style: layout.Body},
		layout.Span{Text: "inside", Style: layout.Strong, Mark: layout.Inside},
		layout.Span{Text: " within the limit; ", Style: layout.Body},
		layout.Span{Text: "outside", Style: layout.Strong, Mark: layout.Outside},
		layout.Span{Text: " not within it; ", Style: layout.Body},
		layout.Span{Text: "missing", Style: layout.Strong, Mark: layout.Missing},
		layout.Span{Text: " something needed to judge it is not there; ", Style: layout.Body},
		layout.Span{Text: "doubtful", Style: layout.Strong, Mark: layout.Doubtful},
		layout.Span{Text: " readings contradict each other or physics; ", Style: layout.Body},
		layout.Span{Text: "does not apply", Style: layout.Strong, Mark: layout.Exempt},
		layout.Span{Text: " with the reason.", Style: layout.Body})
}

// signatory is a person with licence and account and, where a program acted
// for them, its key.
func signatory(s *records.Signatory) string {
	if s == nil {
		return ""
	}
	key := ""
	if s.Key != "" {
		key = ", by a program with the key “" + s.Key + "”"
	}
	return joined(s.Name, inBrackets(s.Licence)) + ", account " + s.ID + key
}

func signedList(ss []records.Signatory) string {
	out := make([]string, len(ss))
	for i := range ss {
		out[i] = signatory(&ss[i])
	}
	return strings.Join(out, "; ")
}

// conditionReport prints every entry, also those on findings that have since
// been settled.
func (p closingPages) conditionReport() {
	c := p.doc.Record.Condition
	if c == nil || len(c.Entries) == 0 && c.Told == "" && !c.LeftOff && !c.Refused {
		return
	}
	p.Heading(1, "Condition report")
	titles := map[string]records.Finding{}
	for _, f := range p.doc.Findings {
		titles[f.Rule] = f
	}
	for _, e := range c.Entries {
		p.KeepTogether(func() {
			f, ok := titles[e.Rule]
			if !ok {
				f.Title = e.Rule
			}
			p.Space(4)
			span := layout.Span{Text: p.line(f.Title), Style: layout.Strong}
			if ok {
				span.Text, span.Mark = p.line(f.Title+" ("+outcomeWord(f)+")"), mark(f.Outcome)
			}
			p.Rich(span)
			p.Pairs(1, p.long(
				pair{"How serious", sentence(gravity(e.Class))}, pair{"What was found", e.Found},
				pair{"What was done", e.Done})...)
		})
	}
	p.told()
}

// long is pairs that keeps line breaks.
func (p *printer) long(in ...pair) []layout.Pair {
	out := p.pairs(in...)
	i := 0
	for _, e := range in {
		if e.value != "" {
			out[i].Value.Text = p.text(e.value)
			i++
		}
	}
	return out
}

// instruments lists what the readings were taken with.
func (p closingPages) instruments() {
	is := p.doc.Record.Instruments
	if len(is) == 0 {
		return
	}
	p.Heading(1, "Instruments")
	t := layout.Table{PadY: 2.5, Columns: []layout.Column{{Head: "Kind", Weight: 2},
		{Head: "Make and model", Weight: 3.6},
		{Head: "Serial number", Weight: 3}, {Head: "Calibrated on", Weight: 3.1}, {Head: "Next due", Weight: 3.1}}}
	for _, i := range is {
		t.Rows = append(t.Rows, layout.TextRow(p.line(sentence(i.Kind)), p.line(joined(i.Make, i.Model)),
			p.line(i.Serial),
			orNot(long(i.CalibratedOn)), orNot(long(i.CalibrationDue))))
	}
	p.Table(t)
}

func orNot(s string) string {
	if s == "" {
		return "not stated"
	}
	return s
}

// cite gives a source its number in the order of first use.
func (p *printer) cite(s records.Source) string {
	if s.Document == "" {
		return ""
	}
	if p.numbers[s] == 0 {
		p.sources = append(p.sources, s)
		p.numbers[s] = len(p.sources)
	}
	return fmt.Sprintf("source\u00a0%d", p.numbers[s])
}

// sourceList prints where the limits come from.
func (p closingPages) sourceList() {
	if len(p.sources) == 0 {
		return
	}
	p.Heading(1, "Sources of the limits")
	t := layout.Table{PadY: 1.2, Gap: 6, Style: sourceStyle, NoRules: true,
		Columns: []layout.Column{{Weight: 0.7, Align: layout.Right}, {Weight: 12}, {Weight: 0.9, Align: layout.Right},
			{Weight: 12}}}
	for i := 0; i < len(p.sources); i += 2 {
		cells := p.sourceCells(i)
		if i+1 < len(p.sources) {
			cells = append(cells, p.sourceCells(i+1)...)
		} else {
			cells = append(cells, layout.Cell{}, layout.Cell{})
		}
		t.Rows = append(t.Rows, layout.Row{Cells: cells})
	}
	p.Table(t)
}

var sourceStyle = layout.Style{Size: 7.5, Leading: 9.6}

// sourceCells are number and name of a source, with its dates and how well its
// figures are confirmed.
func (p closingPages) sourceCells(i int) []layout.Cell {
	s, slate := p.sources[i], sourceStyle.Coloured(layout.Slate)
	about := list(present(inForce(s), p.line(string(s.Confidence))), "; ")
	return []layout.Cell{{Text: fmt.Sprint(i + 1), Style: slate},
		{Spans: []layout.Span{{Text: p.line(s.String()) + ". ", Style: sourceStyle},
			{Text: stop(sentence(about)), Style: slate}}}}
}

func inForce(s records.Source) string {
	switch {
	case s.From.IsZero() && s.Until.IsZero():
		return ""
	case s.Until.IsZero():
		return "in force from " + long(s.From)
	case s.From.IsZero():
		return "in force until " + long(s.Until)
	}
	return "in force from " + long(s.From) + " until " + long(s.Until)
}

// data says what the file carries besides its pages, and where a page stands
// that can be read aloud.
func (p closingPages) data() string {
	out := "The file that this was printed from carries the same record as data (" + RecordFile +
		"), so that a machine can read what a person reads."
	if c := p.doc.Record.Contact; c.Email != "" || c.Phone != "" {
		out += " That data also holds the customer's telephone number or e-mail address, which are not printed: " +
			"pass on the paper rather than the file where they are nobody's business."
	}
	if p.scannable() {
		out += " This file is not tagged for screen readers. The page at the address above shows the same record as " +
			"an accessible web page."
	}
	return out
}

// closing prints the cautions, and beside them how the record is checked.
func (p closingPages) closing() {
	p.Space(6)
	p.Columns(22, []float64{1, 1}, func() {
		p.Heading(1, "Cautions")
		p.Bullets(aboutStyle, cautions...)
	}, p.about)
}

var aboutStyle = layout.Style{Size: 8.7, Leading: 11.8}

func (p closingPages) about() {
	p.Heading(1, "About this record")
	switch {
	case p.draft():
		p.Paragraph(aboutStyle, draftWords+". It has no number, no code and no seal.")
	case p.proof():
		spans := []layout.Span{{Text: "Record " + p.doc.Number + ", issued " +
			p.doc.IssuedAt.UTC().Format("2 January 2006 at 15:04 UTC") +
			", verification code ", Style: aboutStyle}, {Text: p.doc.Seal.Code, Style: layout.Code}}
		if p.scannable() {
			spans = append(spans, layout.Span{Text: ". To check that it is the one that was issued, scan the code " +
				"at the foot of any page, or give number and verification code at ", Style: aboutStyle},
				layout.Span{Text: p.line(p.doc.VerifyURL), Style: aboutStyle, Link: p.doc.VerifyURL},
				layout.Span{Text: ".", Style: aboutStyle})
		} else {
			spans = append(spans, layout.Span{Text: ". Ask the firm to confirm number and code.", Style: aboutStyle})
		}
		p.Rich(spans...)
		p.Space(4)
		p.Paragraph(layout.Small, "SHA-256 of the record's data: ")
		p.Paragraph(layout.Style{Face: layout.Mono, Size: 7.5, Leading: 10.5}, p.doc.Seal.SHA256)
	default:
		p.Paragraph(aboutStyle, "Record "+p.doc.Number+
			", a copy without proof: it carries no code and no seal by which it could be checked.")
	}
	p.Space(4)
	p.Paragraph(layout.Small, p.data())
	if len(p.replaced) > 0 {
		slices.Sort(p.replaced)
		var codes []string
		for _, r := range slices.Compact(p.replaced) {
			codes = append(codes, fmt.Sprintf("%U", r))
		}
		p.Space(4)
		p.Paragraph(layout.Small, "Signs that cannot be printed are shown as "+string(layout.Replacement)+
			". The attached data holds them unchanged: "+strings.Join(codes, ", ")+".")
	}
}
