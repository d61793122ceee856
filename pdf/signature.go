package pdf

import (
	"strconv"
	"strings"

	"gaugebook/pdf/layout"
	"gaugebook/records"
)

// signatories are the fields that hold the typed name of who drew a
// signature.
var signatories = map[string]records.TextField{
	records.EngineerSignature.Key: records.EngineerName,
	records.ReceivedSignature.Key: records.ReceivedBy,
}

// signedFor tells whether the typed name in a field is printed beside the
// signature that was drawn.
func (p readings) signedFor(f *records.Field) bool {
	for ink, by := range signatories {
		if by.Key == f.Key && p.values[ink].Present() && layout.TextWidth(layout.Body,
			p.line(p.values.Text(by))) < nameRoom {
			return true
		}
	}
	return false
}

// strokes reads pen strokes, M x,y L x,y …, as lines. What is not written so
// is left out.
func strokes(s string) (out [][]layout.Point) {
	for _, part := range strings.Fields(s) {
		x, y, ok := strings.Cut(part[1:], ",")
		px, errX := strconv.ParseFloat(x, 64)
		py, errY := strconv.ParseFloat(y, 64)
		if !ok || errX != nil || errY != nil {
			continue
		}
		if part[0] == 'M' || len(out) == 0 {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], layout.Point{X: px, Y: py})
	}
	return out
}

// Size of the field that a signature is drawn in, in points.
const (
	inkWidth  = 190
	inkHeight = 46
	nameRoom  = 220 // for the typed name under it
)

// signatures sets signatures two abreast.
func (p readings) signatures(fs []*records.Field) {
	for len(fs) > 0 {
		right := func() {}
		if len(fs) > 1 {
			next := fs[1]
			right = func() { p.signature(next.Label, p.signatory(next), p.values[next.Key].Text()) }
		}
		p.Columns(20, []float64{1, 1}, func() {
			p.signature(fs[0].Label, p.signatory(fs[0]), p.values[fs[0].Key].Text())
		}, right)
		fs = fs[min(2, len(fs)):]
	}
}

// signatory is the typed name that belongs to a drawn signature.
func (p *printer) signatory(f *records.Field) string {
	if by, ok := signatories[f.Key]; ok {
		return p.line(p.values.Text(by))
	}
	return ""
}

// signature draws pen strokes over a line, with what it is and the typed name
// under it.
func (p *printer) signature(label, name, ink string) {
	lines := strokes(ink)
	p.Space(4)
	p.Figure(inkHeight+25, func(fig *layout.Figure) {
		fig.Line(0, inkHeight, inkWidth, inkHeight, layout.Pen{Colour: layout.Slate, Width: layout.HairWidth})
		fig.Text(0, inkHeight+10, 0, 0, layout.Small, label)
		fig.Text(0, inkHeight+21, 0, 0, cellStyle, shorten(cellStyle, name, fig.W))
		pen := layout.Pen{Colour: layout.Ink, Width: 0.9}
		for _, line := range scaled(lines, inkWidth-8, inkHeight-8) {
			if len(line) == 1 {
				fig.Circle(line[0].X+4, line[0].Y+4, 0.6, layout.Ink, layout.Pen{})
				continue
			}
			for i := range line {
				line[i].X, line[i].Y = line[i].X+4, line[i].Y+4
			}
			fig.Polyline(pen, line...)
		}
	})
	p.Space(3)
}

// scaled scales lines to fit a width and height, keeping their shape.
func scaled(lines [][]layout.Point, w, h float64) [][]layout.Point {
	if len(lines) == 0 {
		return nil
	}
	lo, hi := lines[0][0], lines[0][0]
	for _, l := range lines {
		for _, q := range l {
			lo = layout.Point{X: min(lo.X, q.X), Y: min(lo.Y, q.Y)}
			hi = layout.Point{X: max(hi.X, q.X), Y: max(hi.Y, q.Y)}
		}
	}
	scale := min(w/max(hi.X-lo.X, 1), h/max(hi.Y-lo.Y, 1), 1)
	top := h - scale*(hi.Y-lo.Y) // stand on the line
	out := make([][]layout.Point, len(lines))
	for i, l := range lines {
		for _, q := range l {
			out[i] = append(out[i], layout.Point{X: scale * (q.X - lo.X), Y: top + scale*(q.Y-lo.Y)})
		}
	}
	return out
}
