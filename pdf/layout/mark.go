package layout

import (
	"fmt"
	"math"
	"strings"
)

// Mark is a small shape that stands before a word and repeats what the word
// says. The shapes differ in outline and filling, not in colour alone, and a
// mark without a word is refused.
type Mark uint8

const (
	NoMark   Mark = iota
	Inside        // filled disc with a tick
	Outside       // square with a cross
	Missing       // open ring
	Doubtful      // triangle with a question sign
	Exempt        // dash
)

func (m Mark) check(word string) error {
	if m > Exempt {
		return fmt.Errorf("layout: there is no mark %d", m)
	}
	if m != NoMark && strings.TrimSpace(word) == "" {
		return fmt.Errorf("layout: mark %d stands without a word beside it", m)
	}
	return nil
}

// markOps draws a mark on a baseline, about as high as the capitals.
func markOps(m Mark, x, base, size float64) []op {
	s := 0.92 * size                // side of the square the mark fills
	cx, cy := x+s/2, base-0.36*size // its middle is the middle of the capitals
	at := func(dx, dy float64) Point { return Point{cx + dx*s/2, cy + dy*s/2} }
	pen := Pen{Colour: Ink, Width: 0.1 * size}
	white := Pen{Colour: White, Width: 0.11 * size}
	switch m {
	case Inside:
		return []op{
			polygonOp{disc(cx, cy, s/2), Ink, Pen{}},
			strokeOp{[]Point{at(-0.45, 0.02), at(-0.1, 0.38), at(0.48, -0.36)}, white},
		}
	case Outside:
		return []op{
			rectOp{x: cx - s/2, y: cy - s/2, w: s, h: s, fill: Copper, pen: Pen{}},
			strokeOp{[]Point{at(-0.5, -0.5), at(0.5, 0.5)}, white},
			strokeOp{[]Point{at(-0.5, 0.5), at(0.5, -0.5)}, white},
		}
	case Missing:
		return []op{polygonOp{disc(cx, cy, s/2-0.05*size), 0, pen}}
	case Doubtful:
		q := Pen{Colour: Ink, Width: 0.085 * size}
		return []op{
			polygonOp{[]Point{at(0, -1), at(1.08, 0.92), at(-1.08, 0.92)}, 0, pen},
			strokeOp{[]Point{at(-0.22, -0.16), at(-0.1, -0.3), at(0.1, -0.3), at(0.22, -0.16), at(0.2, 0), at(0, 0.16),
				at(0, 0.36)}, q},
			polygonOp{disc(cx, cy+0.62*s/2, 0.065*size), Ink, Pen{}},
		}
	case Exempt:
		return []op{strokeOp{[]Point{at(-0.9, 0), at(0.9, 0)}, Pen{Colour: Slate, Width: 0.12 * size}}}
	}
	return nil
}

// disc is a circle as a polygon, fine enough that no corner shows in print.
func disc(x, y, r float64) []Point {
	n := 24
	if r > 12 {
		n = 72
	}
	p := make([]Point, n)
	for i := range p {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		p[i] = Point{x + r*cos, y + r*sin}
	}
	return p
}
