package pdf

import (
	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// logoHeight is the most, in points, that a firm's logo takes of page one.
const logoHeight = 30.0

var eyebrow = layout.Style{Face: layout.Bold, Size: 8.5, Leading: 12, Colour: layout.Copper}

// frontPage is page one, for the customer. It is always exactly one page.
type frontPage struct {
	*printer
	fit fit
}

// fit is how much page one is pressed to go on one page.
type fit struct {
	gap    float64 // between blocks, points
	pad    float64 // of rows
	letter float64 // size of text
	most   int     // letters of a text that people typed; 0 for all
}

// fits are tried in turn until page one goes on one page. The last one fits
// whatever a record may hold.
var fits = []fit{
	{gap: 12, pad: 2.6, letter: 9.2}, {gap: 8, pad: 1.8, letter: 8.7}, {gap: 6, pad: 1.2, letter: 8},
	{gap: 6, pad: 1.2, letter: 8, most: 240}, {gap: 5, pad: 0.8, letter: 7.4, most: 150},
	{gap: 4, pad: 0.5, letter: 7, most: 60},
}

func (p frontPage) print() {
	for i, f := range fits {
		p.fit = f
		p.shortened, p.onPageOne = false, map[string]bool{}
		if p.Fits(p.page) {
			return
		}
		if i == len(fits)-1 {
			p.page()
		}
	}
}

// text is the style of running text.
func (p frontPage) style() layout.Style {
	return layout.Style{Size: p.fit.letter, Leading: 1.34 * p.fit.letter}
}

func (p frontPage) strong() layout.Style {
	s := p.style()
	s.Face = layout.Bold
	return s
}

func (p frontPage) label() layout.Style {
	s := p.style()
	s.Size -= 0.9
	return s.Coloured(layout.Slate)
}

func (p frontPage) head() layout.Style {
	return layout.Style{Face: layout.Bold, Size: p.fit.letter + 0.6, Leading: 1.4 * (p.fit.letter + 0.6)}
}

// heading is over a block of page one.
func (p frontPage) heading(text string) {
	p.As(layout.RoleHeading, func() { p.Paragraph(p.head(), text) })
}

// cut is text that people typed, no longer than the page has room for.
func (p frontPage) cut(s string) string {
	r := []rune(p.line(s))
	if p.fit.most == 0 || len(r) <= p.fit.most {
		return string(r)
	}
	p.shortened = true
	return string(r[:p.fit.most-1]) + "…"
}

func (p frontPage) page() {
	p.Bookmark("For the customer")
	p.letterhead()
	p.Space(p.fit.gap)
	p.band(verdictOf(p.doc))
	p.standing()
	landlord := p.doc.Record.Purpose == records.LandlordCheck
	if !landlord { // whose nine points hold what was found and done
		p.alerts()
	}
	p.Space(p.fit.gap)
	if landlord {
		landlordPage(p).items()
		if p.fit.gap >= 8 { // the law does not ask for them
			p.Space(p.fit.gap)
			p.readings()
		}
	} else {
		p.whatAndNext()
		p.Space(p.fit.gap)
		p.readings()
	}
	p.Space(p.fit.gap)
	p.emergency()
	p.Space(p.fit.gap)
	p.signed()
	p.Space(p.fit.gap)
	p.proofBlock()
}

// letterhead is the firm at the left, and what the paper is at the right.
func (p frontPage) letterhead() {
	r := p.doc.Record
	p.Columns(16, []float64{5, 3}, func() {
		p.logo()
		p.Paragraph(layout.Style{Face: layout.Bold, Size: 15, Leading: 19}, p.cut(r.Firm.Name))
		spans := []layout.Span{{Text: p.cut(list(present(r.Firm.Address), "")), Style: layout.Small}}
		if phone := p.line(r.Firm.Phone); phone != "" {
			spans = append(spans, layout.Span{Text: ", " + phone, Style: layout.Small})
		}
		if r.Firm.Registration != "" {
			spans = append(spans, layout.Span{Text: ", registration " + p.cut(r.Firm.Registration),
				Style: layout.Small})
		}
		p.Rich(spans...)
	}, func() {
		right := layout.Small.Aligned(layout.Right)
		p.Paragraph(layout.Style{Face: layout.Bold, Size: 12, Leading: 19, Align: layout.Right},
			documentName(r.Purpose))
		number := draftWords
		if !p.draft() {
			number = p.doc.Number
		}
		p.Paragraph(right, number)
		p.Paragraph(right, "Work done on "+long(r.WorkDate))
	})
}

// logo is the firm's own, small, above its name. One that is lost is left
// out: it tells nothing that the firm's details do not.
func (p frontPage) logo() {
	if p.doc.Record.Firm.Logo == "" {
		return
	}
	m, err := p.picture(p.doc.Record.Firm.Logo)
	if err != nil {
		return
	}
	p.Described("Logo of "+p.line(p.doc.Record.Firm.Name), func() {
		p.Figure(logoHeight, func(f *layout.Figure) { f.Image(m, 0, 0, f.W, logoHeight) })
	})
	p.Space(4)
}

// band says the outcome. All inside: a thin frame with a tick. Attention: a
// heavy frame. Do not use: black.
func (p frontPage) band(v verdict) {
	box := layout.BoxStyle{Border: layout.Ink, Pad: 11}
	colour, shape := layout.Ink, layout.Inside
	switch v.kind {
	case attention:
		box, shape = layout.BoxStyle{Border: layout.Ink, BorderWidth: 3, Pad: 12}, layout.Doubtful
	case doNotUse:
		box = layout.BoxStyle{Fill: layout.Ink, Pad: 15}
		colour = layout.White
	}
	title := layout.Style{Face: layout.Bold, Size: 19, Leading: 24, Colour: colour}
	if v.kind == doNotUse {
		title.Size, title.Leading = 23, 28
	}
	if p.fit.letter < 8 {
		title.Size, title.Leading = title.Size-4, title.Leading-5
	}
	p.Box(box, func() {
		p.As(layout.RoleTitle, func() {
			if v.kind == doNotUse {
				p.Paragraph(title, v.title)
			} else {
				p.Rich(layout.Span{Text: v.title, Style: title, Mark: shape})
			}
		})
		p.Space(2)
		p.Paragraph(layout.Style{Size: 9.5, Leading: 13, Colour: colour}, p.line(v.text))
	})
}

// standing says what the paper is worth, where it is not an issued and sealed
// record, and what it replaces.
func (p frontPage) standing() {
	r := p.doc.Record
	note := func(head, text string) {
		p.Space(4)
		p.Rich(layout.Span{Text: head, Style: p.strong()}, layout.Span{Text: text, Style: p.style()})
	}
	switch {
	case p.draft():
		note(draftWords+".", " The readings may still change. It proves nothing and takes the place of no record.")
	case !p.proof():
		note("Copy without proof.", " Nothing on this copy shows that it is the record as issued. Ask the firm to "+
			"confirm it by its number.")
	}
	if r.Replaces != "" {
		note("", p.cut(joined("It replaces record "+stop(r.Replaces), because(r.AmendReason))))
	}
}

func because(reason string) string {
	if reason == "" {
		return ""
	}
	return "Reason: " + stop(reason)
}

// alerts spell out the gravest findings: what is wrong, what was done, and what
// the customer must do.
func (p frontPage) alerts() {
	all := alertsOf(p.doc)
	for i, a := range all {
		if i == mostAlerts {
			break
		}
		p.onPageOne[a.finding.Rule] = true
		p.Space(p.fit.gap * 0.7)
		p.Rich(layout.Span{Text: p.cut(a.head), Style: p.strong(), Mark: mark(a.finding.Outcome)})
		t := layout.Table{PadY: 0.4, Gap: 8, Style: p.style(), NoRules: true,
			Columns: []layout.Column{{Weight: 1.25}, {Weight: 9}}}
		for _, l := range [][2]string{{"What is wrong", a.wrong}, {"What was done", a.done}, {"What to do", a.todo}} {
			if l[1] != "" {
				t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{{Text: l[0], Style: p.label()},
					{Text: p.cut(stop(sentence(l[1])))}}})
			}
		}
		p.Table(t)
	}
	if len(all) > mostAlerts {
		p.Space(3)
		p.Paragraph(p.strong(), count(len(all)-mostAlerts, "more finding")+
			" not settled: see the pages behind, under “Condition report” and in each section.")
	}
	if c := p.doc.Record.Condition; c != nil && c.Refused {
		p.Space(3)
		p.Paragraph(p.strong(), p.cut(refusal(c)))
	}
	if c := p.doc.Record.Condition; c != nil && (c.Told != "" || c.ToldHow != "") {
		p.Space(3)
		p.Rich(layout.Span{Text: "Who was told: ", Style: p.label()},
			layout.Span{Text: p.cut(stop(list(present(c.Told, c.ToldHow), ", "))), Style: p.style()})
	}
}

