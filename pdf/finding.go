package pdf

import (
	"strings"
	"unicode"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// Type of the pages behind page one.
var (
	cellStyle  = layout.Style{Size: 8.7, Leading: 11.3}
	labelStyle = layout.Style{Size: 8, Leading: 10.5, Colour: layout.Slate}

	rowStyle   = layout.Style{Size: 6.8, Leading: 8.0}
	rowBold    = layout.Style{Face: layout.Bold, Size: 6.8, Leading: 8.0}
	rowSlate   = layout.Style{Size: 6.6, Leading: 8.0, Colour: layout.Slate}
	rowOutcome = layout.Style{Size: 6.2, Leading: 8.0}
	runStyle   = layout.Style{Size: 6.6, Leading: 7.75}
	runBold    = layout.Style{Face: layout.Bold, Size: 6.6, Leading: 7.75}
	runSlate   = layout.Style{Size: 6.6, Leading: 7.75, Colour: layout.Slate}
	noteStyle  = layout.Style{Size: 6.2, Leading: 7.15}
	noteBold   = layout.Style{Face: layout.Bold, Size: 6.2, Leading: 7.15}
	noteSlate  = layout.Style{Size: 6.2, Leading: 7.15, Colour: layout.Slate}
)

// shape is how a finding is printed.
type shape uint8

const (
	asRow    shape = iota // a line of its own: a measured value, or anything not settled
	asAnswer              // among the answers, one after the other
	asAgreed              // among the cross-checks that agree
	asExempt              // named with the reason
)

// longestInRow is the most letters of a value that a row has room for.
const longestInRow = 22

// shapeOf tells how a finding is printed. Whatever is not settled has a row.
func shapeOf(f records.Finding) shape {
	switch {
	case f.Outcome == records.Exempt && f.Reading == "" && len(f.Working) == 0:
		return asExempt
	case f.Outcome != records.Inside:
		return asRow
	case f.Limit != nil && (f.Limit.Rank == records.ByPhysics || f.Limit.Rank == records.ByPractice &&
		len(f.Fields) > 1 &&
		f.Limit.Low == nil && f.Limit.High == nil):
		return asAgreed
	case !strings.ContainsFunc(f.Reading, unicode.IsDigit), len([]rune(f.Reading)) > longestInRow:
		return asAnswer
	}
	return asRow
}

// findings prints the findings of a section: rows first, in their order, then
// what is run in.
func (p readings) findings(fs []records.Finding) {
	by := map[shape][]records.Finding{}
	for _, f := range fs {
		by[shapeOf(f)] = append(by[shapeOf(f)], f)
	}
	p.rowsOf(by[asRow])
	p.runFindings("Also inside: ", by[asAnswer])
	switch agreed := by[asAgreed]; len(agreed) {
	case 0:
	case 1:
		p.runFindings("1 cross-check agrees: ", agreed)
	default:
		p.runFindings(count(len(agreed), "cross-check")+" agree: ", agreed)
	}
	p.remarks(fs)
}

// rowsOf sets a line for each finding: what was looked at, found, its limit
// and the outcome. What is not settled stands on a tint, with its reason.
func (p readings) rowsOf(fs []records.Finding) {
	if len(fs) == 0 {
		return
	}
	table := func(rows ...layout.Row) {
		p.Table(layout.Table{PadY: 0.6, Gap: 5, Style: rowStyle, Rows: rows, Columns: []layout.Column{{Weight: 3.75},
			{Weight: 1.85}, {Weight: 3.2}, {Weight: 1.5}}})
	}
	var rows []layout.Row
	for _, f := range fs {
		row := layout.Row{Cells: []layout.Cell{{Text: p.line(f.Title)},
			{Text: p.line(glued(sentence(f.Reading))), Style: rowBold}, {Spans: p.limit(f)},
			{Text: rowWord(f), Mark: mark(f.Outcome), Style: rowOutcome}}}
		if f.Settled() {
			rows = append(rows, row)
			continue
		}
		if len(rows) > 0 {
			table(rows...)
			rows = nil
		}
		row.Fill, row.Cells[0].Style = shade, rowBold
		p.KeepTogether(func() {
			table(row)
			if r := stop(sentence(f.Reason)); r != "" {
				p.Paragraph(runStyle, p.line(r))
				p.Space(1)
			}
		})
	}
	if len(rows) > 0 {
		table(rows...)
	}
	p.Space(1)
}

// rowWord is the outcome in as few letters as a row has room for.
func rowWord(f records.Finding) string {
	if f.Outcome == records.Inside && f.AtLimit {
		return "at limit"
	}
	switch f.Outcome {
	case records.Exempt:
		return "exempt"
	case records.Close:
		return "too close"
	}
	return string(f.Outcome)
}

// runFindings prints findings that are inside one after the other.
func (p readings) runFindings(head string, fs []records.Finding) {
	if len(fs) == 0 {
		return
	}
	spans := []layout.Span{{Text: head, Style: runBold}}
	for len(fs) > 0 {
		n := 1
		for n < len(fs) && alike(fs[0], fs[n]) {
			n++
		}
		for i, f := range fs[:n] {
			title := lower(f.Title)
			if len(spans) == 1 {
				title = sentence(title)
			}
			if i > 0 {
				title = ", " + title
			}
			spans = append(spans, layout.Span{Text: p.line(title), Style: runStyle})
			if f.Reading != "" && (i+1 == n || fs[i+1].Reading != f.Reading) {
				spans = append(spans, layout.Span{Text: " " + p.line(glued(f.Reading)), Style: runBold})
			}
		}
		if fs[0].Limit != nil {
			spans = append(spans, layout.Span{Text: " ", Style: runStyle})
			spans = append(spans, p.limit(fs[0])...)
		}
		end := "; "
		if fs = fs[n:]; len(fs) == 0 {
			end = "."
		}
		spans = append(spans, layout.Span{Text: end, Style: runStyle})
	}
	p.Rich(spans...)
	p.Space(1)
}

// alike tells whether two findings have the same limit.
func alike(a, b records.Finding) bool {
	return a.Limit == b.Limit || a.Limit != nil && b.Limit != nil && a.Outranked == nil &&
		b.Outranked == nil && a.Limit.Text == b.Limit.Text && a.Limit.Source == b.Limit.Source &&
		a.Limit.Rank == b.Limit.Rank
}

// exempt names the checks that do not apply, each reason once.
func (p readings) exempt() {
	var reasons []string
	titles := map[string][]string{}
	for _, f := range p.doc.Findings {
		if shapeOf(f) != asExempt {
			continue
		}
		if titles[f.Reason] == nil {
			reasons = append(reasons, f.Reason)
		}
		titles[f.Reason] = append(titles[f.Reason], lower(f.Title))
	}
	if len(reasons) == 0 {
		return
	}
	p.Heading(3, "What does not apply")
	var spans []layout.Span
	for i, r := range reasons {
		name, end := sentence(list(titles[r], ", ", " and ")), " "
		if i == len(reasons)-1 {
			end = ""
		}
		spans = append(spans, layout.Span{Text: p.line(name) + ": ", Style: runStyle},
			layout.Span{Text: p.line(stop(lower(r))) + end, Style: runSlate})
	}
	spans[0].Mark = layout.Exempt
	p.Rich(spans...)
}

// atLimit is what the outcome of a finding at its limit says already.
const atLimit = "It is exactly at the limit."

const inCalibration = "In calibration on the day; next due on"

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
	if strings.HasPrefix(r, inCalibration) { // which the list of instruments says
		return ""
	}
	if strings.ContainsFunc(r, unicode.IsDigit) || strings.Contains(r, ";") {
		return r
	}
	return ""
}

// remarks are the reasons of findings inside their limits that say more than
// that.
func (p readings) remarks(fs []records.Finding) {
	var spans []layout.Span
	for _, f := range fs {
		if r := reason(f); f.Settled() && shapeOf(f) != asExempt && r != "" {
			spans = append(spans, layout.Span{Text: p.line(f.Title) + ": ", Style: runSlate},
				layout.Span{Text: p.line(stop(r)) + " ", Style: runStyle})
		}
	}
	if len(spans) > 0 {
		p.Rich(spans...)
		p.Space(1)
	}
}

// limit is a limit with its source, and the general one that it replaced.
func (p readings) limit(f records.Finding) []layout.Span {
	if f.Limit == nil {
		return []layout.Span{{Style: rowSlate}}
	}
	note := p.notes.cite(f.Limit.Source, f.Limit.Rank)
	if o := f.Outranked; o != nil {
		note += " in place of " + o.Text + " " + p.notes.cite(o.Source, o.Rank)
	}
	return []layout.Span{{Text: p.line(glued(f.Limit.Text)) + " ", Style: rowSlate},
		{Text: p.line(note), Style: noteSlate}}
}
