package pdf

import (
	"fmt"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// tally counts findings by outcome.
func tally(fs []records.Finding) map[records.Outcome]int {
	n := map[records.Outcome]int{}
	for _, f := range fs {
		n[f.Outcome]++
	}
	return n
}

// summary is the outcome of the record in plain words. It speaks of readings
// and limits only.
func summary(fs []records.Finding, on records.Date) (head, rest string) {
	n := tally(fs)
	apply := len(fs) - n[records.Exempt]
	day := long(on)
	exempt := ""
	if k := n[records.Exempt]; k > 0 {
		exempt = fmt.Sprintf("%s not apply to this appliance. ", map[bool]string{true: "1 more check does",
			false: fmt.Sprintf("%d more checks do", k)}[k == 1])
	}
	meaning := "That is what the readings taken on " + day + " show, each held against the limit named beside it in " +
		"the pages that follow. It is no promise for any other day."
	if k := looser(fs); k > 0 {
		exempt += fmt.Sprintf("%s looser than the general one, and named where it is used. ",
			map[bool]string{true: "1 limit is the manufacturer's, which is",
				false: fmt.Sprintf("%d limits are the manufacturer's, each of them", k)}[k == 1])
	}
	switch {
	case apply == 0:
		return "No reading has been held against a limit.", "Nothing can be said from this record about the appliance."
	case n[records.Inside] == apply && apply == 1:
		return "The one check was inside its limit.", exempt + meaning
	case n[records.Inside] == apply:
		return fmt.Sprintf("All %d checks were inside their limits.", apply), exempt + meaning
	}
	var parts []string
	for _, o := range []struct {
		outcome records.Outcome
		one     string
		many    string
	}{
		{records.Outside, "1 was outside its limit", "%d were outside their limits"},
		{records.Missing, "1 could not be judged because something is missing",
			"%d could not be judged because something is missing"},
		{records.Doubtful, "1 is doubtful", "%d are doubtful"},
		{records.Close, "1 is too close to its limit to decide", "%d are too close to their limits to decide"},
		{records.Attention, "1 needs attention", "%d need attention"},
	} {
		switch k := n[o.outcome]; k {
		case 0:
		case 1:
			parts = append(parts, o.one)
		default:
			parts = append(parts, fmt.Sprintf(o.many, k))
		}
	}
	return fmt.Sprintf("Of %s, %s; %d inside.", count(apply, "check"), list(parts, ", ", " and "), n[records.Inside]),
		exempt + meaning
}

// looser counts limits of the manufacturer that are looser than the general
// ones.
func looser(fs []records.Finding) int {
	n := 0
	for _, f := range fs {
		if f.Looser {
			n++
		}
	}
	return n
}

// outcome is the box on page one: all inside, or exactly what was not, with
// each finding that is not settled unless that is told elsewhere.
func (p frontPage) outcome(each bool) {
	head, rest := summary(p.doc.Findings, p.doc.Record.WorkDate)
	m := layout.Inside
	open := records.Unsettled(p.doc.Findings)
	switch {
	case records.StandingOf(p.doc.Findings) == records.Adverse:
		m = layout.Outside
	case len(open) > 0 || len(p.doc.Findings) == 0:
		m = layout.Doubtful
	}
	p.Box(layout.Panel, func() {
		p.Rich(layout.Span{Text: head, Style: layout.Style{Face: layout.Bold, Size: 12, Leading: 17}, Mark: m})
		p.Space(2)
		p.Paragraph(layout.Body, rest)
	})
	if !each {
		return
	}
	for _, f := range open {
		p.Space(6)
		p.KeepTogether(func() { p.answered(f) })
	}
	p.told()
}

// answered is one finding that is not settled, with what was found and done.
func (p frontPage) answered(f records.Finding) {
	head := f.Title
	if f.Reading != "" {
		head += ": " + f.Reading
	}
	what := ""
	if f.Limit != nil {
		what = "limit: " + stop(f.Limit.Text)
	}
	p.Rich(layout.Span{Text: p.line(head) + ", " + outcomeWord(f) + ". ", Style: layout.Strong, Mark: mark(f.Outcome)},
		layout.Span{Text: p.line(sentence(what)), Style: layout.Body})
	e, ok := p.doc.Record.Condition.Entry(f.Rule)
	switch {
	case !ok && f.MustBeAnswered():
		p.Paragraph(layout.Body, p.line(joined(stop(sentence(f.Reason)), "No answer to this is on record.")))
		return
	case !ok:
		p.Paragraph(layout.Body, p.line(stop(sentence(f.Reason))))
		return
	case f.Word != "":
		p.Paragraph(layout.Body, p.line(joined(stop(sentence(f.Reason)), "Taken to keep its limit by the engineer's "+
			"word:", stop(f.Word))))
		return
	}
	var spans []layout.Span
	for _, part := range []struct{ label, text string }{
		{"How serious", gravity(e.Class)}, {"Why not more so", e.Reason}, {"Found", e.Found},
		{"Done", e.Done},
	} {
		if part.text != "" {
			spans = append(spans, layout.Span{Text: part.label + ": ", Style: layout.Label},
				layout.Span{Text: p.line(stop(part.text)) + " ", Style: layout.Body})
		}
	}
	p.Indent(12, func() { p.Rich(spans...) })
}

// told says who was told and how the appliance was left.
func (p *printer) told() {
	c := p.doc.Record.Condition
	if c == nil {
		return
	}
	p.Space(6)
	if c.Told != "" || c.ToldHow != "" {
		p.Rich(layout.Span{Text: "Who was told: ", Style: layout.Label},
			layout.Span{Text: p.line(stop(list(present(c.Told, c.ToldHow), ", "))), Style: layout.Body})
	}
	if c.LeftOff {
		p.Paragraph(layout.Strong, "The appliance was left turned off or disconnected, with a label. Do not use it "+
			"until it has been put right.")
	}
	if c.Refused {
		by := ""
		if c.RefusedBy != "" {
			by = " by " + c.RefusedBy
		}
		if c.RefusedAt != "" {
			by += " at " + c.RefusedAt
		}
		p.Paragraph(layout.Strong, p.line("Permission to turn it off or disconnect it was refused"+by+"."))
	}
}

func present(parts ...string) (out []string) {
	for _, s := range parts {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

func joined(parts ...string) string {
	out := ""
	for _, s := range present(parts...) {
		if out != "" {
			out += " "
		}
		out += s
	}
	return out
}
