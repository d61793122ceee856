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

// emergency is the strip on what to do, on page one of every record and on
// every notice.
func (p *printer) emergency() {
	vs, nation := p.values, p.doc.Record.Property.Nation
	fuel := vs.Choice(records.ApplianceFuel)
	call := records.Emergency(nation, fuel)
	number, note := emergencyCall(nation, fuel)
	if vs.LPG() {
		note += " Write the number here now:"
	}
	small := layout.Style{Size: 7.8, Leading: 10}
	p.Box(layout.BoxStyle{Border: layout.Copper, BorderWidth: 1, Pad: 8}, func() {
		p.Columns(14, []float64{1, 2}, func() {
			p.Paragraph(layout.Style{Face: layout.Bold, Size: 8.6, Leading: 11.5},
				"If you smell gas, or a carbon monoxide alarm sounds, call from outside:")
			style := layout.Style{Face: layout.Bold, Size: 15, Leading: 19}
			if vs.LPG() {
				style = layout.Strong
			}
			p.Paragraph(style, number)
			p.Paragraph(layout.Style{Size: 7, Leading: 8.8, Colour: layout.Slate}, note)
			if vs.LPG() {
				p.Figure(14, func(f *layout.Figure) {
					f.Line(0, 13, f.W, 13, layout.Pen{Colour: layout.Ink, Width: layout.HairWidth})
				})
			}
		}, func() {
			p.Bullets(small, call.Do...)
		})
	})
}
