package layout

import "fmt"

// Column is one column of a table. Its width is its share by Weight.
type Column struct {
	Head   string
	Weight float64
	Align  Align
}

// Cell is the content of one cell: Text with a mark and a small note under it,
// or Spans for anything else. A cell given nothing is empty.
type Cell struct {
	Text  string
	Mark  Mark
	Note  string // small, under the text
	Link  string
	Style Style // that of the table if zero
	Spans []Span
}

// Row is one row. With Group set it is a heading over all columns instead,
// and stays with the row after it.
type Row struct {
	Cells []Cell
	Group string
	Fill  Colour // tint; none if zero
}

// Table is a table. Its head is repeated on every page it goes over.
type Table struct {
	Columns []Column
	Rows    []Row
	Style   Style // of cells: a shade smaller than Body if zero
	Zebra   bool  // tint every other row, with no hairlines between
	NoRules bool  // no hairlines under rows
	Gap     float64
	PadY    float64
}

// TextRow is a row of plain texts.
func TextRow(texts ...string) Row {
	r := Row{Cells: make([]Cell, len(texts))}
	for i, t := range texts {
		r.Cells[i].Text = t
	}
	return r
}

// grid is a table being drawn.
type grid struct {
	*Table
	d      *Document
	x      []float64 // left edges of cells, from that of the column
	w      []float64 // widths of cells
	aligns []Align
	head   *setRow
	rows   []*setRow
}

func (g *grid) last(r *setRow) bool { return r == g.rows[len(g.rows)-1] }

// setRow is a row whose cells are set in lines.
type setRow struct {
	cells  [][]line
	height float64 // of the tallest cell, without padding
	fill   Colour
	group  bool
	parts  []*element // of the structure, one a cell
}

// Table draws a table. Rows are kept whole; one that is taller than a page is
// split between lines.
func (d *Document) Table(t Table) {
	if d.err != nil {
		return
	}
	if t.Style.Size <= 0 {
		t.Style = Style{Face: t.Style.Face, Size: 9, Leading: 12.5, Colour: t.Style.Colour}
	}
	if t.Gap <= 0 {
		t.Gap = 12
	}
	if t.PadY <= 0 {
		t.PadY = 3.5
	}
	weights := make([]float64, len(t.Columns))
	for i, c := range t.Columns {
		weights[i] = c.Weight
	}
	inset := 0.0
	if t.Zebra {
		inset = 4
	}
	widths, err := shares(d.w-2*inset-t.Gap*float64(len(weights)-1), weights)
	d.fail(err)
	if d.err != nil {
		return
	}
	g := &grid{Table: &t, d: d, w: widths}
	x, hasHead := inset, false
	head, headStyle := Row{}, Head
	if t.Style.Size < headStyle.Size {
		headStyle.Size, headStyle.Leading = t.Style.Size, t.Style.Leading
	}
	for i, c := range t.Columns {
		g.x = append(g.x, x)
		g.aligns = append(g.aligns, c.Align)
		head.Cells = append(head.Cells, Cell{Text: c.Head, Style: headStyle})
		hasHead = hasHead || c.Head != ""
		x += widths[i] + t.Gap
	}
	if hasHead {
		g.head = g.set(head)
	}
	rows := make([]*setRow, len(t.Rows))
	odd := false
	for i, r := range t.Rows {
		if r.Group == "" && len(r.Cells) != len(t.Columns) {
			d.fail(fmt.Errorf("layout: table row %d has %d cells: %d are wanted", i+1, len(r.Cells), len(t.Columns)))
		}
		if odd = !odd && r.Group == ""; t.Zebra && odd && r.Fill == 0 {
			r.Fill = Mist
		}
		rows[i] = g.set(r)
	}
	if d.err != nil {
		return
	}
	d.part(RoleTable, false, func() { g.draw(rows) })
}

// set wraps the cells of a row and moves their first lines to one baseline.
func (g *grid) set(r Row) *setRow {
	s := &setRow{fill: r.Fill}
	if r.Group != "" {
		s.group = true
		s.cells = [][]line{g.d.wrap(g.d.w, Span{Text: r.Group, Style: Strong})}
	}
	for i, c := range r.Cells {
		if s.group || i >= len(g.w) {
			break
		}
		s.cells = append(s.cells, g.d.wrap(g.w[i], c.spans(g.Style)...))
	}
	base := 0.0
	for _, c := range s.cells {
		if len(c) > 0 {
			base = max(base, c[0].baseline)
		}
	}
	for _, c := range s.cells {
		if len(c) > 0 {
			c[0].height += base - c[0].baseline
			c[0].baseline = base
		}
		s.height = max(s.height, sumHeight(c))
	}
	return s
}

func (c Cell) spans(s Style) []Span {
	if c.Spans != nil {
		return c.Spans
	}
	if c.Style != (Style{}) {
		s = c.Style
	}
	out := []Span{{Text: c.Text, Style: s, Mark: c.Mark, Link: c.Link}}
	if c.Note != "" {
		note := Small
		note.Align = s.Align
		if c.Text != "" {
			out = append(out, Span{Text: "\n", Style: s})
		}
		out = append(out, Span{Text: c.Note, Style: note})
	}
	return out
}

