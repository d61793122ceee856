package pdf

import (
	"fmt"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// shownAsFound tells whether a finding of the field's own section shows the
// value already in its column Found: letter by letter, and as the one value of
// that kind that it reads, so that it cannot be taken for another one. A
// reading that is worked out may come to the same figure by chance, so a
// finding of several values with a working does not count.
func (p readings) shownAsFound(f *records.Field, section records.SectionID) bool {
	text := spaces(p.printed(f, p.values[f.Key]))
	if text == "" {
		return false
	}
	for _, g := range p.doc.Findings {
		if g.Section != section || g.Section != f.Section() || bare(g) ||
			!strings.EqualFold(spaces(p.line(g.Reading)), text) {
			continue
		}
		kind, same, reads := 0, 0, false
		for _, key := range g.Fields {
			other := records.FieldByKey(key)
			if other == nil || other.Kind != f.Kind || other.Section() != f.Section() || !p.values[key].Present() {
				continue
			}
			kind++
			reads = reads || key == f.Key
			if strings.EqualFold(spaces(p.printed(other, p.values[key])), text) {
				same++
			}
		}
		if reads && same == 1 && (kind == 1 || len(g.Working) == 0) {
			return true
		}
	}
	return false
}

func spaces(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }

// entries prints every shown value of a section that no finding has shown,
// group by group.
func (p readings) entries(s *records.Section, head string) {
	any := false
	for _, g := range s.Groups {
		var fs []*records.Field
		for _, f := range g.Fields {
			if p.values.Shown(f) && p.values[f.Key].Present() && !p.shownAsFound(f, s.ID) {
				fs = append(fs, f)
			}
		}
		if len(fs) == 0 {
			continue
		}
		if !any && head != "" {
			p.Space(6)
			p.Need(40)
			p.Paragraph(layout.Head, head)
		}
		any = true
		p.group(g.Title, fs)
	}
}

// Widths of the columns of entered values in points: title of the group, label,
// value, label; the rest is for the second value.
const (
	groupWidth, entryLabel, entryValue = 78, 92, 98
	entryGap                           = 8
)

// From how many letters on a value takes a line of its own, and a note the
// whole width.
const (
	longValue = 40
	longNote  = 300
)

// group prints short values two abreast and long ones below, in their order,
// beside the title of the group. A typed name goes with the signature that was
// drawn under it.
func (p readings) group(title string, fs []*records.Field) {
	var short []layout.Pair
	var lines [][]layout.Pair
	var signatures []*records.Field
	pair := func() {
		for len(short) > 0 {
			n := min(2, len(short))
			lines = append(lines, short[:n])
			short = short[n:]
		}
	}
	flush := func() {
		pair()
		p.entryLines(title, lines)
		if len(lines) > 0 {
			title, lines = "", nil
		}
	}
	for _, f := range fs {
		v := p.value(f)
		text := p.printed(f, v)
		switch {
		case len(v.Rows()) > 0:
			flush()
			p.Need(70) // the label stays with the first rows
			lines = append(lines, []layout.Pair{{Label: label(f)}})
			flush()
			p.rows(f, v.Rows())
		case f.Kind == records.NotesKind && len(text) >= longNote:
			flush()
			p.Need(50)
			lines = append(lines, []layout.Pair{{Label: label(f)}})
			flush()
			p.Paragraph(layout.Body, text)
			p.Space(4)
		case f.Kind == records.StrokesKind && !v.Old():
			signatures = append(signatures, f)
		case p.signedFor(f):
		case len([]rune(text)) >= longValue || strings.Contains(text, "\n"):
			pair()
			lines = append(lines, []layout.Pair{{Label: label(f), Value: layout.Cell{Text: text}}})
		default:
			short = append(short, layout.Pair{Label: label(f), Value: layout.Cell{Text: text}})
		}
	}
	flush()
	p.signatures(signatures)
	p.hairline()
}

// entryLines sets lines of one label and value over the whole width or two
// abreast, with the title of the group at their left.
func (p readings) entryLines(title string, lines [][]layout.Pair) {
	if len(lines) == 0 {
		return
	}
	width := p.Width()
	p.Columns(entryGap, []float64{groupWidth, width - groupWidth - entryGap},
		func() { p.Space(1.4); p.Paragraph(layout.Head.Coloured(layout.Ink), title) },
		func() {
			for _, line := range lines {
				p.entryLine(line)
			}
		})
}

func (p readings) entryLine(pairs []layout.Pair) {
	t := layout.Table{PadY: 1.2, Gap: entryGap, Style: cellStyle, NoRules: true,
		Columns: []layout.Column{{Weight: entryLabel}}}
	rest := p.Width() - entryLabel - entryGap
	if len(pairs) == 1 {
		t.Columns = append(t.Columns, layout.Column{Weight: rest})
	} else {
		t.Columns = append(t.Columns, layout.Column{Weight: entryValue}, layout.Column{Weight: entryLabel},
			layout.Column{Weight: rest - entryValue - entryLabel - 2*entryGap})
	}
	var cells []layout.Cell
	for _, e := range pairs {
		cells = append(cells, layout.Cell{Text: e.Label, Style: labelStyle}, e.Value)
	}
	t.Rows = []layout.Row{{Cells: cells}}
	p.Table(t)
}

// rows prints a rows field as a small table of the columns that are used.
func (p readings) rows(f *records.Field, rows []records.Row) {
	t := layout.Table{PadY: 1.5, Style: tightStyle, Columns: []layout.Column{{Weight: 0.4, Align: layout.Right}}}
	used := f.ColumnsIn(rows)
	for _, c := range used {
		col := layout.Column{Head: p.line(c.Label), Weight: 1.4}
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
	p.Table(t)
	p.Space(3)
}

// twoAbreast sets labels and values in two columns, row by row.
func (p *printer) twoAbreast(pairs []layout.Pair) {
	t := layout.Table{PadY: 2, Style: cellStyle, Columns: []layout.Column{{Weight: 2.2}, {Weight: 3.6}, {Weight: 2.2},
		{Weight: 3.6}}}
	if len(pairs)%2 == 1 {
		pairs = append(pairs, layout.Pair{})
	}
	for i := 0; i < len(pairs); i += 2 {
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{
			{Text: pairs[i].Label, Style: labelStyle}, pairs[i].Value, {Text: pairs[i+1].Label, Style: labelStyle},
			pairs[i+1].Value,
		}})
	}
	p.Table(t)
}
