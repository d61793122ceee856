package pdf

import (
	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// pressurePicture shows the pressure from the meter to the appliance against
// what the allowed drop leaves.
func (p readings) pressurePicture() {
	meter, ok := p.values.Float(records.MeterMbar)
	appliance, ok2 := p.values.Float(records.ApplianceMbar)
	if !ok || !ok2 || !p.values.Shown(records.MeterMbar.Field) {
		return
	}
	standing, hasStanding := p.values.Float(records.StandingMbar)
	pic := pressureCurve{meter: meter, appliance: appliance, standing: standing, hasStanding: hasStanding,
		lengthM: p.feedLengthM()}
	caption := "At full rate, from the meter to the appliance. Solid: as read."
	if l := p.limitOn("mbar", records.MeterMbar.Field, records.ApplianceMbar.Field); l != nil && l.High != nil {
		pic.allowed = l.High
		caption += " Dashed: what the allowed drop leaves, " + p.line(stop(l.Text))
	}
	if l := p.limitOn("mbar", records.MeterMbar.Field, records.ApplianceMbar.Field,
		records.TightnessRuns.Field); l != nil && l.Low != nil && l.High != nil {
		pic.expected = l
		caption += " Grey: as the gas rate and the pipe runs entered lead one to expect."
	}
	if pic.lengthM > 0 {
		caption += " Scale: metres of pipe."
	}
	p.drawn("Pressure along the pipe", caption, pic.draw)
}

// feedLengthM is the length of the runs that feed this appliance, or 0.
func (p readings) feedLengthM() float64 {
	sum := 0.0
	for _, r := range p.values.Rows(records.TightnessRuns) {
		if r.Text("feeds") == "yes" {
			sum += r.Float("length_m")
		}
	}
	return sum
}

type pressureCurve struct {
	meter, appliance, standing float64
	hasStanding                bool
	allowed                    *float64       // drop, mbar
	expected                   *records.Limit // drop as predicted, mbar
	lengthM                    float64
}

func (c pressureCurve) draw(f *layout.Figure) {
	lo, hi := min(c.meter, c.appliance), max(c.meter, c.appliance)
	cover := func(v float64) { lo, hi = min(lo, v), max(hi, v) }
	if c.allowed != nil {
		cover(c.meter - *c.allowed)
	}
	if c.hasStanding {
		cover(c.standing)
	}
	if c.expected != nil {
		cover(c.meter - *c.expected.High)
		cover(c.meter - *c.expected.Low)
	}
	ys, yd := ticks(lo-0.3, hi+0.3, 8)
	end, xs, xd := 1.0, []float64{0, 1}, -1
	if c.lengthM > 0 {
		end = c.lengthM
		xs, xd = ticks(0, c.lengthM, 8)
	}
	axes(f, xs, ys, xd, yd, layout.Inset{Left: 32, Top: 12, Right: 62, Bottom: 14})
	x1, y0, y1 := xs[len(xs)-1], ys[0], ys[len(ys)-1]
	f.Text(0, y1, -32, -6, tickStyle, "mbar")
	if xd < 0 {
		f.Text(0, y0, 0, 11, tickStyle, "meter")
		f.Text(1, y0, 0, 11, tickStyle.Aligned(layout.Right), "appliance")
	} else {
		f.Text(x1, y0, 10, 11, tickStyle, "m")
	}
	label := layout.Style{Size: 7, Leading: 9}
	if c.expected != nil {
		f.Polygon(shade, layout.Pen{}, layout.Point{X: 0, Y: c.meter},
			layout.Point{X: end, Y: c.meter - *c.expected.Low}, layout.Point{X: end, Y: c.meter - *c.expected.High})
	}
	if c.hasStanding {
		f.Line(0, c.standing, x1, c.standing, layout.Pen{Colour: layout.Slate, Width: 0.7})
		f.Text(x1, c.standing, 5, 3, tickStyle, "standing, "+records.FormatNumber(c.standing, -1))
	}
	if c.allowed != nil {
		least := c.meter - *c.allowed
		f.Line(0, c.meter, end, least, limitPen)
		f.Text(x1, least, 5, 3, tickStyle.Coloured(layout.Copper), "least allowed, "+records.FormatNumber(least, 1))
	}
	f.Line(0, c.meter, end, c.appliance, linePen)
	dot(f, 0, c.meter, layout.White)
	dot(f, end, c.appliance, layout.White)
	f.Text(0, c.meter, 7, -5, label, "meter, "+records.FormatNumber(c.meter, -1))
	dy := -6.0
	if c.meter-c.appliance > 0.3*(y1-y0) || c.allowed != nil && c.meter-c.appliance > *c.allowed {
		dy = 11 // under a line that falls steeply
	}
	f.Text(end, c.appliance, -5, dy, label.Aligned(layout.Right), "appliance, "+records.FormatNumber(c.appliance, -1))
}
