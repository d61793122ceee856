package pdf

import (
	"fmt"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// landlordPage is what the law asks of a landlord's check record.
type landlordPage frontPage

// items prints the nine things that a landlord's check record must hold, in
// their order. Source: Gas Safety (Installation and Use) Regulations 1998,
// regulation 36(3)(c)(i) to (ix), as amended in 2018; the regulations of
// Northern Ireland of 2004 have the same numbering and wording.
func (p landlordPage) items() {
	r, page := p.doc.Record, frontPage(p)
	p.Rich(layout.Span{Text: "What the law asks to be on this record. ", Style: page.head()},
		layout.Span{Text: "Regulation 36(3)(c) of the Gas Safety (Installation and Use) Regulations " +
			landlordLaw(r.Property.Nation) + ", in its nine points.", Style: layout.Small})
	p.Space(2)
	t := layout.Table{PadY: p.fit.pad * 0.6, Gap: 8, Style: page.style(), Columns: []layout.Column{{Weight: 0.4,
		Align: layout.Right}, {Weight: 3.2}, {Weight: 12}}}
	items := []pair{
		{"Date of the check", long(r.WorkDate)},
		{"Address of the premises", address(r.Property)},
		{"Landlord, or agent", p.landlord()},
		{"Appliance, flue, where", p.applianceAndFlue()},
		{"Defects that touch on safety", p.defects()},
		{"What was done about them", p.actions()},
		{"What the check covered", p.covered()},
		{"Name and signature", p.checkedBy()},
		{"Registration", joined(list(present(before("Engineer ", r.Engineer.Licence),
			before("firm ", r.Firm.Registration)), "; "),
			inBrackets(list(present(r.Firm.Name, r.Firm.Address, r.Firm.Phone), ", ")))},
	}
	for i, e := range items {
		if e.value == "" {
			e.value = "Not on this record."
		}
		most := p.fit.most
		if i != 4 && i != 5 { // what people typed without bounds
			most = 0
		}
		text := []rune(p.text(e.value))
		if most > 0 && len(text) > 2*most {
			text = append(text[:2*most], '…')
			p.shortened = true
		}
		t.Rows = append(t.Rows, layout.Row{Cells: []layout.Cell{{Text: fmt.Sprint(i + 1),
			Style: page.strong().Aligned(layout.Right)},
			{Text: e.label, Style: page.label()}, {Text: string(text)}}})
	}
	p.Table(t)
	p.Space(p.fit.gap)
	page.next()
}

func landlordLaw(n records.Nation) string {
	if n == records.NorthernIreland {
		return "(Northern Ireland) 2004"
	}
	return "1998"
}

// before puts a word before a value that is there.
func before(word, value string) string {
	if value == "" {
		return ""
	}
	return word + value
}

func (p landlordPage) landlord() string {
	c := p.doc.Record.Contact
	switch c.Tenure {
	case records.Landlord, records.Agent:
		where := c.Address
		if where == "" {
			where = "address not on this record"
		}
		return joined(c.Name, inBrackets(string(c.Tenure))) + ", " + where
	}
	return "Not named on this record, which was made for " + joined(c.Name, inBrackets(string(c.Tenure))) + "."
}

func (p landlordPage) applianceAndFlue() string {
	vs := p.values
	out := joined(vs.ApplianceName(), inBrackets(lower(choiceText(vs, records.ApplianceKind))))
	return list(present(out, before("serial ", vs.Text(records.ApplianceSerial)),
		before("flue: ", lower(choiceText(vs, records.ApplianceFlue))),
		before("where: ", vs.Text(records.ApplianceLocation))), "; ")
}

// defects are the findings and answers that touch on safety: all that is
// outside a limit, and all that the engineer has put in a class of danger.
func (p landlordPage) defects() string {
	var out, open []string
	for _, f := range records.Unsettled(p.doc.Findings) {
		e, answered := p.doc.Record.Condition.Entry(f.Rule)
		if f.Outcome != records.Outside && !dangerous(e.Class) {
			open = append(open, f.Title)
			continue
		}
		line := f.Title
		if f.Reading != "" {
			line += ": " + f.Reading
		}
		line = stop(line + ", " + outcomeWord(f))
		if answered {
			line = joined(line, stop(sentence(string(e.Class))), stop(e.Found))
		}
		out = append(out, line)
	}
	if len(out) == 0 {
		out = []string{"None was found by the checks of this record."}
	}
	if len(open) > 0 {
		out = append(out, "Not judged, because something is missing or doubtful: "+stop(list(open, "; ")))
	}
	return strings.Join(out, "\n")
}

func (p landlordPage) actions() string {
	c, out := p.doc.Record.Condition, []string{}
	open := records.Unsettled(p.doc.Findings)
	for _, f := range open {
		if e, ok := c.Entry(f.Rule); ok && e.Done != "" {
			out = append(out, f.Title+": "+stop(e.Done))
		} else {
			out = append(out, f.Title+": no action is on this record.")
		}
	}
	if c != nil && c.LeftOff {
		out = append(out, "The appliance was left turned off or disconnected, with a label.")
	}
	if c != nil && c.Refused {
		out = append(out, "Permission to turn it off or disconnect it was refused.")
	}
	if len(out) == 0 {
		return "Nothing had to be done."
	}
	return strings.Join(out, "\n")
}

// covered says of each of the four things that a check must examine
// (regulation 26(9)(a) to (d)) what this record shows of it, and claims none
// that it does not show.
func (p landlordPage) covered() string {
	sealed := strings.HasPrefix(p.values.Choice(records.ApplianceFlue), "room-sealed")
	var out []string
	for _, part := range []struct {
		name string
		of   func(f records.Finding) bool
	}{
		{"Effectiveness of the flue", func(f records.Finding) bool { return f.Section == records.Flue.ID }},
		{"Supply of combustion air", func(f records.Finding) bool {
			return f.Section == "ventilation" && !strings.Contains(f.Rule, "alarm") ||
				sealed && (strings.HasPrefix(f.Rule, "combustion.inlet") || strings.HasPrefix(f.Rule, "flue.terminal"))
		}},
		{"Operating pressure or heat input", func(f records.Finding) bool {
			return f.Section == records.Pressure.ID || f.Section == records.HeatInput.ID
		}},
		{"Operation of the appliance, so that it works without danger", func(f records.Finding) bool {
			return f.Rule == records.SafetyDevices.Key
		}},
	} {
		out = append(out, part.name+": "+stop(extent(p.doc.Findings, part.of)))
	}
	return strings.Join(out, "\n")
}

// extent says how much of something was examined and what came of it.
func extent(fs []records.Finding, of func(records.Finding) bool) string {
	judged, outside, open, exempt := 0, 0, 0, ""
	for _, f := range fs {
		switch {
		case !of(f):
		case f.Outcome == records.Exempt:
			exempt = f.Reason
		case f.Outcome == records.Missing:
			open++
		default:
			judged++
			if f.Outcome == records.Outside {
				outside++
			} else if f.Outcome == records.Doubtful || f.Outcome == records.Close {
				open++
			}
		}
	}
	switch {
	case judged == 0 && open == 0 && exempt != "":
		return "does not apply, " + exempt
	case judged == 0:
		return "not shown by this record"
	}
	out := "examined, " + count(judged, "check")
	if outside > 0 {
		out += fmt.Sprintf(", %d outside the limit", outside)
	}
	if open > 0 {
		out += fmt.Sprintf(", %d missing or doubtful", open)
	}
	return out
}

func (p landlordPage) checkedBy() string {
	name := p.values.Text(records.EngineerName)
	if name == "" {
		name = p.doc.Record.Engineer.Name
	}
	declared, _ := p.values.Flag(records.Declared)
	switch {
	case name == "":
		return ""
	case p.values.Text(records.EngineerSignature) != "":
		return name + ", signed below."
	case declared:
		return name + ", who signed by typing the name and declaring the readings true."
	}
	return name + ", not signed."
}
