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

// Columns of the findings.
var (
	findingHeads   = []string{"Checked", "Found", "Limit and where it comes from", "Outcome"}
	findingWeights = []float64{3.5, 2.3, 4.1, 2.3}
)

const findingGap = 10

// Type of tables and workings.
var (
	cellStyle    = layout.Style{Size: 9, Leading: 12.2}
	cellStrong   = layout.Style{Face: layout.Bold, Size: 9, Leading: 12.2}
	tightStyle   = layout.Style{Size: 8.5, Leading: 11.5}
	labelStyle   = layout.Style{Size: 8, Leading: 11, Colour: layout.Slate}
	workingStyle = layout.Style{Size: 7.5, Leading: 10, Colour: layout.Slate}
)

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
	t := layout.Table{PadY: 2, Style: tightStyle, Columns: []layout.Column{{Weight: 2.2}, {Weight: 3.5}, {Weight: 6.3}}}
	for _, f := range exempt {
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{
			{Text: outcomeWord(f), Mark: mark(f.Outcome)}, {Text: p.line(f.Title)}, {Text: p.line(stop(sentence(f.Reason)))},
		}})
	}
	p.Space(4)
	p.Table(t)
}

func (p *printer) finding(f records.Finding, head bool) {
	if head {
		p.row(func(i int) { p.Paragraph(layout.Head, findingHeads[i]) })
		p.Figure(4, func(g *layout.Figure) { g.Line(0, 2, g.W, 2, layout.Pen{Colour: layout.Ink, Width: 0.8}) })
	}
	outcome := layout.Span{Text: outcomeWord(f), Mark: mark(f.Outcome), Style: cellStyle}
	if f.Outcome == records.Outside {
		outcome.Style = cellStrong
	}
	cells := [][]layout.Span{
		{{Text: p.line(f.Title), Style: cellStyle}}, {{Text: p.line(sentence(f.Reading)), Style: cellStyle}}, p.limit(f), {outcome},
	}
	p.row(func(i int) { p.Rich(cells[i]...) })
	p.Indent(10, func() {
		if f.Reason != "" && f.Outcome != records.Inside {
			p.Paragraph(layout.Small.Coloured(layout.Ink), p.line(stop(sentence(f.Reason))))
		} else if f.Reason != "" {
			p.Paragraph(workingStyle, p.line(stop(sentence(f.Reason))))
		}
		for _, w := range f.Working {
			p.Paragraph(workingStyle, p.line(w))
		}
	})
	p.hairline()
}

// row sets one cell in each column of the findings.
func (p *printer) row(cell func(i int)) {
	blocks := make([]func(), len(findingWeights))
	for i := range blocks {
		blocks[i] = func() { cell(i) }
	}
	p.Columns(findingGap, findingWeights, blocks...)
}

// limit is a limit with its source, and the general one that it replaced.
func (p *printer) limit(f records.Finding) []layout.Span {
	if f.Limit == nil {
		return []layout.Span{{Style: cellStyle}}
	}
	note := p.origin(*f.Limit)
	if f.Outranked != nil {
		note += "\nIn place of the general limit: " + stop(f.Outranked.Text) + " " + p.origin(*f.Outranked)
	}
	return []layout.Span{{Text: p.line(sentence(f.Limit.Text)) + "\n", Style: cellStyle}, {Text: p.text(note), Style: workingStyle}}
}

// origin names rank and source of a limit, and says so if the figure is not
// confirmed.
func (p *printer) origin(l records.Limit) string {
	out := list(present(sentence(string(l.Rank)), p.cite(l.Source)), ", ")
	if c := l.Source.Confidence; c != "" && c != records.Confirmed {
		if c == records.Practice && l.Rank == records.ByPractice {
			c = "no published source"
		}
		out += " (" + string(c) + ")"
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

// longValue is from how many letters on a value takes a line of its own.
const longValue = 44

// group prints short values two abreast and long ones below, in their order. A
// typed name goes with the signature that was drawn under it.
func (p *printer) group(fs []*records.Field) {
	var short []layout.Pair
	flush := func() {
		p.twoAbreast(short)
		short = nil
	}
	for _, f := range fs {
		v := p.values[f.Key]
		text := p.printed(f, v)
		switch {
		case f.Kind == records.RowsKind:
			flush()
			p.rows(f, v.Rows())
		case f.Kind == records.NotesKind:
			flush()
			p.Space(4)
			p.Paragraph(labelStyle, f.Label)
			p.Paragraph(layout.Body, text)
			p.Space(4)
		case f.Kind == records.StrokesKind:
			flush()
			p.signature(f, v.Text())
		case p.signedFor(f):
		case len([]rune(text)) >= longValue:
			flush()
			p.wide(layout.Pair{Label: f.Label, Value: layout.Cell{Text: text}})
		default:
			short = append(short, layout.Pair{Label: f.Label, Value: layout.Cell{Text: text}})
		}
	}
	flush()
}

// wide sets one label and value over the whole width, in line with those set
// two abreast.
func (p *printer) wide(pair layout.Pair) {
	p.Table(layout.Table{PadY: 2.5, Style: cellStyle, Columns: []layout.Column{{Weight: 22.3}, {Weight: 77.7}},
		Rows: []layout.Row{{Cells: []layout.Cell{{Text: pair.Label, Style: labelStyle}, pair.Value}}}})
}

// twoAbreast sets labels and values in two columns, row by row.
func (p *printer) twoAbreast(pairs []layout.Pair) {
	n := len(pairs) / 2 * 2
	if n < len(pairs) {
		defer p.wide(pairs[n])
	}
	if n == 0 {
		return
	}
	t := layout.Table{PadY: 2.5, Style: cellStyle, Columns: []layout.Column{{Weight: 2.7}, {Weight: 3.1}, {Weight: 2.7}, {Weight: 3.1}}}
	for i := 0; i < n; i += 2 {
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{
			{Text: pairs[i].Label, Style: labelStyle}, pairs[i].Value, {Text: pairs[i+1].Label, Style: labelStyle}, pairs[i+1].Value,
		}})
	}
	p.Table(t)
}

// rows prints a rows field as a small table of the columns that are used.
func (p *printer) rows(f *records.Field, rows []records.Row) {
	t := layout.Table{PadY: 2, Style: tightStyle, Columns: []layout.Column{{Weight: 0.5, Align: layout.Right}}}
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
	p.Paragraph(labelStyle, f.Label)
	p.Table(t)
	p.Space(4)
}
