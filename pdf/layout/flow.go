package layout

import "fmt"

// state is a point that the document can go back to.
type state struct {
	cur, pages int
	y          float64
	base, top  float64
	run        int
	lens       []int // of the ops of pages[cur:]
	lead       *lead
}

func (d *Document) save() state {
	s := state{cur: d.cur, pages: len(d.pages), y: d.y, base: d.base, top: d.top, run: d.run, lead: d.lead}
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
	d.base, d.top, d.run = s.base, s.top, s.run
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
func (l *lead) movable() bool { return l.before.y > l.before.top }

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

// turn goes on in the next run of this page, or on the next page.
func (d *Document) turn() {
	d.lead = nil
	if d.run+1 < len(d.runs) {
		d.run++
		d.base, d.y = d.runs[d.run], d.top
		return
	}
	d.turnPage()
}

func (d *Document) turnPage() {
	d.cur++
	if d.cur == len(d.pages) {
		d.pages = append(d.pages, &page{})
	}
	d.top = d.opts.Margins.Top
	d.y, d.run, d.base, d.lead = d.top, 0, 0, nil
}

// Runs sets a block in n runs of equal width side by side: it fills the first
// one to the foot of the page, then the next, then those of the next page.
// Blocks side by side may not hold runs, nor runs other runs.
func (d *Document) Runs(n int, gap float64, block func()) {
	if d.err != nil {
		return
	}
	if n < 1 || len(d.runs) > 0 {
		d.fail(fmt.Errorf("layout: %d runs within %d: at least 1, and none within others, is wanted", n, len(d.runs)))
		return
	}
	w := (d.w - gap*float64(n-1)) / float64(n)
	if d.Remaining() < 3*Body.Leading {
		d.NewPage()
	}
	was, page := d.w, d.cur
	d.w, d.top = w, d.y
	for i := range n {
		d.runs = append(d.runs, float64(i)*(w+gap))
	}
	block()
	foot := d.y
	if d.run > 0 || d.cur != page {
		foot = max(foot, d.foot(d.cur))
	}
	d.w, d.runs, d.run, d.base, d.lead = was, nil, 0, 0, nil
	d.top, d.y = d.opts.Margins.Top, foot
}

// foot is the lowest edge of what was drawn on a page.
func (d *Document) foot(i int) float64 {
	y := d.top
	for _, o := range d.pages[i].ops {
		if part, ok := o.(owned); ok {
			o = part.op
		}
		if t, ok := o.(textOp); ok {
			y = max(y, t.y+(extent-ascent)*t.size)
		}
	}
	return y
}

// Fits sets a block if all of it goes on this page, and otherwise sets nothing
// and tells so.
func (d *Document) Fits(block func()) bool {
	s := d.save()
	block()
	if d.cur == s.cur && d.run == s.run && d.Remaining() >= -0.01 {
		return true
	}
	d.restore(s)
	return false
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
	case d.err != nil, d.cur == s.cur && d.run == s.run, d.moves != moves, s.y <= s.top:
		return
	case s.lead != nil && s.lead.y == s.y && s.lead.cur == s.cur && !s.lead.movable():
		return // under a heading at the top of a page: no page has more room
	}
	d.restore(s)
	d.NewPage()
	block()
}