func (g *grid) draw(rows []*setRow) {
	d, headH := g.d, 0.0
	if g.head != nil {
		headH = g.head.height + 2*g.PadY
	}
	g.rows = rows
	for i, r := range rows {
		need := r.height + 2*g.PadY
		if i == 0 {
			need += headH
		}
		if r.group { // stays with the row after it, or with its first lines
			need += g.PadY
			if i+1 < len(rows) {
				need += min(rows[i+1].height, 4*g.Style.Leading) + 2*g.PadY
			}
		}
		whole := d.textHeight() - headH
		switch {
		case need <= d.Remaining()+0.01:
		case need <= whole:
			d.NewPage()
		case d.Remaining() < headH+6*g.Style.Leading:
			d.NewPage()
		}
		if g.head != nil && (i == 0 || d.AtTop()) {
			g.drawHead()
		}
		g.drawRow(r)
	}
}

func (g *grid) drawHead() {
	if g.head.parts == nil {
		g.head.parts = g.d.parts(len(g.head.cells), RoleHead)
	} else { // read once, however many pages the table goes over
		for i := range g.head.parts {
			g.head.parts[i] = &element{}
		}
	}
	g.drawPart(g.head.cells, g.head.height, 0, g.head)
	g.d.put(strokeOp{[]Point{{g.d.left(), g.d.y}, {g.d.left() + g.d.w, g.d.y}}, Pen{Colour: Ink, Width: 0.8}})
}

// parts adds a row to the structure, unless the table is within an element that
// holds text.
func (d *Document) parts(n int, r Role) []*element {
	out := make([]*element, n)
	row := d.elem
	if !row.holds {
		row = d.add(RoleRow, false)
	}
	for i := range out {
		if out[i] = row; !row.holds {
			d.within(row, func() { out[i] = d.add(r, true) })
		}
	}
	return out
}

// drawRow draws a row at the cursor, in parts if it is taller than what is
// left. The caller has moved to a new page where a whole row fits there.
func (g *grid) drawRow(r *setRow) {
	d := g.d
	if r.group {
		d.y += g.PadY
	}
	cells := r.cells
	r.parts = d.parts(len(cells), RoleCell)
	for d.err == nil {
		room := d.Remaining() - 2*g.PadY + 0.01
		now, later, more, h := make([][]line, len(cells)), make([][]line, len(cells)), false, 0.0
		for i, c := range cells {
			n, ch := 0, 0.0
			for n < len(c) && ch+c[n].height <= room {
				ch += c[n].height
				n++
			}
			now[i], later[i] = c[:n], c[n:]
			h = max(h, ch)
			more = more || n < len(c)
		}
		if h == 0 && more && d.AtTop() {
			d.fail(fmt.Errorf("layout: a line of a table is taller than a page"))
			return
		}
		if h > 0 || !more {
			g.drawPart(now, h, r.fill, r)
			if !g.NoRules && (g.last(r) || more || !g.Zebra) {
				d.put(strokeOp{[]Point{{d.left(), d.y}, {d.left() + d.w, d.y}}, Pen{Colour: Hair, Width: HairWidth}})
			}
		}
		if !more {
			return
		}
		cells = later
		d.NewPage()
		if g.head != nil {
			g.drawHead()
		}
	}
}

func (g *grid) drawPart(cells [][]line, h float64, fill Colour, r *setRow) {
	d := g.d
	full := h + 2*g.PadY
	if fill != 0 {
		d.put(rectOp{x: d.left(), y: d.y, w: d.w, h: full, fill: fill, pen: Pen{}})
	}
	for i, c := range cells {
		y, w, a := d.y+g.PadY, g.w[i], g.aligns[i]
		if r.group {
			w, a = d.w, Left
		}
		d.within(r.parts[i], func() {
			for _, l := range c {
				d.drawLine(l, d.left()+g.x[i], y, w, a)
				y += l.height
			}
		})
	}
	d.y += full
}

// Pair is a label and its value.
type Pair struct {
	Label string
	Value Cell
}

// Pairs sets labels and values in the given number of columns, row by row,
// with a hairline under each row.
func (d *Document) Pairs(columns int, pairs ...Pair) {
	if columns < 1 {
		d.fail(fmt.Errorf("layout: %d columns of pairs: at least 1 is wanted", columns))
		return
	}
	t := Table{Style: Body, Gap: 12, PadY: 2.5}
	for range columns {
		t.Columns = append(t.Columns, Column{Weight: 1}, Column{Weight: 1 + 2.4/float64(columns)})
	}
	for len(pairs) > 0 {
		var r Row
		for i := range columns {
			if i < len(pairs) {
				r.Cells = append(r.Cells, Cell{Text: pairs[i].Label, Style: Label}, pairs[i].Value)
			} else {
				r.Cells = append(r.Cells, Cell{}, Cell{})
			}
		}
		t.Rows = append(t.Rows, r)
		pairs = pairs[min(columns, len(pairs)):]
	}
	d.Table(t)
}
