package pdf

import (
	"math"
	"slices"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// Pens of pictures. Lines are told apart by dashes and shapes, not by colour.
var (
	axisPen  = layout.Pen{Colour: layout.Slate, Width: 0.5}
	gridPen  = layout.Pen{Colour: layout.Hair, Width: 0.3}
	limitPen = layout.Pen{Colour: layout.Copper, Width: 0.9, Dash: 3}
	linePen  = layout.Pen{Colour: layout.Ink, Width: 1.1}
)

// shade is the grey of strips and wedges: seen in print, and under lines and
// letters.
const shade layout.Colour = 0xdfe1e6

var tickStyle = layout.Style{Size: 6.6, Leading: 9, Colour: layout.Slate}

const pictureHeight = 72

// drawn sets a figure with its title over it and its caption below.
func (p *printer) drawn(title, caption string, draw func(*layout.Figure)) {
	p.Space(3)
	p.KeepTogether(func() {
		p.Paragraph(runBold, title)
		p.Described("Plot: "+title+". "+caption, func() { p.Figure(pictureHeight, draw) })
		p.Space(1)
		p.Paragraph(layout.Style{Size: 6.4, Leading: 7.8, Colour: layout.Slate}, caption)
	})
}

// ticks gives round values that cover lo to hi in at most most steps, with the
// decimals needed to write them.
func ticks(lo, hi float64, most int) (at []float64, decimals int) {
	step, i := 0.0001, 0
	for ; (hi-lo)/step > float64(most); i++ {
		step *= []float64{2, 2.5, 2}[i%3]
	}
	decimals = max(0, 4-i/3) // every third step is ten times wider
	for v := math.Floor(lo/step) * step; ; v += step {
		at = append(at, v)
		if v >= hi-step/1e6 || len(at) > 4*most {
			return at, decimals
		}
	}
}

// axes draws a grid with ticks below and at the left.
func axes(f *layout.Figure, xs, ys []float64, xDecimals, yDecimals int, in layout.Inset) {
	x0, x1, y0, y1 := xs[0], xs[len(xs)-1], ys[0], ys[len(ys)-1]
	f.Window(x0, x1, y0, y1, in)
	for _, y := range ys {
		f.Line(x0, y, x1, y, gridPen)
		f.Text(x0, y, -5, 3, tickStyle.Aligned(layout.Right), records.FormatNumber(y, yDecimals))
	}
	for _, x := range xs {
		if xDecimals >= 0 {
			f.Text(x, y0, 0, 11, tickStyle.Aligned(layout.Centre), records.FormatNumber(x, xDecimals))
		}
	}
	f.Line(x0, y0, x1, y0, axisPen)
	f.Line(x0, y0, x0, y1, axisPen)
}

// limitOn returns the limit of the finding that reads all the fields, and has
// a figure in the unit.
func (p *printer) limitOn(unit string, fields ...*records.Field) *records.Limit {
	return p.limitBut(nil, unit, fields...)
}

// limitBut is limitOn for a finding that does not read one more field.
func (p *printer) limitBut(not *records.Field, unit string, fields ...*records.Field) *records.Limit {
	for _, f := range p.doc.Findings {
		if not != nil && slices.Contains(f.Fields, not.Key) {
			continue
		}
		if f.Limit == nil || f.Limit.Unit != unit || f.Limit.Low == nil && f.Limit.High == nil {
			continue
		}
		all := true
		for _, k := range fields {
			all = all && slices.Contains(f.Fields, k.Key)
		}
		if all {
			return f.Limit
		}
	}
	return nil
}

// dot is a reading: a ring or a disc.
func dot(f *layout.Figure, x, y float64, fill layout.Colour) {
	f.Circle(x, y, 2.6, fill, layout.Pen{Colour: layout.Ink, Width: 1})
}
