package pdf

import (
	"slices"
	"strings"
	"unicode"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// Columns of the findings.
var (
	findingHeads   = []string{"Checked", "Found", "Limit and where it comes from", "Outcome"}
	findingWeights = []float64{3.5, 2.4, 4.6, 1.9}
)

const findingGap = 10

// Type of tables and workings.
var (
	cellStyle    = layout.Style{Size: 8.7, Leading: 11.3}
	cellStrong   = layout.Style{Face: layout.Bold, Size: 8.7, Leading: 11.3}
	tightStyle   = layout.Style{Size: 8.5, Leading: 11}
	labelStyle   = layout.Style{Size: 8, Leading: 10.5, Colour: layout.Slate}
	workingStyle = layout.Style{Size: 7.5, Leading: 9.6, Colour: layout.Slate}
	reasonStyle  = layout.Style{Size: 8, Leading: 10.5}
)

// findings prints each finding as a row with its working under it. A row and
// its working stay together; the head stands at the top of every page.
func (p readings) findings(fs []records.Finding) {
	var exempt []records.Finding
	var before records.Finding
	first := true
	for _, f := range fs {
		if bare(f) {
			exempt = append(exempt, f)
			continue
		}
		if len(f.Working) > 1 && slices.Equal(f.Working, before.Working) {
			f.Working = []string{"Worked out as for “" + before.Title + "” above."}
		} else {
			before = f
		}
		head := first
		p.KeepTogether(func() { p.finding(f, head || p.AtTop()) })
		first = false
	}
	if len(exempt) == 0 {
		return
	}
	t := layout.Table{PadY: 1.5, Style: tightStyle, NoRules: true, Columns: []layout.Column{{Weight: 2.2},
		{Weight: 3.2}, {Weight: 6.6}}}
	for _, f := range exempt {
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{
			{Text: outcomeWord(f), Mark: mark(f.Outcome)}, {Text: p.line(f.Title)},
			{Text: p.line(stop(sentence(f.Reason)))},
		}})
	}
	p.Space(3)
	p.Table(t)
	p.hairline()
}

// bare tells whether nothing but the reason is to be said of a finding that
// does not apply.
func bare(f records.Finding) bool {
	return f.Outcome == records.Exempt && f.Reading == "" && len(f.Working) == 0
}

func (p readings) finding(f records.Finding, head bool) {
	if head {
		p.row(func(i int) { p.Paragraph(layout.Head, findingHeads[i]) })
		p.Figure(4, func(g *layout.Figure) { g.Line(0, 2, g.W, 2, layout.Pen{Colour: layout.Ink, Width: 0.8}) })
	}
	outcome := layout.Span{Text: outcomeWord(f), Mark: mark(f.Outcome), Style: cellStyle}
	if f.Outcome == records.Outside {
		outcome.Style = cellStrong
	}
	cells := [][]layout.Span{
		{{Text: p.line(f.Title), Style: cellStyle}}, {{Text: p.line(glued(sentence(f.Reading))), Style: cellStyle}},
		p.limit(f), {outcome},
	}
	p.row(func(i int) { p.Rich(cells[i]...) })
	p.Indent(10, func() {
		r, lines := stop(sentence(reason(f))), f.Working
		switch {
		case r != "" && f.Outcome == records.Inside:
			lines = append([]string{r}, lines...)
		case r != "":
			p.Paragraph(reasonStyle, p.line(r))
		}
		p.working(lines)
	})
	p.hairline()
}

// atLimit is what the outcome of a finding at its limit says already.
const atLimit = "It is exactly at the limit."

// reason is what is left of the reason of a finding when that is not printed
// which title, limit and outcome say already: of a check inside its limit
// without a working, the sentence that only says so. A sentence with a figure
// or with a second thought says more.
func reason(f records.Finding) string {
	r := f.Reason
	if f.Outcome != records.Inside {
		return r
	}
	if f.AtLimit {
		r = strings.TrimSpace(strings.TrimSuffix(r, atLimit))
	}
	more := strings.ContainsFunc(r, unicode.IsDigit) || strings.Contains(r, ";")
	if len(f.Working) == 0 && !more {
		return ""
	}
	return r
}

// working prints the lines of a computation, a long one in two columns to be
// read one after the other.
func (p readings) working(lines []string) {
	set := func(lines []string) {
		for _, w := range lines {
			p.Paragraph(workingStyle, p.line(w))
		}
	}
	if n := len(lines); n > 2 {
		half := (n + 1) / 2
		p.Columns(20, []float64{1, 1}, func() { set(lines[:half]) }, func() { set(lines[half:]) })
		return
	}
	set(lines)
}

// row sets one cell in each column of the findings.
func (p readings) row(cell func(i int)) {
	blocks := make([]func(), len(findingWeights))
	for i := range blocks {
		blocks[i] = func() { cell(i) }
	}
	p.Columns(findingGap, findingWeights, blocks...)
}

// limit is a limit with its source, and the general one that it replaced.
func (p readings) limit(f records.Finding) []layout.Span {
	if f.Limit == nil {
		return []layout.Span{{Style: cellStyle}}
	}
	note := p.origin(*f.Limit)
	if f.Outranked != nil {
		note += ", in place of the general limit: " + stop(f.Outranked.Text) + " " + p.origin(*f.Outranked)
	}
	return []layout.Span{{Text: p.line(glued(sentence(f.Limit.Text))) + "  ", Style: cellStyle},
		{Text: p.text(note), Style: workingStyle}}
}

// origin names rank and source of a limit, and says so if the figure is not
// confirmed.
func (p readings) origin(l records.Limit) string {
	out := list(present(sentence(string(l.Rank)), p.cite(l.Source)), ", ")
	if c := l.Source.Confidence; c != "" && c != records.Confirmed {
		if c == records.Practice && l.Rank == records.ByPractice {
			c = "no published source"
		}
		out += " (" + string(c) + ")"
	}
	return out
}

// hairline parts what stands above it from what follows; at the top of a page
// it has nothing to part.
func (p *printer) hairline() {
	if p.AtTop() || p.Remaining() < 3 {
		return
	}
	p.Figure(3, func(f *layout.Figure) {
		f.Line(0, 1.5, f.W, 1.5, layout.Pen{Colour: layout.Hair, Width: layout.HairWidth})
	})
}