// whatAndNext tells what was worked on, and what falls due.
func (p frontPage) whatAndNext() {
	r := p.doc.Record
	p.Columns(18, []float64{1, 1}, func() {
		p.heading(worked(r))
		p.details(
			pair{"Appliance", joined(r.Values.ApplianceName(),
				inBrackets(choiceText(r.Values, records.ApplianceKind)))},
			pair{"Serial", r.Values.Text(records.ApplianceSerial)},
			pair{"Where", list(present(r.Values.Text(records.ApplianceLocation), address(r.Property)), ", ")},
			pair{"For", joined(r.Contact.Name, inBrackets(string(r.Contact.Tenure)))},
			pair{"By", joined(r.Engineer.Name, inBrackets(before("licence ", r.Engineer.Licence)))},
			pair{"Handed over", handedOver(r.Values)},
		)
	}, p.next)
}

func (p frontPage) details(in ...pair) {
	t := layout.Table{PadY: p.fit.pad * 0.7, Gap: 8, Style: p.style(),
		Columns: []layout.Column{{Weight: 1}, {Weight: 3.9}}}
	for _, e := range in {
		if e.value != "" {
			t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{{Text: e.label, Style: p.label()},
				{Text: p.cut(e.value)}}})
		}
	}
	if len(t.Rows) > 0 {
		p.Table(t)
	}
}

