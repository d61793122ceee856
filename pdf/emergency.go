package pdf

import (
	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// Emergency telephone numbers for a smell of gas or a sounding carbon
// monoxide alarm. Great Britain: Health and Safety Executive, Gas safety,
// emergency contacts. Northern Ireland and the fallback for LPG: from memory,
// unconfirmed, and printed with that caution.
const (
	emergencyGB = "0800\u00a0111\u00a0999"
	emergencyNI = "0800\u00a0002\u00a0001"
)

// emergencyCall says whom to call, number first, and what to know about it.
func emergencyCall(nation records.Nation, fuel string) (number, note string) {
	if fuel == records.FuelPropane || fuel == records.FuelButane {
		note = "It is on the storage vessel or the cylinder store. "
		if nation != records.NorthernIreland {
			note += "If you cannot find it, call " + emergencyGB + " and say that it is LPG; check both numbers with your supplier. "
		}
		return "Your LPG supplier's emergency number", note + "Write the number here now:"
	}
	if nation == records.NorthernIreland {
		return emergencyNI, "Gas emergencies in Northern Ireland, day and night. Check this number with your supplier."
	}
	note = "Gas emergencies in England, Wales and Scotland, day and night, free of charge."
	if fuel == "" {
		note += " If you burn LPG, call the number on the vessel or cylinder store first."
	}
	return emergencyGB, note
}

// emergency is the box on what to do, on page one of every record.
func (p *printer) emergency() {
	vs, nation := p.values, p.doc.Record.Property.Nation
	number, note := emergencyCall(nation, vs.Choice(records.ApplianceFuel))
	p.Box(layout.Callout, func() {
		p.Columns(18, []float64{2, 1}, func() {
			p.Paragraph(layout.Heading2, "If you smell gas, or a carbon monoxide alarm sounds")
			p.Space(3)
			p.Bullets(layout.Style{Size: 9, Leading: 12.2},
				"Turn the gas off at the emergency control valve"+valvePlace(vs)+".",
				"Open doors and windows. No flames, no smoking, no sparks: do not touch any switch, plug or bell.",
				"Get everybody out and call from outside. Do not go back in until you are told to.",
				"Headache, sickness, dizziness or sleepiness can be carbon monoxide poisoning: fresh air at once, and call 999 for anyone who is ill. Carbon monoxide has no smell.",
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

func valvePlace(vs records.Values) string {
	if vs.LPG() {
		return ", and at the vessel or cylinders"
	}
	return ", usually beside the meter"
}
