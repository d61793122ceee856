package pdf

import (
	"fmt"
	"slices"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// shownAsFound tells whether the value is printed already: because a finding
// is about this field alone, or names it with its label in a working, or
// because a finding of the field's own section shows it as what it found: letter by letter, and as the one value of
// that kind that it reads, so that it cannot be taken for another one. A
// reading that is worked out may come to the same figure by chance, so a
// finding of several values with a working does not count.
func (p readings) shownAsFound(f *records.Field, section records.SectionID) bool {
	text := spaces(p.printed(f, p.values[f.Key]))
	if text == "" {
		return false
	}
	said := spaces(label(f)) + ": " + strings.TrimSuffix(text, ".")
	for _, g := range p.doc.Findings {
		if g.Rule == f.Key && strings.EqualFold(spaces(p.line(g.Reading)), text) ||
			slices.Contains(g.Fields, f.Key) && slices.ContainsFunc(g.Working, func(line string) bool {
				return strings.EqualFold(strings.TrimSuffix(spaces(line), "."), said)
			}) {
			return true
		}
		if g.Section != section || g.Section != f.Section() || shapeOf(g) == asExempt ||
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
// group after group.
func (p readings) entries(s *records.Section) {
	var run []layout.Span
	for _, g := range s.Groups {
		var fs []*records.Field
		for _, f := range g.Fields {
			if p.values.Shown(f) && p.values[f.Key].Present() && !p.shownAsFound(f, s.ID) {
				fs = append(fs, f)
			}
		}
		if len(fs) > 0 {
			p.group(g.Title, fs, &run)
		}
	}
	p.flush(&run)
}

// flush sets what was run in.
func (p readings) flush(run *[]layout.Span) {
	if len(*run) > 0 {
		p.Rich(*run...)
		p.Space(1)
	}
	*run = nil
}

// longNote is from how many letters on a note has a paragraph of its own.
const longNote = 200

// group runs values in under the title of their group. Rows, long notes and
// signatures have a place of their own, in their order.
func (p readings) group(title string, fs []*records.Field, run *[]layout.Span) {
	var short []pair
	pause := func() {
		if spans := p.runOf(title, short); len(spans) > 0 {
			if len(*run) > 0 {
				*run = append(*run, layout.Span{Text: "  ", Style: runStyle})
			}
			*run, title, short = append(*run, spans...), "", nil
		}
	}
	own := func(set func()) {
		pause()
		p.flush(run)
		set()
	}
	for _, f := range fs {
		v := p.value(f)
		text := p.printed(f, v)
		_, onPageOne := signatories[f.Key]
		switch {
		case len(v.Rows()) > 0:
			own(func() { p.KeepTogether(func() { p.rows(f, v.Rows()) }) })
		case len(text) >= longNote || strings.Contains(text, "\n"):
			own(func() {
				p.Rich(layout.Span{Text: label(f) + ": ", Style: runSlate}, layout.Span{Text: text, Style: runStyle})
				p.Space(1)
			})
		case f.Kind == records.StrokesKind && !v.Old():
			if !onPageOne {
				own(func() { p.signature(f.Label, p.signatory(f), v.Text()) })
			}
		default:
			short = append(short, pair{label(f), text})
		}
	}
	pause()
}

// rows prints a rows field as a small table of the columns that are used.
func (p readings) rows(f *records.Field, rows []records.Row) {
	p.Paragraph(runSlate, label(f))
	t := layout.Table{PadY: 0.6, Gap: 4, Style: noteStyle, Columns: []layout.Column{{Weight: 0.5, Align: layout.Right}}}
	used := f.ColumnsIn(rows)
	for _, c := range used {
		col := layout.Column{Head: p.line(c.Label), Weight: 1.9}
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
		cells := []layout.Cell{{Text: fmt.Sprint(i + 1), Style: noteSlate.Aligned(layout.Right)}}
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
	p.Space(1)
}
