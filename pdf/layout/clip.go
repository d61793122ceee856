package layout

// clipLine cuts a line at the edges of the window; it may fall into pieces.
// Each segment is cut by the method of Liang and Barsky.
func (f *Figure) clipLine(ps []Point) (runs [][]Point) {
	var run []Point
	flush := func() {
		if len(run) > 1 {
			runs = append(runs, run)
		}
		run = nil
	}
	for i := 0; i+1 < len(ps); i++ {
		a, b, ok := f.clipSegment(ps[i], ps[i+1])
		if !ok {
			flush()
			continue
		}
		if len(run) == 0 || run[len(run)-1] != a {
			flush()
			run = []Point{a}
		}
		run = append(run, b)
	}
	flush()
	return runs
}

func (f *Figure) clipSegment(a, b Point) (Point, Point, bool) {
	dx, dy := b.X-a.X, b.Y-a.Y
	t0, t1 := 0.0, 1.0
	for _, e := range [4][2]float64{ // direction and distance, outwards
		{-dx, a.X - f.left}, {dx, f.right - a.X}, {-dy, a.Y - f.top}, {dy, f.foot - a.Y},
	} {
		p, q := e[0], e[1]
		switch {
		case p == 0:
			if q < 0 {
				return a, b, false
			}
		case p < 0:
			t0 = max(t0, q/p)
		default:
			t1 = min(t1, q/p)
		}
	}
	if t0 > t1 {
		return a, b, false
	}
	ca, cb := a, b
	if t0 > 0 {
		ca = Point{a.X + t0*dx, a.Y + t0*dy}
	}
	if t1 < 1 {
		cb = Point{a.X + t1*dx, a.Y + t1*dy}
	}
	return ca, cb, true
}

// clipArea cuts a closed shape at the edges of the window (Sutherland and
// Hodgman).
func (f *Figure) clipArea(ps []Point) []Point {
	type edge struct {
		inside func(Point) bool
		cut    func(a, b Point) Point
	}
	atX := func(x float64) func(a, b Point) Point {
		return func(a, b Point) Point { return Point{x, a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X)} }
	}
	atY := func(y float64) func(a, b Point) Point {
		return func(a, b Point) Point { return Point{a.X + (b.X-a.X)*(y-a.Y)/(b.Y-a.Y), y} }
	}
	for _, e := range []edge{
		{func(p Point) bool { return p.X >= f.left }, atX(f.left)},
		{func(p Point) bool { return p.X <= f.right }, atX(f.right)},
		{func(p Point) bool { return p.Y >= f.top }, atY(f.top)},
		{func(p Point) bool { return p.Y <= f.foot }, atY(f.foot)},
	} {
		var out []Point
		for i, p := range ps {
			prev := ps[(i+len(ps)-1)%len(ps)]
			if e.inside(p) != e.inside(prev) {
				out = append(out, e.cut(prev, p))
			}
			if e.inside(p) {
				out = append(out, p)
			}
		}
		ps = out
	}
	return ps
}
