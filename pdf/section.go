package pdf

import (
	"fmt"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// pictures are drawn at the end of a section, where a picture says more than
// its table. A section without one needs no entry.
var pictures = map[records.SectionID]func(*printer){
	records.Pressure.ID:   (*printer).pressurePicture,
	records.Combustion.ID: (*printer).combustionPicture,
}

// section prints one section: its findings, then everything entered in it.
func (p *printer) section(s *records.Section) {
	p.Heading(1, s.Title)
	var judged []records.Finding
	for _, f := range p.doc.Findings {
		if f.Section == s.ID {
			judged = append(judged, f)
		}
	}
	reason := s.ExemptReason(p.values)
	if reason != "" {
		p.Rich(layout.Span{Text: "does not apply", Style: layout.Strong, Mark: layout.Exempt},
			layout.Span{Text: ": " + p.line(stop(reason)), Style: layout.Body})
	}
	p.findings(judged)
	entered := p.entries(s)
	if len(judged) == 0 && !entered && reason == "" {
		p.Paragraph(layout.Body, "Nothing was entered and nothing was judged.")
	}
	if draw := pictures[s.ID]; draw != nil && reason == "" {
		draw(p)
	}
}

// strays prints findings of sections that this version does not know, so that
// no finding of an old record is lost.
func (p *printer) strays() {
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
}

var findingColumns = []layout.Column{
	{Head: "Checked", Weight: 3.5}, {Head: "Found", Weight: 2.3}, {Head: "Limit and where it comes from", Weight: 4}, {Head: "Outcome", Weight: 2.2},
}

// findings prints each finding as a row with its working under it. A row and
// its working stay together; the head stands at the top of every page.
func (p *printer) findings(fs []records.Finding) {
	var exempt []records.Finding
	first := true
	for _, f := range fs {
		if f.Outcome == records.Exempt && f.Reading == "" && len(f.Working) == 0 {
			exempt = append(exempt, f)
			continue
		}
		head := first
		p.KeepTogether(func() { p.finding(f, head || p.AtTop()) })
		first = false
	}
	if len(exempt) == 0 {
		return
	}
	t := layout.Table{PadY: 2, Style: layout.Style{Size: 8.5, Leading: 11.5}, Columns: []layout.Column{{Weight: 2.2}, {Weight: 3.5}, {Weight: 6.3}}}
	for _, f := range exempt {
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{
			{Text: outcomeWord(f), Mark: mark(f.Outcome)}, {Text: p.line(f.Title)}, {Text: p.line(stop(sentence(f.Reason)))},
		}})
	}
	p.Space(4)
	p.Table(t)
}

func (p *printer) finding(f records.Finding, head bool) {
	t := layout.Table{PadY: 3, NoRules: true, Columns: findingColumns}
	if !head {
		t.Columns = make([]layout.Column, len(findingColumns))
		for i, c := range findingColumns {
			t.Columns[i] = layout.Column{Weight: c.Weight}
		}
	}
	outcome := layout.Cell{Text: outcomeWord(f), Mark: mark(f.Outcome)}
	if f.Outcome == records.Outside {
		outcome.Style = layout.Style{Face: layout.Bold, Size: 9, Leading: 12.5}
	}
	t.Rows = []layout.Row{{Cells: []layout.Cell{
		{Text: p.line(f.Title)}, {Text: p.line(f.Reading)}, p.limit(f), outcome,
	}}}
	p.Table(t)
	small := layout.Style{Size: 7.5, Leading: 10, Colour: layout.Slate}
	p.Indent(10, func() {
		if f.Reason != "" {
			p.Paragraph(layout.Small.Coloured(layout.Ink), p.line(stop(sentence(f.Reason))))
		}
		for _, w := range f.Working {
			p.Paragraph(small, p.line(w))
		}
	})
	p.hairline()
}

