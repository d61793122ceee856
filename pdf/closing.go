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

// conditionReport prints what page one does not say of the answers to findings,
// also to those that have since been settled.
func (p closingPages) conditionReport() {
	c := p.doc.Record.Condition
	if c == nil || len(c.Entries) == 0 && c.Told == "" && !c.LeftOff && !c.Refused {
		return
	}
	told := p.shortened || p.doc.Record.Purpose == records.LandlordCheck
	if !told && !slices.ContainsFunc(c.Entries, func(e records.ConditionEntry) bool { return !p.onPageOne[e.Rule] }) {
		return
	}
	p.Heading(3, "Condition report")
	titles := map[string]records.Finding{}
	for _, f := range p.doc.Findings {
		titles[f.Rule] = f
	}
	for _, e := range c.Entries {
		if p.onPageOne[e.Rule] && !p.shortened {
			continue
		}
		p.KeepTogether(func() {
			f, ok := titles[e.Rule]
			if !ok {
				f.Title = e.Rule
			}
			span := layout.Span{Text: p.line(f.Title), Style: runBold}
			if ok {
				span.Text, span.Mark = p.line(f.Title+" ("+outcomeWord(f)+")"), mark(f.Outcome)
			}
			p.Rich(span)
			p.runIn("", []pair{{"How serious", string(e.Class)}, {"Why not more so", e.Reason},
				{"What was found", stop(e.Found)}, {"What was done", stop(e.Done)}})
		})
	}
	if !told { // page one does
		return
	}
	p.runIn("", []pair{{"Who was told", list(present(c.Told, c.ToldHow), ", ")}})
	if c.LeftOff {
		p.Paragraph(runBold, "The appliance was left turned off or disconnected, with a label. Do not use it until it "+
			"has been put right.")
	}
	if c.Refused {
		p.Paragraph(runBold, p.line(refusal(c)))
	}
}

// refusal says that permission was refused, by whom and when.
func refusal(c *records.ConditionReport) string {
	return joined("Permission to turn it off or disconnect it was refused", before("by ", c.RefusedBy),
		before("at ", c.RefusedAt)) + "."
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

// duties tells how each date was reached.
func (p closingPages) duties() {
	if len(p.doc.Duties) == 0 {
		return
	}
	p.Heading(3, "How the dates were reached")
	for _, d := range nextDuties(p.doc) {
		p.Rich(layout.Span{Text: dutyWord(d.Kind) + ", " + long(d.Due) + ". ", Style: runBold},
			layout.Span{Text: p.line(joined(stop(d.Why), p.notes.cite(d.Source, ""))), Style: runStyle})
	}
}

// closing prints the cautions, and how the record is checked.
func (p closingPages) closing() {
	p.Heading(3, "Cautions")
	p.Paragraph(noteStyle, strings.Join(cautions, " "))
	p.about()
}

// data says what the file carries besides its pages, and where a page stands
// that can be read aloud.
func (p closingPages) data() string {
	return "The file carries the same record as data (" + RecordFile + "), without the customer's telephone number " +
		"and e-mail address, which are not printed either."
}

func (p closingPages) about() {
	p.Heading(3, "About this record")
	switch {
	case p.draft():
		p.Paragraph(noteStyle, draftWords+". It has no number, no code and no seal.")
	case p.proof():
		spans := []layout.Span{{Text: "Record " + p.doc.Number + ", issued " +
			p.doc.IssuedAt.UTC().Format("2 January 2006 at 15:04 UTC") + ", verification code " + p.doc.Seal.Code,
			Style: noteStyle}}
		if p.scannable() {
			spans = append(spans, layout.Span{Text: ". Page one says how to check it", Style: noteStyle})
		} else {
			spans = append(spans, layout.Span{Text: ". Ask the firm to confirm number and code", Style: noteStyle})
		}
		p.Rich(append(spans, layout.Span{Text: ". SHA-256 of the record's data: " + p.doc.Seal.SHA256 + ".",
			Style: noteStyle})...)
	default:
		p.Paragraph(noteStyle, "Record "+p.doc.Number+
			", a copy without proof: it carries no code and no seal by which it could be checked.")
	}
	p.Paragraph(noteSlate, p.data())
	if len(p.replaced) > 0 {
		slices.Sort(p.replaced)
		var codes []string
		for _, r := range slices.Compact(p.replaced) {
			codes = append(codes, fmt.Sprintf("%U", r))
		}
		p.Paragraph(noteSlate, "Signs that cannot be printed are shown as "+string(layout.Replacement)+
			". The attached data holds them unchanged: "+strings.Join(codes, ", ")+".")
	}
}
