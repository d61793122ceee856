package layout

import (
	"fmt"
	"math"
)

// Figure is a rectangle to draw in. Until [Figure.Window] is called,
// coordinates are points from its upper left corner.
type Figure struct {
	d          *Document
	ops        []op
	X, Y, W, H float64 // where it is on the page, points

	// page = origin + scale * given
	ox, oy, sx, sy         float64
	left, top, right, foot float64 // of the window, on the page
}

// Figure reserves h over the width of the column, on the next page if less is
// left, and lets draw fill it.
func (d *Document) Figure(h float64, draw func(f *Figure)) {
	if d.err != nil {
		return
	}
	if !(h > 0 && h <= d.textHeight()) {
		d.fail(fmt.Errorf("layout: a figure %v pt high: more than 0 and at most %.0f is wanted", h, d.textHeight()))
		return
	}
	d.Need(h)
	f := newFigure(d, d.left(), d.y, d.w, h)
	draw(f)
	d.part(RoleParagraph, true, func() {
		for _, o := range f.ops {
			d.put(o)
		}
	})
	d.y += h
}

func newFigure(d *Document, x, y, w, h float64) *Figure {
	return &Figure{d: d, X: x, Y: y, W: w, H: h, ox: x, oy: y, sx: 1, sy: 1,
		left: x, top: y, right: x + w, foot: y + h}
}

// Inset is the room left around a window, for axes and their labels.
type Inset struct{ Left, Top, Right, Bottom float64 }

// Window makes the figure take coordinates of the caller's own: x0 to x1 from
// left to right and y0 to y1 from bottom to top. Lines and shapes are cut off
// at its edges. It fails if a range is empty or not finite.
func (f *Figure) Window(x0, x1, y0, y1 float64, in Inset) {
	f.left, f.top = f.X+in.Left, f.Y+in.Top
	f.right, f.foot = f.X+f.W-in.Right, f.Y+f.H-in.Bottom
	f.sx, f.sy = (f.right-f.left)/(x1-x0), -(f.foot-f.top)/(y1-y0)
	f.ox, f.oy = f.left-x0*f.sx, f.foot-y0*f.sy
	ok := f.right > f.left && f.foot > f.top && f.sx != 0 && f.sy != 0
	for _, v := range []float64{f.sx, f.sy, f.ox, f.oy} {
		ok = ok && !math.IsNaN(v) && !math.IsInf(v, 0)
	}
	if !ok {
		f.d.fail(fmt.Errorf("layout: window x %v to %v, y %v to %v in %.0f by %.0f pt is empty or not finite",
			x0, x1, y0, y1, f.W, f.H))
	}
}

func (f *Figure) at(p Point) Point {
	q := Point{f.ox + f.sx*p.X, f.oy + f.sy*p.Y}
	if math.IsNaN(q.X+q.Y) || math.IsInf(q.X+q.Y, 0) {
		f.d.fail(fmt.Errorf("layout: point (%v, %v) of a figure is not finite", p.X, p.Y))
	}
	return q
}

func (f *Figure) mapped(ps []Point) []Point {
	out := make([]Point, len(ps))
	for i, p := range ps {
		out[i] = f.at(p)
	}
	return out
}

// Line draws a straight line.
func (f *Figure) Line(x0, y0, x1, y1 float64, p Pen) { f.Polyline(p, Point{x0, y0}, Point{x1, y1}) }

// Polyline draws a line through points.
func (f *Figure) Polyline(p Pen, points ...Point) {
	for _, run := range f.clipLine(f.mapped(points)) {
		f.ops = append(f.ops, strokeOp{run, p})
	}
}

// Polygon draws a closed shape; fill or pen may be zero.
func (f *Figure) Polygon(fill Colour, p Pen, points ...Point) {
	if q := f.clipArea(f.mapped(points)); len(q) >= 3 {
		f.ops = append(f.ops, polygonOp{q, fill, p})
	}
}

