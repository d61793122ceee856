package pdf

import (
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
		p.Heading(1, "Not part of this record")
		p.Paragraph(layout.Body, "Nothing was entered and nothing was judged under: "+list(empty, ", ", " and ")+".")
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
	p.Heading(1, s.Title)
	if exempt != "" {
		p.Rich(layout.Span{Text: "does not apply", Style: layout.Strong, Mark: layout.Exempt},
			layout.Span{Text: ": " + p.line(stop(exempt)), Style: layout.Body})
	}
	p.findings(judged)
	head := "Entered"
	if len(judged) > 0 {
		head = "Also entered"
	}
	p.entries(s, head)
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
	for _, k := range p.doc.Record.OldEntries() {
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
	for _, k := range p.doc.Record.OldEntries() {
		if k.Section != section && (section != "" || records.SectionByID(k.Section) != nil) {
			continue
		}
		f := *k.Field
		f.Label = p.line(f.Label)
		fs = append(fs, &f)
		p.oldValues[f.Key] = k.Value
	}
	if len(fs) > 0 {
		p.group(title, fs)
	}
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
		p.Heading(1, "Other checks")
		p.findings(fs)
	}
	for _, k := range p.doc.Record.OldEntries() {
		if records.SectionByID(k.Section) == nil {
			p.Heading(1, "Also on this record")
			p.Paragraph(layout.Small, "Recorded with an earlier form, and shown as it was written.")
			p.oldEntries("", "")
			return
		}
	}
}
