package layout

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Size of an upright page and the margins, in points. The left margin leaves room for the
// holes of a file.
const (
	PageWidth  = 210 * MM
	PageHeight = 297 * MM

	MarginLeft   = 23 * MM
	MarginRight  = 18 * MM
	MarginTop    = 24 * MM
	MarginBottom = 22 * MM
)

// Options of a document.
type Options struct {
	// Header and Footer draw into the margin above and below the text, once
	// for each page when the number of pages is known. The figure is as wide
	// as the text. See [Footer] for a plain one.
	Header, Footer func(f *Figure, page, pages int)
	// Landscape lays the sheets on their long side.
	Landscape bool
	// Margins of the text; those above where a length is zero.
	Margins Margins
}

// Margins are the lengths between the edges of a sheet and its text.
type Margins struct{ Left, Right, Top, Bottom float64 }

func (m Margins) filled() Margins {
	for _, e := range []struct {
		to *float64
		is float64
	}{{&m.Left, MarginLeft}, {&m.Right, MarginRight}, {&m.Top, MarginTop}, {&m.Bottom, MarginBottom}} {
		if *e.to <= 0 {
			*e.to = e.is
		}
	}
	return m
}

// Document is a flow of blocks on A4 pages. The first error sticks, later
// calls do nothing, and [Document.Bytes] returns it. A Document is for one
// goroutine; any number of documents may be made at once.
type Document struct {
	opts    Options
	root    *element // of the structure
	elem    *element // the part that is being set
	pageW   float64  // of a sheet as it lies, points
	pageH   float64
	pages   []*page
	cur     int       // page under the cursor
	y       float64   // cursor: distance from the top edge
	x, w    float64   // the column that text flows in, from base
	base    float64   // left edge of the run that is being filled; 0 outside runs
	runs    []float64 // left edges of the runs of a page
	run     int       // the one being filled
	top     float64   // where runs start on this page
	lead    *lead     // headings right above the cursor
	moves   int       // of headings to another page
	missing []MissingGlyph
	seen    map[rune]bool
	err     error
}

// page is a list of things to draw. It is drawn only when the document is
// complete, so a block can be taken back and set again on the next page.
type page struct{ ops []op }

// New starts a document with one empty page.
func New(o Options) *Document {
	o.Margins = o.Margins.filled()
	d := &Document{opts: o, pageW: PageWidth, pageH: PageHeight, pages: []*page{{}}, y: o.Margins.Top,
		x: o.Margins.Left, top: o.Margins.Top, seen: map[rune]bool{}}
	if o.Landscape {
		d.pageW, d.pageH = d.pageH, d.pageW
	}
	d.root = &element{role: RoleDocument}
	d.elem = d.root
	d.w = d.pageW - o.Margins.Left - o.Margins.Right
	return d
}

func (d *Document) fail(err error) {
	if d.err == nil && err != nil {
		d.err = err
	}
}

// Width is the width of the column that text flows in.
func (d *Document) Width() float64 { return d.w }

// Remaining is the height left on this page.
func (d *Document) Remaining() float64 { return d.pageH - d.opts.Margins.Bottom - d.y }

// Page is the number of the page under the cursor, from 1.
func (d *Document) Page() int { return d.cur + 1 }

// AtTop tells whether the cursor is at the top of a page, or of a run of it.
func (d *Document) AtTop() bool { return d.y <= d.top }

// left is where the column that text flows in starts on the page.
func (d *Document) left() float64 { return d.base + d.x }

// textHeight is the height of the text of a page.
func (d *Document) textHeight() float64 { return d.pageH - d.opts.Margins.Top - d.opts.Margins.Bottom }

// Space moves down by h; at the top of a page it does nothing.
func (d *Document) Space(h float64) {
	if d.AtTop() {
		return
	}
	if d.y += h; d.Remaining() < 0 {
		d.NewPage()
	}
}

// Need moves to the next page unless h is left on this one.
func (d *Document) Need(h float64) {
	if d.Remaining() < h && !d.AtTop() {
		d.NewPage()
	}
}

func (d *Document) put(o op) {
	if d.err != nil {
		return
	}
	p := d.pages[d.cur]
	p.ops = append(p.ops, d.own(o))
}

// Columns sets blocks side by side, each in a column of a share of the width
// by its weight, and goes on below the longest. They are kept on one page if a
// page can hold them.
func (d *Document) Columns(gap float64, weights []float64, blocks ...func()) {
	if len(weights) != len(blocks) {
		d.fail(fmt.Errorf("layout: %d columns with %d weights", len(blocks), len(weights)))
	}
	widths, err := shares(d.w-gap*float64(len(blocks)-1), weights)
	d.fail(err)
	if d.err != nil {
		return
	}
	d.KeepTogether(func() { d.columns(gap, widths, blocks) })
}

