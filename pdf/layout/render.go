package layout

import (
	"fmt"
	"math"

	"github.com/signintech/gopdf"

	"gaugebook/pdf/seal"
)

// Point is a place: points from the upper left corner of the page or figure,
// or the coordinates of a figure's window.
type Point struct{ X, Y float64 }

// Pen is how a line is drawn. Nothing is drawn if Colour or Width is zero.
type Pen struct {
	Colour Colour
	Width  float64 // points
	Dash   float64 // length of dashes and gaps, points; solid if zero
}

// op is one thing to draw on a page.
type op interface{ draw(r *renderer) error }

type (
	textOp struct {
		x, y, w float64 // y is the baseline
		font    *typeface
		size    float64
		colour  Colour
		text    string
	}
	strokeOp struct {
		points []Point
		pen    Pen
	}
	polygonOp struct {
		points []Point
		fill   Colour
		pen    Pen
	}
	rectOp struct {
		x, y, w, h float64
		fill       Colour
		pen        Pen
	}
	imageOp struct {
		x, y, w, h float64
		data       []byte
	}
	linkOp struct {
		x, y, w, h float64
		url        string
	}
	outlineOp struct {
		title string
		y     float64
	}
)

// renderer draws ops with gopdf and keeps what is set on the current page, so
// that nothing is set twice.
type renderer struct {
	pdf    gopdf.GoPdf
	w, h   float64 // of the page
	loaded map[*typeface]bool
	font   *typeface
	size   float64
	pen    Pen
	fill   Colour
}

// Bytes draws the document. The same calls always give the same bytes.
func (d *Document) Bytes() ([]byte, error) {
	pages := make([][]op, len(d.pages))
	for i, p := range d.pages {
		pages[i] = append(pages[i], p.ops...)
		pages[i] = append(pages[i], d.margin(d.opts.Header, headerTop, headerHeight, i)...)
		foot := d.pageH - d.opts.Margins.Bottom + d.footerBelow()
		pages[i] = append(pages[i], d.margin(d.opts.Footer, foot, footerHeight, i)...)
	}
	if len(d.missing) > 0 {
		return nil, &MissingGlyphError{d.missing}
	}
	if d.err != nil {
		return nil, d.err
	}
	r := &renderer{w: d.pageW, h: d.pageH, loaded: map[*typeface]bool{}}
	m := &marks{of: map[*element][]seal.Mark{}}
	r.pdf.Start(gopdf.Config{PageSize: gopdf.Rect{W: d.pageW, H: d.pageH}})
	r.pdf.SetNoCompression() // which [seal.Tag] does
	for i, ops := range pages {
		r.pdf.AddPage()
		// Font and colours are graphics state, which starts afresh.
		r.font, r.pen, r.fill = nil, Pen{Width: -1}, 0
		if err := r.drawPage(i, ops, m); err != nil {
			return nil, fmt.Errorf("layout: page %d: %w", i+1, err)
		}
		if len(ops) == 0 { // a page must have a content stream
			r.pdf.SetLineWidth(HairWidth)
		}
	}
	plain, err := r.pdf.GetBytesPdfReturnErr()
	if err != nil {
		return nil, err
	}
	return seal.Tag(plain, m.seals(d.root))
}

// onPage refuses what would be cut off or is no number.
func (r *renderer) onPage(what string, x, y, w, h float64) error {
	const slack = 0.5
	if !(x >= -slack && y >= -slack && x+w <= r.w+slack && y+h <= r.h+slack) {
		return fmt.Errorf("%s at (%.1f, %.1f), %.1f by %.1f pt, is not on the page", what, x, y, w, h)
	}
	return nil
}

func (o textOp) draw(r *renderer) error {
	if err := r.onPage(fmt.Sprintf("text %q", o.text), o.x, o.y-ascent*o.size, o.w, extent*o.size); err != nil {
		return err
	}
	if !r.loaded[o.font] {
		// gopdf writes a font without glyphs wrongly, so only those used go in.
		if err := r.pdf.AddTTFFontFromFontContainer(o.font.family, &fontSet().container); err != nil {
			return err
		}
		r.loaded[o.font] = true
	}
	if r.font != o.font || r.size != o.size {
		if err := r.pdf.SetFont(o.font.family, "", o.size); err != nil {
			return err
		}
		r.font, r.size = o.font, o.size
	}
	r.pdf.SetTextColor(o.colour.rgb())
	r.fill = o.colour // text sets the colour that shapes are filled with
	r.pdf.SetXY(o.x, o.y)
	return r.pdf.Text(o.text)
}

