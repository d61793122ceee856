package pdf

import (
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// pictures are drawn at the end of a section, where a picture says more than
// its table. A section without one needs no entry.
var pictures = map[records.SectionID]func(readings){
	records.Pressure.ID:   readings.pressurePicture,
	records.Combustion.ID: readings.combustionPicture,
}

// readings prints what was entered and what the rules made of it.
type readings struct {
	*printer
	// oldValues are those of fields that are no longer asked for.
	oldValues map[string]records.Value
	old       []records.OldEntry // what no field of today asks for
}

// legend says how the pages behind page one are read.
func (p readings) legend() {
	text := func(s string) layout.Span { return layout.Span{Text: s, Style: noteStyle} }
	word := func(s string, m layout.Mark) layout.Span { return layout.Span{Text: s, Style: noteBold, Mark: m} }
	p.Rich(word("inside", layout.Inside), text(" within the limit;  "), word("outside", layout.Outside),
		text(" not within it;  "), word("missing", layout.Missing),
		text(" something needed to judge it is not there;  "),
		word("doubtful", layout.Doubtful), text(" readings contradict each other or physics. Bold: as found. Grey: "+
			"the limit, with the number of its source on the last pages; "+unconfirmed+
			" figure from memory or from one secondary source, not confirmed."))
}

// sections prints every section in the order of the work, and names those that
// hold nothing.
func (p readings) sections() {
	var empty []string
	for _, s := range records.Sections {
		if !p.section(s) {
			empty = append(empty, lower(s.Title))
		}
	}
	if len(empty) > 0 {
		p.Heading(3, "Not part of this record")
		p.Paragraph(runStyle, "Nothing was entered and nothing was judged under: "+list(empty, ", ", " and ")+".")
	}
}

// section prints one section: its findings, then everything entered in it
// that the findings do not show. It tells whether there was anything.
func (p readings) section(s *records.Section) bool {
	var judged []records.Finding
	for _, f := range p.doc.Findings {
		if f.Section == s.ID {
			judged = append(judged, f)
		}
	}
	exempt := s.ExemptReason(p.values)
	if len(judged) == 0 && exempt == "" && !p.anyEntry(s) {
		return false
	}
	p.Heading(3, s.Title)
	if exempt != "" {
		p.Rich(layout.Span{Text: "does not apply", Style: runBold, Mark: layout.Exempt},
			layout.Span{Text: ": " + p.line(stop(exempt)), Style: runStyle})
	}
	p.findings(judged)
	p.entries(s)
	p.oldEntries("No longer asked for", s.ID)
	if draw := pictures[s.ID]; draw != nil && exempt == "" {
		draw(p)
	}
	return true
}

// anyEntry tells whether anything that is shown was entered in a section.
func (p readings) anyEntry(s *records.Section) bool {
	for _, f := range s.Fields() {
		if p.values.Shown(f) && p.values[f.Key].Present() {
			return true
		}
	}
	for _, k := range p.old {
		if k.Section == s.ID {
			return true
		}
	}
	return false
}

// oldEntries prints what the record holds of a section that no field of today asks
// for; of "", what belongs to no section of today.
func (p readings) oldEntries(title string, section records.SectionID) {
	var fs []*records.Field
	for _, k := range p.old {
		if k.Section != section && (section != "" || records.SectionByID(k.Section) != nil) {
			continue
		}
		f := *k.Field
		f.Label = p.line(f.Label)
		fs = append(fs, &f)
		p.oldValues[f.Key] = k.Value
	}
	var run []layout.Span
	if len(fs) > 0 {
		p.group(title, fs, &run)
	}
	p.flush(&run)
}

// value is the value of a field, also of one that is no longer asked for.
func (p readings) value(f *records.Field) records.Value {
	if v, ok := p.oldValues[f.Key]; ok {
		return v
	}
	return p.values[f.Key]
}

// strays prints findings of sections that this version does not know, and
// what else it does not know, so that nothing of an old record is lost.
func (p readings) strays() {
	var fs []records.Finding
	for _, f := range p.doc.Findings {
		if records.SectionByID(f.Section) == nil {
			fs = append(fs, f)
		}
	}
	if len(fs) > 0 {
		p.Heading(3, "Other checks")
		p.findings(fs)
	}
	for _, k := range p.old {
		if records.SectionByID(k.Section) == nil {
			p.Heading(3, "Also on this record")
			p.Paragraph(noteStyle, "Recorded with an earlier form, and shown as it was written.")
			p.oldEntries("", "")
			return
		}
	}
}

// visit prints who was there and when, as far as page one does not show it.
// The customer's telephone and e-mail are printed nowhere: a copy that is
// passed on must not carry them.
func (p readings) visit() {
	r := p.doc.Record
	p.Heading(3, "The visit")
	who := []pair{
		{"Nation", string(r.Property.Nation)},
		{"Customer", joined(r.Contact.Name, inBrackets(string(r.Contact.Tenure)))},
		{"Customer's address", r.Contact.Address},
		{"Firm's e-mail", r.Firm.Email},
		{"Engineer", joined(r.Engineer.Name, inBrackets(r.Engineer.Licence))},
		{"Competence until", long(r.Engineer.CompetenceUntil)},
		{"Taken over from", signedList(p.doc.TakenOverFrom)},
		{"Amended by", signatory(p.doc.AmendedBy)},
		{"Declared and issued by", signatory(p.doc.IssuedBy)},
	}
	if p.shortened {
		who = append(who, pair{"Property", address(r.Property)}, pair{"Firm", r.Firm.Name},
			pair{"Firm's address", r.Firm.Address}, pair{"Firm's registration", r.Firm.Registration})
	}
	p.runIn("", who)
	var with []pair
	for _, i := range r.Instruments {
		with = append(with, pair{"", joined(i.Kind, i.Make, i.Model) + ", serial " + i.Serial + ", calibrated " +
			orNot(long(i.CalibratedOn)) + ", next due " + orNot(long(i.CalibrationDue))})
	}
	p.runIn("Instruments", with)
}

func orNot(s string) string {
	if s == "" {
		return "not stated"
	}
	return s
}

// runIn prints labels and values one after the other, under a title if it is
// not empty.
func (p *printer) runIn(title string, pairs []pair) {
	if spans := p.runOf(title, pairs); len(spans) > 0 {
		p.Rich(spans...)
		p.Space(1)
	}
}

// runOf sets labels and values one after the other; nothing if no value is
// there.
func (p *printer) runOf(title string, pairs []pair) []layout.Span {
	var spans []layout.Span
	for _, e := range pairs {
		if e.value == "" {
			continue
		}
		if len(spans) > 0 {
			spans = append(spans, layout.Span{Text: " · ", Style: runSlate})
		}
		label := e.label
		if label != "" {
			label += " "
		}
		spans = append(spans, layout.Span{Text: label, Style: runSlate},
			layout.Span{Text: strings.TrimSpace(p.text(e.value)), Style: runStyle})
	}
	if title != "" && len(spans) > 0 {
		spans = append([]layout.Span{{Text: title + ": ", Style: runBold}}, spans...)
	}
	return spans
}
