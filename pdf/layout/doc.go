// Package layout sets text, tables and figures on A4 pages with gopdf. It knows
// nothing of what the pages say. Lengths are points (1/72 inch); [MM] is a
// millimetre. Coordinates run from the upper left corner.
//
// A [Document] is a flow: blocks are set one below the other and go on over the
// pages. Nothing reaches gopdf before [Document.Bytes], so a block can be taken
// back and set again, and header and footer know the number of pages. The first
// error sticks and Bytes returns it; among them [MissingGlyphError] and
// [WidthError]. The same calls give the same bytes. Package seal adds metadata,
// attachments and the seal.
//
//	New(Options{Header, Footer func(f *Figure, page, pages int), Landscape, Margins}) *Document
//	Header(left, right string), Footer(text string)     ready for Options
//	(*Document) Bytes() ([]byte, error)
//	            Width() Remaining() float64   Page() int   AtTop() bool
//
// Flow:
//
//	Paragraph(Style, text)     Rich(...Span)     Bullets(Style, items...)
//	Heading(level 1 to 3, text)   Bookmark(text)    Space(h)   Need(h)   NewPage()
//	KeepTogether(func())       Indent(by, func())
//	Columns(gap, weights, blocks...)             Box(BoxStyle, func())   Callout Panel Frame
//	Runs(n, gap, func())                         Fits(func()) bool
//	Table(Table{Columns, Rows, Style, Zebra, NoRules, Gap, PadY})
//	    Column{Head, Weight, Align}   Row{Cells, Group, Fill}   TextRow(texts...)
//	    Cell{Text, Mark, Note, Link, Style, Spans}
//	Pairs(columns, ...Pair{Label, Value Cell})
//	Figure(h, func(*Figure))                     LoadImage(data) (Image, error)
//
// Figures, in points or, after Window, in coordinates of the caller's own:
//
//	Window(x0, x1, y0, y1, Inset)
//	Line(x0, y0, x1, y1, Pen)   Polyline(Pen, ...Point)   Polygon(fill, Pen, ...Point)
//	Rect(x0, y0, x1, y1, fill, Pen)   Circle(x, y, radius, fill, Pen)
//	Text(x, y, dx, dy, Style, text)   Mark(x, y, dx, dy, Style, Mark, word)
//	Image(Image, x, y, w, h)   QR(x, y, size, text)         always in points
//
// Text: Span{Text, Style, Mark, Link}, Style{Face, Size, Leading, Colour, Align}
// with the scale Title Heading1 Heading2 Lead Body Strong Small Label Head Code;
// faces Regular Bold Italic Mono; colours Ink Slate Copper Grey Hair Mist Paper
// White Black; marks Inside Outside Missing Doubtful Exempt, never without a
// word. Text that people typed goes through [Printable] first, which puts a
// visible sign for what no font can print. [TextWidth] measures one line.
//
// Structure: every paragraph, heading, list and table is tagged as what it is
// and read in the order of the calls; rules, tints, header and footer are
// artifacts. [Document.As] gives paragraphs another role, and
// [Document.Described] a picture the words that are read in its place. Links
// are not tied to the structure yet, so no claim of PDF/UA is made.
//
// What this cannot do: scripts that need shaping or run from right to left,
// which are refused rather than set wrongly.
package layout