func (p Pen) none() bool { return p.Colour == 0 || p.Width <= 0 }

func (r *renderer) setPen(p Pen) {
	if r.pen == p {
		return
	}
	if r.pen.Width != p.Width {
		r.pdf.SetLineWidth(p.Width)
	}
	if r.pen.Colour != p.Colour {
		r.pdf.SetStrokeColor(p.Colour.rgb())
	}
	if r.pen.Dash != p.Dash {
		if p.Dash > 0 {
			r.pdf.SetCustomLineType([]float64{p.Dash}, 0)
		} else {
			r.pdf.SetLineType("solid")
		}
	}
	r.pen = p
}

func (r *renderer) setFill(c Colour) {
	if r.fill != c {
		r.pdf.SetFillColor(c.rgb())
		r.fill = c
	}
}

// style sets pen and fill and gives gopdf's word for the pair.
func (r *renderer) style(fill Colour, pen Pen) (string, bool) {
	if fill != 0 {
		r.setFill(fill)
	}
	if !pen.none() {
		r.setPen(pen)
	}
	switch {
	case fill != 0 && !pen.none():
		return "FD", true
	case fill != 0:
		return "F", true
	case !pen.none():
		return "D", true
	}
	return "", false
}

func (r *renderer) checkPoints(what string, ps []Point) error {
	for _, p := range ps {
		if err := r.onPage(what, p.X, p.Y, 0, 0); err != nil {
			return err
		}
	}
	return nil
}

func (o strokeOp) draw(r *renderer) error {
	if o.pen.none() || len(o.points) < 2 {
		return nil
	}
	if err := r.checkPoints("line", o.points); err != nil {
		return err
	}
	r.setPen(o.pen)
	if len(o.points) == 2 {
		r.pdf.Line(o.points[0].X, o.points[0].Y, o.points[1].X, o.points[1].Y)
		return nil
	}
	if o.pen.Dash > 0 { // going back over it would fill the gaps
		for i, p := range o.points[1:] {
			r.pdf.Line(o.points[i].X, o.points[i].Y, p.X, p.Y)
		}
		return nil
	}
	// gopdf has closed polygons only: go there and back again, so that the
	// corners are joined.
	there := make([]gopdf.Point, 0, 2*len(o.points)-1)
	for _, p := range o.points {
		there = append(there, gopdf.Point{X: p.X, Y: p.Y})
	}
	for i := len(o.points) - 2; i > 0; i-- {
		there = append(there, there[i])
	}
	r.pdf.Polygon(there, "D")
	return nil
}

func (o polygonOp) draw(r *renderer) error {
	if err := r.checkPoints("polygon", o.points); err != nil {
		return err
	}
	style, ok := r.style(o.fill, o.pen)
	if !ok || len(o.points) < 3 {
		return nil
	}
	ps := make([]gopdf.Point, len(o.points))
	for i, p := range o.points {
		ps[i] = gopdf.Point{X: p.X, Y: p.Y}
	}
	r.pdf.Polygon(ps, style)
	return nil
}

func (o rectOp) draw(r *renderer) error {
	if err := r.onPage("rectangle", o.x, o.y, math.Abs(o.w), math.Abs(o.h)); err != nil {
		return err
	}
	if style, ok := r.style(o.fill, o.pen); ok {
		r.pdf.RectFromUpperLeftWithStyle(o.x, o.y, o.w, o.h, style)
	}
	return nil
}

func (o imageOp) draw(r *renderer) error {
	if err := r.onPage("image", o.x, o.y, o.w, o.h); err != nil {
		return err
	}
	h, err := gopdf.ImageHolderByBytes(o.data)
	if err != nil {
		return err
	}
	return r.pdf.ImageByHolder(h, o.x, o.y, &gopdf.Rect{W: o.w, H: o.h})
}

func (o linkOp) draw(r *renderer) error {
	r.pdf.AddExternalLink(o.url, o.x, o.y, o.w, o.h)
	return nil
}

func (o outlineOp) draw(r *renderer) error {
	r.pdf.SetXY(MarginLeft, o.y+20-4) // gopdf aims 20 points above
	r.pdf.AddOutlineWithPosition(o.title)
	return nil
}
