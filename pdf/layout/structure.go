package layout

import "gaugebook/pdf/seal"

// Role is what a part of the document is to somebody who has it read aloud
// (ISO 32000-1, 14.8.4).
type Role string

// The roles.
const (
	RoleDocument  Role = "Document"
	RoleTitle     Role = "H1"
	RoleHeading   Role = "H2"
	RoleSubhead   Role = "H3"
	RoleParagraph Role = "P"
	RoleTable     Role = "Table"
	RoleRow       Role = "TR"
	RoleHead      Role = "TH"
	RoleCell      Role = "TD"
	RoleList      Role = "L"
	RoleItem      Role = "LI"
	RoleItemBody  Role = "LBody"
	RoleFigure    Role = "Figure"
)

// element is a part of the structure. Its place among its siblings is the
// order in which it is read. One that nothing was drawn for is left out.
type element struct {
	role Role
	alt  string
	kids []*element
	// holds tells whether it holds text itself; others hold elements.
	holds bool
}

// owned is an op that belongs to an element. Ops that belong to none are
// artifacts: rules, tints and what stands in the margins.
type owned struct {
	op
	of *element
}

// add appends an element to the one that is open.
func (d *Document) add(r Role, holds bool) *element {
	e := &element{role: r, holds: holds}
	d.elem.kids = append(d.elem.kids, e)
	return e
}

// within draws a block into an element.
func (d *Document) within(e *element, block func()) {
	was := d.elem
	d.elem = e
	block()
	d.elem = was
}

// part draws a block into a new element, unless one that holds text is open:
// what is drawn is part of that one then.
func (d *Document) part(r Role, holds bool, block func()) {
	if d.elem.holds {
		block()
		return
	}
	d.within(d.add(r, holds), block)
}

// As gives the paragraphs that a block sets another role: they are read as
// one.
func (d *Document) As(r Role, block func()) { d.part(r, true, block) }

// Described draws a block that is read aloud as the description.
func (d *Document) Described(description string, block func()) {
	if d.elem.holds {
		block()
		return
	}
	e := d.add(RoleFigure, true)
	e.alt = clean(description)
	d.within(e, block)
}

// own ties an op to the element that is open. Shapes belong to figures alone.
func (d *Document) own(o op) op {
	if !d.elem.holds {
		return o
	}
	switch o.(type) {
	case textOp:
	case strokeOp, polygonOp, rectOp, imageOp:
		if d.elem.role != RoleFigure {
			return o
		}
	default:
		return o
	}
	return owned{o, d.elem}
}

// marks numbers the pieces of the pages that belong to elements.
type marks struct {
	next int // on this page
	of   map[*element][]seal.Mark
}

// seals gives the structure as package seal writes it, without the elements
// that nothing was drawn for.
func (m marks) seals(e *element) *seal.Element {
	out := &seal.Element{Role: string(e.role), Alt: e.alt, Marks: m.of[e]}
	for _, k := range e.kids {
		if s := m.seals(k); len(s.Marks) > 0 || len(s.Kids) > 0 {
			out.Kids = append(out.Kids, s)
		}
	}
	return out
}

// drawPage draws the ops of a page. What follows each other and belongs to one
// element is one piece of marked content.
func (r *renderer) drawPage(i int, ops []op, m *marks) error {
	m.next = 0
	var open *element
	begun := false
	for _, o := range ops {
		piece, _ := o.(owned)
		if _, shows := o.(linkOp); shows {
			begun = r.end(begun)
		} else if _, shows := o.(outlineOp); !shows && (!begun || piece.of != open) {
			r.end(begun)
			open, begun = piece.of, true
			if open == nil {
				r.pdf.SetCustomLineType([]float64{seal.ArtifactSign}, 0)
			} else {
				r.pdf.SetCustomLineType([]float64{seal.MarkSign}, float64(m.next))
				m.of[open] = append(m.of[open], seal.Mark{Page: i, ID: m.next})
				m.next++
			}
		}
		if err := o.draw(r); err != nil {
			return err
		}
	}
	r.end(begun)
	return nil
}

// end closes a piece of marked content if one is open, and tells that none is.
func (r *renderer) end(begun bool) bool {
	if begun {
		r.pdf.SetCustomLineType([]float64{seal.EndSign}, 0)
	}
	return false
}
