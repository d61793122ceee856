package pdf

import (
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// emergencyCall says whom to call, in one unbroken number, and what to know
// about it. What is said and where it comes from stands in package records.
func emergencyCall(nation records.Nation, fuel string) (number, note string) {
	call := records.Emergency(nation, fuel)
	unbroken := func(s string) string {
		for _, n := range records.EmergencyNumbers {
			s = strings.ReplaceAll(s, n, strings.ReplaceAll(n, " ", "\u00a0"))
		}
		return s
	}
	return unbroken(call.Call()), unbroken(call.Note)
}

// emergency is the box on what to do, on page one of every record.
func (p *printer) emergency() {
	vs, nation := p.values, p.doc.Record.Property.Nation
	fuel := vs.Choice(records.ApplianceFuel)
	call := records.Emergency(nation, fuel)
	number, note := emergencyCall(nation, fuel)
	if vs.LPG() {
		note += " Write the number here now:"
	}
	p.Box(layout.Callout, func() {
		p.Columns(18, []float64{2, 1}, func() {
			p.Paragraph(layout.Heading2, "If you smell gas, or a carbon monoxide alarm sounds")
			p.Space(3)
			p.Bullets(layout.Style{Size: 9, Leading: 12.2},
				call.Do...,
			)
		}, func() {
			p.Paragraph(layout.Label, "Call, from outside")
			style := layout.Style{Face: layout.Bold, Size: 15, Leading: 20}
			if vs.LPG() {
				style = layout.Strong
			}
			p.Paragraph(style, number)
			p.Space(2)
			p.Paragraph(layout.Small, note)
			if vs.LPG() {
				p.Figure(22, func(f *layout.Figure) {
					f.Line(0, 20, f.W, 20, layout.Pen{Colour: layout.Ink, Width: layout.HairWidth})
				})
			}
		})
	})
}
