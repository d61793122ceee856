package pdf

import (
	"fmt"

	"gaugebook/pdf/layout"
	"gaugebook/records"
	"gaugebook/records/gas"
)

// combustionPoint is the oxygen and CO₂ read at one rate.
type combustionPoint struct {
	name    string
	o2, co2 float64
	band    *records.Limit // of CO₂, if the record has one
}

// combustionPicture shows the readings against the line on which oxygen and
// CO₂ of this fuel must lie together. Source of the line: dry products diluted
// with air of 20.9 % oxygen, as gas.CO2FromO2Percent.
func (p readings) combustionPicture() {
	fuel, ok := gas.FuelByCode(gas.FuelCode(p.values.Choice(records.ApplianceFuel)))
	if !ok {
		return
	}
	var points []combustionPoint
	for _, r := range []struct {
		name    string
		o2, co2 records.NumberField
	}{{"maximum rate", records.O2MaxPct, records.CO2MaxPct}, {"minimum rate", records.O2MinPct, records.CO2MinPct}} {
		o2, ok := p.values.Float(r.o2)
		co2, ok2 := p.values.Float(r.co2)
		if ok && ok2 && p.values.Shown(r.co2.Field) {
			points = append(points, combustionPoint{name: r.name, o2: o2, co2: co2, band: p.limitOn("%", r.co2.Field)})
		}
	}
	line, err := fuelLine(fuel)
	if len(points) == 0 || err != nil {
		return
	}
	caption := fmt.Sprintf("Grey strip: where oxygen and CO₂ lie together for %s, by its published range of CO₂ "+
		"without excess air.",
		lower(fuel.Label))
	for _, c := range points {
		if c.band != nil {
			caption += " Bar at " + c.name + ": CO₂, " + p.line(stop(c.band.Text))
		}
	}
	p.drawn("Combustion against the line of the fuel", caption, func(f *layout.Figure) {
		drawCombustion(f, line, points)
	})
}

// fuelLine is the strip of possible readings as a closed shape.
func fuelLine(fuel gas.Fuel) ([]layout.Point, error) {
	var there, back []layout.Point
	for _, o2 := range []float64{0, 20} { // a straight line; the axes cut it
		hi, err := gas.CO2FromO2Percent(o2, fuel.PublishedCO2MaxHighPercent)
		if err != nil {
			return nil, err
		}
		lo, err := gas.CO2FromO2Percent(o2, fuel.PublishedCO2MaxLowPercent)
		if err != nil {
			return nil, err
		}
		there = append(there, layout.Point{X: o2, Y: hi})
		back = append([]layout.Point{{X: o2, Y: lo}}, back...)
	}
	return append(there, back...), nil
}

func drawCombustion(f *layout.Figure, line []layout.Point, points []combustionPoint) {
	lo, hi := points[0], points[0]
	for _, c := range points {
		lo.o2, hi.o2 = min(lo.o2, c.o2), max(hi.o2, c.o2)
		lo.co2, hi.co2 = min(lo.co2, c.co2), max(hi.co2, c.co2)
		if c.band == nil {
			continue
		}
		// entered by people: the lower may be above the higher
		for _, edge := range []*float64{c.band.Low, c.band.High} {
			if edge != nil {
				lo.co2, hi.co2 = min(lo.co2, *edge), max(hi.co2, *edge)
			}
		}
	}
	xs, xd := ticks(max(0, lo.o2-1), hi.o2+1, 10)
	ys, yd := ticks(max(0, lo.co2-0.5), hi.co2+0.5, 8)
	axes(f, xs, ys, xd, yd, layout.Inset{Left: 32, Top: 12, Right: 50, Bottom: 22})
	x0, x1, y0, y1 := xs[0], xs[len(xs)-1], ys[0], ys[len(ys)-1]
	f.Text(x0, y1, -32, -6, tickStyle, "CO₂, %")
	f.Text(x1, y0, 0, 22, tickStyle.Aligned(layout.Right), "O₂, %")
	f.Polygon(shade, layout.Pen{}, line...)
	for _, c := range points {
		drawBand(f, c, (x1-x0)/100, y0, y1)
	}
	for i, c := range points {
		fill, dy, style := layout.White, -4.0, layout.Style{Size: 7, Leading: 9}
		if len(points) == 2 && c.o2 < points[1-i].o2 { // names stand clear of each other
			dy = 9
		}
		if c.name == "minimum rate" {
			fill = layout.Ink
		}
		dot(f, c.o2, c.co2, fill)
		f.Text(c.o2, c.co2, 7, dy, style, c.name)
	}
}

// drawBand draws the limits of one reading as an upright bar, with its feet
// that wide on either side.
func drawBand(f *layout.Figure, c combustionPoint, foot, y0, y1 float64) {
	if c.band == nil {
		return
	}
	pen := layout.Pen{Colour: layout.Copper, Width: 0.9}
	lo, hi := y0, y1
	edge := func(v *float64, to *float64, dy float64) {
		if v == nil {
			return
		}
		*to = *v
		f.Line(c.o2-foot, *v, c.o2+foot, *v, pen)
		f.Text(c.o2, *v, 0, dy, tickStyle.Coloured(layout.Copper).Aligned(layout.Centre),
			records.FormatNumber(*v, -1)+" %")
	}
	edge(c.band.Low, &lo, 9)
	edge(c.band.High, &hi, -3)
	f.Line(c.o2, lo, c.o2, hi, pen)
}