// limit is the cell of a limit with its source, and the general one that it
// replaced.
func (p *printer) limit(f records.Finding) layout.Cell {
	if f.Limit == nil {
		return layout.Cell{}
	}
	note := p.origin(*f.Limit)
	if f.Outranked != nil {
		note += "\nIn place of the general limit: " + stop(f.Outranked.Text) + " " + p.origin(*f.Outranked)
	}
	return layout.Cell{Text: p.line(sentence(f.Limit.Text)), Note: p.text(note)}
}

// origin names rank and source of a limit, and says so if the figure is not
// confirmed.
func (p *printer) origin(l records.Limit) string {
	out := sentence(string(l.Rank))
	if c := p.cite(l.Source); c != "" {
		out = joined(out+",", c)
	}
	if l.Source.Confidence != "" && l.Source.Confidence != records.Confirmed && string(l.Source.Confidence) != string(l.Rank) {
		out += " (" + string(l.Source.Confidence) + ")"
	}
	return out
}

func (p *printer) hairline() {
	p.Figure(3, func(f *layout.Figure) {
		f.Line(0, 2, f.W, 2, layout.Pen{Colour: layout.Hair, Width: layout.HairWidth})
	})
}

// entries prints every shown value of a section, group by group.
func (p *printer) entries(s *records.Section) bool {
	any := false
	for _, g := range s.Groups {
		var fs []*records.Field
		for _, f := range g.Fields {
			if p.values.Shown(f) && p.values[f.Key].Present() {
				fs = append(fs, f)
			}
		}
		if len(fs) == 0 {
			continue
		}
		any = true
		p.Heading(2, g.Title)
		p.group(fs)
	}
	return any
}

// group prints short values two abreast and long ones below, in their order.
func (p *printer) group(fs []*records.Field) {
	var short []layout.Pair
	flush := func() {
		if len(short) > 0 {
			p.Pairs(2, short...)
			short = nil
		}
	}
	for _, f := range fs {
		v := p.values[f.Key]
		switch f.Kind {
		case records.RowsKind:
			flush()
			p.rows(f, v.Rows())
		case records.NotesKind:
			flush()
			p.Space(4)
			p.Paragraph(layout.Label, f.Label)
			p.Paragraph(layout.Body, p.printed(f, v))
			p.Space(4)
		case records.StrokesKind:
			flush()
			p.signature(f, v.Text())
		default:
			short = append(short, layout.Pair{Label: f.Label, Value: layout.Cell{Text: p.printed(f, v)}})
		}
	}
	flush()
}

// rows prints a rows field as a small table of the columns that are used.
func (p *printer) rows(f *records.Field, rows []records.Row) {
	t := layout.Table{PadY: 2, Style: layout.Style{Size: 8.5, Leading: 11.5}, Columns: []layout.Column{{Weight: 0.5, Align: layout.Right}}}
	var used []*records.Field
	for _, c := range f.Columns {
		for _, r := range rows {
			if r[c.Key].Present() {
				used = append(used, c)
				break
			}
		}
	}
	for _, c := range used {
		col := layout.Column{Head: c.Label, Weight: 1.4}
		if c.Kind == records.NumberKind {
			col.Align = layout.Right
			if c.Unit != "" {
				col.Head += ", " + c.Unit
			}
		} else if c.Kind != records.FlagKind {
			col.Weight = 3.2
		}
		t.Columns = append(t.Columns, col)
	}
	for i, r := range rows {
		cells := []layout.Cell{{Text: fmt.Sprint(i + 1), Style: layout.Small.Aligned(layout.Right)}}
		for _, c := range used {
			text := ""
			if v := r[c.Key]; c.Kind == records.NumberKind {
				text = v.Text()
			} else if v.Present() {
				text = p.printed(c, v)
			}
			cells = append(cells, layout.Cell{Text: text})
		}
		t.Rows = append(t.Rows, layout.Row{Cells: cells})
	}
	p.Space(4)
	p.Paragraph(layout.Label, f.Label)
	p.Table(t)
	p.Space(4)
}
