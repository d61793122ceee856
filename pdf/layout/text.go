package layout

import (
	"fmt"
	"net/url"
	"strings"
)

// Paragraph sets text in one style. Newlines break lines. It goes on over the
// page with at least two lines on either side.
func (d *Document) Paragraph(s Style, text string) { d.Rich(Span{Text: text, Style: s}) }

// Rich sets a paragraph of several styles; the first gives the alignment.
func (d *Document) Rich(spans ...Span) {
	if len(spans) == 0 {
		return
	}
	d.part(RoleParagraph, true, func() { d.setLines(d.wrap(d.w, spans...), spans[0].Style.Align) })
}

// setLines draws lines at the cursor over as many pages as they need.
func (d *Document) setLines(lines []line, a Align) {
	for len(lines) > 0 && d.err == nil {
		n, h := 0, 0.0
		for n < len(lines) && h+lines[n].height <= d.Remaining()+0.01 {
			h += lines[n].height
			n++
		}
		if n < len(lines) { // no widow, no orphan
			if len(lines)-n == 1 && n > 2 {
				n--
			}
			if n < 2 && !d.AtTop() {
				d.NewPage()
				continue
			}
			n = max(n, 1)
		}
		for _, l := range lines[:n] {
			d.drawLine(l, d.left(), d.y, d.w, a)
			d.y += l.height
		}
		if lines = lines[n:]; len(lines) > 0 {
			d.NewPage()
		}
	}
}

// drawLine draws one line in a box whose upper left corner is (x, y).
func (d *Document) drawLine(l line, x, y, w float64, a Align) {
	switch a {
	case Right:
		x += w - l.width
	case Centre:
		x += (w - l.width) / 2
	}
	for _, o := range lineOps(l, x, y) {
		d.put(o)
	}
}

func lineOps(l line, x, y float64) (ops []op) {
	base := y + l.baseline
	for _, a := range l.atoms {
		if a.mark != 0 {
			ops = append(ops, markOps(a.mark, x, base, a.style.Size)...)
		} else {
			ops = append(ops, textOp{x: x, y: base, w: a.width, font: a.font, size: a.style.Size,
				colour: a.style.Colour, text: a.text})
		}
		if a.link != "" {
			ops = append(ops,
				linkOp{x: x, y: base - ascent*a.style.Size, w: a.width, h: extent * a.style.Size, url: a.link},
				strokeOp{[]Point{{x, base + 1.6}, {x + a.width, base + 1.6}},
					Pen{Colour: a.style.Colour, Width: HairWidth}})
		}
		x += a.width
	}
	return ops
}

// Heading sets a heading of level 1 to 3 that stays with what follows.
// Level 1 stands under a hairline, level 3 over one; both are entered in the
// bookmarks. Level 3 is for runs: it takes little room.
func (d *Document) Heading(level int, text string) {
	role := RoleHeading
	if level == 2 {
		role = RoleSubhead
	}
	d.heading(level, text, d.add(role, true))
}

func (d *Document) heading(level int, text string, e *element) {
	if d.err != nil {
		return
	}
	s, before, after := Heading1, 20.0, 5.0
	switch {
	case level == 2:
		s, before, after = Heading2, 12, 4
	case level > 2:
		s, before, after = Heading3, 4.5, 2
	}
	lines := d.wrap(d.w, Span{Text: text, Style: s})
	d.Need(before + sumHeight(lines) + after + 3*Body.Leading)
	l := &lead{before: d.save()}
	if prev := d.lead; prev.here(d) {
		l.before, l.again = prev.before, prev.again
	}
	x, w := d.x, d.w
	l.again = append(l.again[:len(l.again):len(l.again)], func() {
		nowX, nowW := d.x, d.w
		d.x, d.w = x, w // the next block may have set itself in
		d.heading(level, text, e)
		d.x, d.w = nowX, nowW
	})
	d.Space(before)
	if level != 2 {
		d.Bookmark(text)
		if level <= 1 && !d.AtTop() {
			d.put(strokeOp{[]Point{{d.left(), d.y}, {d.left() + d.w, d.y}}, Pen{Colour: Ink, Width: HairWidth}})
			d.y += 6
		}
	}
	d.within(e, func() { d.setLines(lines, Left) })
	if level > 2 {
		d.put(strokeOp{[]Point{{d.left(), d.y + 1}, {d.left() + d.w, d.y + 1}}, Pen{Colour: Ink, Width: 0.7}})
	}
	d.y += after
	l.cur, l.y, l.ops = d.cur, d.y, len(d.pages[d.cur].ops)
	d.lead = l
}

// Bookmark enters the place of the cursor in the bookmarks.
func (d *Document) Bookmark(text string) {
	d.put(outlineOp{strings.Join(strings.Fields(clean(text)), " "), d.y})
}

// Bullets sets a list, each item behind a short dash.
func (d *Document) Bullets(s Style, items ...string) {
	d.part(RoleList, false, func() { d.bullets(s, items) })
}

func (d *Document) bullets(s Style, items []string) {
	f := s.filled()
	for _, item := range items {
		lines := d.wrap(d.w-12, Span{Text: item, Style: s})
		if len(lines) == 0 {
			return
		}
		d.Need(min(2, float64(len(lines))) * f.Leading)
		y := d.y + lines[0].baseline - 0.3*f.Size
		d.put(strokeOp{[]Point{{d.left(), y}, {d.left() + 5, y}}, Pen{Colour: Copper, Width: 0.9}})
		d.part(RoleItem, false, func() {
			d.part(RoleItemBody, true, func() { d.Indent(12, func() { d.setLines(lines, s.Align) }) })
		})
		d.y += 2
	}
}

// checkLink refuses anything but an address that a reader can open.
func checkLink(link string) error {
	if link == "" {
		return nil
	}
	u, err := url.Parse(link)
	if err != nil {
		return fmt.Errorf("layout: link %q: %w", link, err)
	}
	switch u.Scheme {
	case "http", "https":
		if u.Host == "" {
			return fmt.Errorf("layout: link %q names no host", link)
		}
	case "mailto", "tel":
	default:
		return fmt.Errorf("layout: link %q: http, https, mailto or tel is wanted", link)
	}
	for _, r := range link {
		if r <= ' ' || r > '~' {
			return fmt.Errorf("layout: link %q holds %q: escape it first", link, r)
		}
	}
	return nil
}