// Rect draws the rectangle between two corners.
func (f *Figure) Rect(x0, y0, x1, y1 float64, fill Colour, p Pen) {
	f.Polygon(fill, p, Point{x0, y0}, Point{x1, y0}, Point{x1, y1}, Point{x0, y1})
}

// Circle draws a circle of a radius in points, whatever the window. It is
// left out if its middle is outside the window.
func (f *Figure) Circle(x, y, radius float64, fill Colour, p Pen) {
	c := f.at(Point{x, y})
	const slack = 1e-6 // of what is worked out to be on the edge
	if c.X < f.left-slack || c.X > f.right+slack || c.Y < f.top-slack || c.Y > f.foot+slack {
		return
	}
	f.ops = append(f.ops, polygonOp{disc(c.X, c.Y, radius), fill, p})
}

// Text sets one line of text. (x, y) is the left end, middle or right end of
// its baseline by the alignment of the style; (dx, dy) moves it by points to
// the right and down.
func (f *Figure) Text(x, y, dx, dy float64, s Style, text string) {
	f.Mark(x, y, dx, dy, s, NoMark, text)
}

// Mark sets one line of text with a mark before it, as [Figure.Text].
func (f *Figure) Mark(x, y, dx, dy float64, s Style, m Mark, word string) {
	p := f.at(Point{x, y})
	lines := f.d.wrap(math.MaxFloat32, Span{Text: word, Style: s, Mark: m})
	if f.d.err != nil {
		return
	}
	l := lines[0]
	if len(lines) > 1 {
		f.d.fail(fmt.Errorf("layout: text %q of a figure has more than one line", word))
	}
	if n := len(l.atoms); n > 0 && l.atoms[n-1].text != "" {
		l.atoms[n-1].text += " " // parts it from what is read next
	}
	left := p.X + dx
	switch s.Align {
	case Right:
		left -= l.width
	case Centre:
		left -= l.width / 2
	}
	f.ops = append(f.ops, lineOps(l, left, p.Y+dy-l.baseline)...)
}

// TextWidth is the length of one line of text in points.
func TextWidth(s Style, text string) float64 {
	lines, _ := wrap([]Span{{Text: text, Style: s}}, math.MaxFloat32, func(rune, string) {})
	w := 0.0
	for _, l := range lines {
		w = max(w, l.width)
	}
	return w
}

// Header and footer stand in the margins: headerTop from the upper edge,
// footerBelow under the text.
const (
	headerTop    = 10 * MM
	headerHeight = MarginTop - headerTop - 8
	footerBelow  = 16
	footerHeight = MarginBottom - footerBelow - 9*MM
)

// footerBelow is how far under the text the footer stands: closer where the
// margin is narrow.
func (d *Document) footerBelow() float64 {
	return min(footerBelow, footerBelow-(MarginBottom-d.opts.Margins.Bottom)/2)
}

func (d *Document) margin(draw func(*Figure, int, int), y, h float64, i int) []op {
	if draw == nil || d.err != nil {
		return nil
	}
	f := newFigure(d, d.opts.Margins.Left, y, d.pageW-d.opts.Margins.Left-d.opts.Margins.Right, h)
	draw(f, i+1, len(d.pages))
	return f.ops
}

// Footer is a footer of a hairline, a line of text at the left and the number
// of the page of all pages at the right.
func Footer(text string) func(f *Figure, page, pages int) {
	return func(f *Figure, page, pages int) {
		f.Line(0, 0, f.W, 0, Pen{Colour: Hair, Width: HairWidth})
		f.Text(0, 14, 0, 0, Small, text)
		f.Text(f.W, 14, 0, 0, Small.Aligned(Right), fmt.Sprintf("page %d of %d", page, pages))
	}
}

// Header is a header of one line of text at the left and one at the right.
func Header(left, right string) func(f *Figure, page, pages int) {
	return func(f *Figure, _, _ int) {
		f.Text(0, 12, 0, 0, Small, left)
		f.Text(f.W, 12, 0, 0, Small.Aligned(Right), right)
	}
}
