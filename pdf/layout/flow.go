package layout

// state is a point that the document can go back to.
type state struct {
	cur, pages int
	y          float64
	lens       []int // of the ops of pages[cur:]
	lead       *lead
}

func (d *Document) save() state {
	s := state{cur: d.cur, pages: len(d.pages), y: d.y, lead: d.lead}
	for _, p := range d.pages[d.cur:] {
		s.lens = append(s.lens, len(p.ops))
	}
	return s
}

func (d *Document) restore(s state) {
	d.pages = d.pages[:s.pages]
	for i, n := range s.lens {
		p := d.pages[s.cur+i]
		p.ops = p.ops[:n]
	}
	d.cur, d.y, d.lead = s.cur, s.y, s.lead
}

// lead is the headings that stand right above the cursor. If what follows
// starts on the next page, they go with it.
type lead struct {
	before   state // of the document, without them
	cur, ops int   // page and number of ops right below them
	y        float64
	again    []func()
}

// here tells whether nothing was set since the headings.
func (l *lead) here(d *Document) bool {
	return l != nil && l.cur == d.cur && l.y == d.y && l.ops == len(d.pages[d.cur].ops)
}

// movable tells whether taking the headings along gains anything.
func (l *lead) movable() bool { return l.before.y > MarginTop }

// NewPage moves to the top of the next page, with headings that nothing
// follows yet.
func (d *Document) NewPage() {
	l := d.lead
	if d.err != nil || !l.here(d) || !l.movable() {
		d.turn()
		return
	}
	d.restore(l.before)
	d.moves++
	d.turn()
	for _, heading := range l.again {
		heading()
	}
}

func (d *Document) turn() {
	d.cur++
	if d.cur == len(d.pages) {
		d.pages = append(d.pages, &page{})
	}
	d.y, d.lead = MarginTop, nil
}

// KeepTogether sets what block draws on one page if a page can hold it. The
// function may be called twice, so it must do nothing but draw.
func (d *Document) KeepTogether(block func()) {
	if d.err != nil {
		return
	}
	s, moves := d.save(), d.moves
	block()
	switch {
	case d.err != nil, d.cur == s.cur, d.moves != moves, s.y <= MarginTop:
		return
	case s.lead != nil && s.lead.y == s.y && s.lead.cur == s.cur && !s.lead.movable():
		return // under a heading at the top of a page: no page has more room
	}
	d.restore(s)
	d.NewPage()
	block()
}