// next tells what falls due, and who acts.
func (p frontPage) next() {
	p.heading("What comes next")
	service := false
	t := layout.Table{PadY: p.fit.pad * 0.7, Gap: 8, Style: p.style(),
		Columns: []layout.Column{{Weight: 1.25}, {Weight: 2.2}}}
	for _, d := range nextDuties(p.doc) {
		service = service || d.Kind == records.AnnualService
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{{Text: long(d.Due), Style: p.strong()},
			{Text: dutyWord(d.Kind), Note: whoActs(d.Kind)}}})
	}
	if len(t.Rows) > 0 {
		p.Table(t)
	}
	if !service {
		p.Space(2)
		p.Paragraph(p.style(), "No date for the next service is on this record. Have the appliance serviced every "+
			"year unless the manufacturer's instructions say otherwise.")
	}
}

// readings shows the headline readings with their limits.
func (p frontPage) readings() {
	keys := plainReadingsOf(p.doc.Findings)
	if len(keys) == 0 {
		return
	}
	p.heading("The readings that matter most")
	t := layout.Table{PadY: p.fit.pad, Gap: 8, Style: p.style(), Columns: []layout.Column{{Weight: 4.6},
		{Weight: 2.8}, {Weight: 4}, {Weight: 2}}}
	for _, k := range keys {
		f := k.finding
		limit, reading := "", f.Reading
		if f.Limit != nil {
			limit = f.Limit.Text
		}
		if reading == "" {
			limit = f.Reason
		}
		note := k.note
		if note == "" {
			note = lower(f.Title)
		}
		name, outcome := p.style(), p.style()
		row := layout.Row{}
		if !f.Settled() {
			name, outcome, row.Fill = p.strong(), p.strong(), shade
		}
		row.Cells = []layout.Cell{{Spans: []layout.Span{{Text: k.name + " ", Style: name},
			{Text: p.cut(note), Style: p.label()}}}, {Text: p.cut(glued(sentence(reading))), Style: p.strong()},
			{Text: p.cut(glued(limit)), Style: p.label()}, {Text: outcomeWord(f), Mark: mark(f.Outcome),
				Style: outcome}}
		t.Rows = append(t.Rows, row)
	}
	p.Table(t)
}

// pair is a label of ours and a value that people typed.
type pair struct{ label, value string }

// pairs leaves out what is not there.
func (p *printer) pairs(in ...pair) []layout.Pair {
	var out []layout.Pair
	for _, e := range in {
		if e.value != "" {
			out = append(out, layout.Pair{Label: e.label, Value: layout.Cell{Text: p.line(e.value)}})
		}
	}
	return out
}

func inBrackets(s string) string {
	if s == "" {
		return ""
	}
	return "(" + s + ")"
}

func choiceText(vs records.Values, f records.ChoiceField) string {
	if code := vs.Choice(f); code != "" {
		return f.ChoiceLabel(code)
	}
	return ""
}