func (d *Document) columns(gap float64, widths []float64, blocks []func()) {
	x, w, start := d.x, d.w, d.save()
	cur, y := d.cur, d.y
	endCur, endY, end := cur, y, start
	left := x
	for i, block := range blocks {
		d.cur, d.y, d.x, d.w, d.lead = cur, y, left, widths[i], nil
		d.base, d.top, d.run = start.base, start.top, start.run
		block()
		further := d.cur > endCur || d.cur == endCur && d.run > end.run
		if further || d.cur == endCur && d.run == end.run && d.y > endY {
			endCur, endY, end = d.cur, d.y, state{base: d.base, top: d.top, run: d.run}
		}
		left += widths[i] + gap
	}
	d.x, d.w, d.cur, d.y = x, w, endCur, endY
	d.base, d.top, d.run = end.base, end.top, end.run
}

// Indent sets a block in from the left.
func (d *Document) Indent(by float64, block func()) {
	x, w := d.x, d.w
	d.x, d.w = x+by, w-by
	block()
	d.x, d.w = x, w
}

// BoxStyle is how a box looks.
type BoxStyle struct {
	Fill   Colour // none if zero
	Border Colour // a line around it; none if zero
	// BorderWidth is that of the line; a hairline if zero.
	BorderWidth float64
	Bar         Colour  // a heavier bar down the left side; none if zero
	Pad         float64 // between edge and content; 10 if zero
}

// Boxes ready to use.
var (
	Callout = BoxStyle{Fill: Paper, Bar: Copper}
	Panel   = BoxStyle{Fill: Mist}
	Frame   = BoxStyle{Border: Hair}
)

// Box draws a tint and border around a block. It is kept on one page if a page
// can hold it, and otherwise goes on over the pages.
func (d *Document) Box(b BoxStyle, block func()) {
	pad := b.Pad
	if pad <= 0 {
		pad = 10
	}
	d.KeepTogether(func() {
		if d.err != nil {
			return
		}
		s, x, w := d.save(), d.x, d.w
		d.y += pad
		d.x, d.w = x+pad, w-2*pad
		if b.Bar != 0 {
			d.x, d.w = d.x+2, d.w-2
		}
		block()
		d.x, d.w = x, w
		d.y += pad
		for i := s.cur; i <= d.cur; i++ {
			top, bottom, at := d.opts.Margins.Top-pad, d.pageH-d.opts.Margins.Bottom+pad, 0
			if i == s.cur {
				top = s.y
			}
			if i == d.cur {
				bottom = d.y
			}
			if k := i - s.cur; k < len(s.lens) {
				at = s.lens[k]
			}
			ops := []op{rectOp{x: d.base + x, y: top, w: w, h: bottom - top, fill: b.Fill,
				pen: Pen{Colour: b.Border, Width: cmp.Or(b.BorderWidth, HairWidth)}}}
			if b.Bar != 0 {
				ops = append(ops, rectOp{x: d.base + x, y: top, w: 2, h: bottom - top, fill: b.Bar, pen: Pen{}})
			}
			d.pages[i].ops = slices.Insert(d.pages[i].ops, at, ops...)
		}
		if d.Remaining() < -pad {
			d.NewPage()
		}
	})
}

// shares splits a width by weights.
func shares(width float64, weights []float64) ([]float64, error) {
	sum := 0.0
	for i, w := range weights {
		if !(w > 0) || math.IsInf(w, 0) {
			return nil, fmt.Errorf("layout: weight %d is %v: it must be greater than 0", i+1, w)
		}
		sum += w
	}
	if len(weights) == 0 {
		return nil, errors.New("layout: no columns")
	}
	out := make([]float64, len(weights))
	for i, w := range weights {
		out[i] = width * w / sum
	}
	return out, nil
}

func (d *Document) miss(r rune, text string) {
	if !d.seen[r] {
		d.seen[r] = true
		d.missing = append(d.missing, MissingGlyph{r, text})
	}
}

// wrap sets spans into lines, keeping the error.
func (d *Document) wrap(width float64, spans ...Span) []line {
	if d.err != nil {
		return nil
	}
	for _, s := range spans {
		d.fail(checkLink(s.Link))
		d.fail(s.Mark.check(s.Text))
	}
	lines, err := wrap(spans, width, d.miss)
	d.fail(err)
	return lines
}
