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
	inkHeight = 30
)

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
	p.Figure(inkHeight+22, func(fig *layout.Figure) {
		fig.Line(0, inkHeight, fig.W, inkHeight, layout.Pen{Colour: layout.Slate, Width: layout.HairWidth})
		fig.Text(0, inkHeight+9, 0, 0, layout.Small, shorten(layout.Small, label, fig.W))
		fig.Text(0, inkHeight+19, 0, 0, cellStyle, shorten(cellStyle, name, fig.W))
		pen := layout.Pen{Colour: layout.Ink, Width: 0.9}
		for _, line := range scaled(lines, min(inkWidth, fig.W)-8, inkHeight-4) {
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
