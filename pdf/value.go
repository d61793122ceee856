package pdf

import (
	"regexp"

	"gaugebook/records"
)

// printed is a value as people read it: a number with its unit, a choice by
// its name, an instrument by what it is. Rows and pen strokes have no such
// text.
func (p *printer) printed(f *records.Field, v records.Value) string {
	if v.Old() {
		return p.text(v.Text())
	}
	switch f.Kind {
	case records.NumberKind:
		return withUnit(v.Text(), f.Unit)
	case records.ChoiceKind:
		return p.line(f.ChoiceLabel(v.Text()))
	case records.FlagKind:
		if v.Text() == "yes" {
			return "Yes"
		}
		return "No"
	case records.InstrumentKind:
		if i, ok := p.doc.Record.Instrument(v.Text()); ok {
			return p.line(sentence(i.Name()))
		}
		return p.line(v.Text()) + " (not among the instruments of this record)"
	case records.DateKind:
		if d, err := records.ParseDate(v.Text()); err == nil {
			return long(d)
		}
	case records.NotesKind:
		return p.text(v.Text())
	case records.RowsKind, records.StrokesKind:
		return ""
	}
	return p.line(v.Text())
}

// withUnit never parts a number from its unit; a degree sign follows its
// number at once.
func withUnit(number, unit string) string {
	switch unit {
	case "":
		return number
	case "°":
		return number + unit
	}
	return number + "\u00a0" + unit
}

// labels name in print what a form asks for in other words.
var labels = map[string]string{
	records.ApplianceInstalled.Key: "Fitted",
	records.RatedInputBasis.Key:    "Basis of the input",
	records.LetByRiseMbar.Key:      "Rise in that time",
	records.Examined.Key:           "Examined",
	records.HeatMeter.Key:          "Kind of meter",
	records.CO2Method.Key:          "CO₂ of the analyser",
	records.MinRate.Key:            "At minimum rate",
	records.Notifiable.Key:         "Building control must be told of the work",
	records.Declared.Key:           "Declared by the engineer: readings taken and true",
	records.NobodyPresent.Key:      "Left on site, nobody present",
}

// label is the printed name of a field.
func label(f *records.Field) string {
	if l, ok := labels[f.Key]; ok {
		return l
	}
	return f.Label
}

var beforeUnit = regexp.MustCompile(`(\d) (°C|%|mbar|bar|ppm|kW|kWh|MJ/m³|mm|mm/m|cm²|m|m³|m³/h|l|l/min|l/m|` +
	`s|min|K|A|V|Ω)([ ,.;:)]|$)`)

// glued keeps the numbers of a sentence from parting with their units.
func glued(s string) string { return beforeUnit.ReplaceAllString(s, "$1\u00a0$2$3") }
