package pdf

import (
	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// titleStyle is a little smaller than the kit's, so that most titles fit into
// one line beside the code.
var titleStyle = layout.Style{Face: layout.Bold, Size: 18, Leading: 23}

// logoHeight is the most, in points, that a firm's logo takes of page one.
const logoHeight = 34.0

var eyebrow = layout.Style{Face: layout.Bold, Size: 8.5, Leading: 12, Colour: layout.Copper}

// frontPage is the page for the customer.
type frontPage struct{ *printer }

func (p frontPage) print() {
	r := p.doc.Record
	p.Bookmark("For the customer")
	if p.scannable() {
		p.Columns(16, []float64{4, 1}, p.titleBlock, p.proofBlock)
	} else {
		p.titleBlock()
	}
	p.Space(8)
	landlord := r.Purpose == records.LandlordCheck
	if landlord {
		landlordPage(p).items()
	} else {
		p.whatAndWho()
	}
	// What to do in an emergency stands on page one, however much was found.
	first, second := func() { p.outcome(!landlord) }, p.emergency
	if p.muchFound() || landlord && len(records.Unsettled(p.doc.Findings)) > 0 {
		first, second = second, first
	}
	p.Space(12)
	first()
	p.Space(12)
	second()
	p.Space(12)
	p.duties()
	p.Space(10)
	p.Rich(layout.Span{Text: "What this paper is for. ", Style: layout.Strong},
		layout.Span{Text: keepFor(r.Purpose), Style: layout.Body})
	p.Space(4)
	p.Rich(layout.Span{Text: "Please note. ", Style: layout.Strong},
		layout.Span{Text: "Follow the manufacturer's instructions; keep vents, flue and the space round the " +
			"appliance clear; have it looked after by a registered, competent person only. More on the last page.",
			Style: layout.Body})
}

// whatAndWho tells what was worked on, and by whom.
func (p frontPage) whatAndWho() {
	r := p.doc.Record
	p.Columns(20, []float64{1, 1}, func() {
		p.Paragraph(layout.Heading2, worked(r))
		p.Pairs(1, p.pairs(
			pair{"Appliance", joined(r.Values.ApplianceName(),
				inBrackets(choiceText(r.Values, records.ApplianceKind)))},
			pair{"Serial", r.Values.Text(records.ApplianceSerial)},
			pair{"Where", r.Values.Text(records.ApplianceLocation)},
			pair{"Address", address(r.Property)},
			pair{"Customer", r.Contact.Name},
		)...)
	}, func() {
		p.Paragraph(layout.Heading2, "Who did it")
		p.Pairs(1, p.pairs(
			pair{"Firm", r.Firm.Name},
			pair{"Address", r.Firm.Address},
			pair{"Telephone", r.Firm.Phone},
			pair{"Registration", r.Firm.Registration},
			pair{"Engineer", r.Engineer.Name},
			pair{"Licence", r.Engineer.Licence},
		)...)
	})
}

func (p frontPage) titleBlock() {
	r := p.doc.Record
	p.logo()
	p.Paragraph(eyebrow, documentName(r.Purpose))
	p.Space(2)
	p.Paragraph(titleStyle, plainTitle(r, records.StandingOf(p.doc.Findings)))
	p.Space(4)
	dates := "Work done on " + long(r.WorkDate)
	if !p.draft() {
		dates = "Record " + p.doc.Number + ". " + dates
		if !p.doc.IssuedAt.IsZero() {
			dates += ", record issued on " + long(records.DateOf(p.doc.IssuedAt.UTC()))
		}
	}
	p.Paragraph(layout.Body, dates+".")
	switch {
	case p.draft():
		p.Space(4)
		p.Rich(layout.Span{Text: draftWords + ".", Style: layout.Strong.Coloured(layout.Copper)},
			layout.Span{Text: " The readings may still change. It proves nothing and takes the place of no record.",
				Style: layout.Body})
	case !p.proof():
		p.Space(4)
		p.Rich(layout.Span{Text: "Copy without proof.", Style: layout.Strong.Coloured(layout.Copper)},
			layout.Span{Text: " Nothing on this copy shows that it is the record as issued. Ask the firm to confirm " +
				"it by its number.", Style: layout.Body})
	}
	if r.Replaces != "" {
		p.Space(4)
		p.Paragraph(layout.Body, p.line(joined("It replaces record "+stop(r.Replaces), because(r.AmendReason))))
	}
}

// logo is the firm's own, small, above the title. One that is lost is left
// out: it tells nothing that the firm's details do not.
func (p frontPage) logo() {
	if p.doc.Record.Firm.Logo == "" {
		return
	}
	m, err := p.picture(p.doc.Record.Firm.Logo)
	if err != nil {
		return
	}
	p.Figure(logoHeight, func(f *layout.Figure) { f.Image(m, 0, 0, f.W, logoHeight) })
	p.Space(8)
}

func because(reason string) string {
	if reason == "" {
		return ""
	}
	return "Reason: " + stop(reason)
}

// muchFound estimates whether the outcome leaves no room for the emergency box
// on page one: some eight lines of 105 letters.
func (p frontPage) muchFound() bool {
	lines := 0
	for _, f := range records.Unsettled(p.doc.Findings) {
		e, _ := p.doc.Record.Condition.Entry(f.Rule)
		lines += 2 + len(gravity(e.Class)+e.Found+e.Done+f.Reason)/105
	}
	return lines > 10
}

// proofBlock is the code to check the record by.
func (p frontPage) proofBlock() {
	p.Figure(p.Width(), func(f *layout.Figure) { f.QR(0, 0, f.W, p.doc.VerifyURL) })
	centre := layout.Small.Aligned(layout.Centre)
	p.Paragraph(layout.Style{Face: layout.Mono, Size: 8, Leading: 11, Align: layout.Centre}, p.doc.Seal.Code)
	p.Paragraph(centre, "scan to check it")
}

// duties tells what falls due and why.
func (p frontPage) duties() {
	p.Paragraph(layout.Heading2, "What comes next")
	service := false
	t := layout.Table{PadY: 2.5, Columns: []layout.Column{{Weight: 3}, {Weight: 2}, {Weight: 6}}}
	for _, d := range p.doc.Duties {
		service = service || d.Kind == records.AnnualService
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{
			{Text: dutyWord(d.Kind), Style: layout.Strong},
			{Text: long(d.Due)},
			{Text: p.line(joined(stop(d.Why), sentence(stop(p.cite(d.Source))))), Style: layout.Small},
		}})
	}
	if len(t.Rows) > 0 {
		p.Table(t)
	}
	if !service {
		p.Space(2)
		p.Paragraph(layout.Body, "No date for the next service is on this record. Have the appliance serviced every "+
			"year unless the manufacturer's instructions say otherwise.")
	}
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
