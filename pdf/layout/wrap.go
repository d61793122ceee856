package layout

import (
	"strings"
	"unicode"
)

// Span is a run of text in one style. A mark stands before the first word and
// never parts from it. Link is a web, mail or telephone address.
type Span struct {
	Text  string
	Style Style
	Mark  Mark
	Link  string
}

// atom is a piece of one word in one font.
type atom struct {
	font  *typeface
	style Style
	text  string
	width float64
	mark  Mark
	link  string
}

func (a *atom) joins(b *atom) bool {
	return a.font == b.font && a.mark == 0 && b.mark == 0 && a.link == b.link &&
		a.style.Size == b.style.Size && a.style.Colour == b.style.Colour
}

// line is one set line: its pieces from left to right.
type line struct {
	atoms    []atom
	width    float64
	height   float64 // line pitch
	baseline float64 // from the top of the line
}

// Share of the size above the baseline, and of the whole, in the text face.
const (
	ascent = 0.905
	extent = 1.117
)

// markWidth is the room of a mark with the gap after it, in sizes.
const markWidth = 1.28

type wrapper struct {
	width   float64
	source  string // for errors
	missing func(r rune, text string)

	lines []line
	cur   line
	word  []atom
	wordW float64
	space *atom // a space waiting for a word to follow
	err   error
}

// wrap sets spans into lines no wider than width. Each rune is measured once.
// Lines break at spaces and newlines; a word wider than the width breaks after
// a joining sign if there is one in its second half, else between letters.
func wrap(spans []Span, width float64, missing func(rune, string)) ([]line, error) {
	w := &wrapper{width: width, missing: missing}
	var last Style
	for _, s := range spans {
		s.Style = s.Style.filled()
		last = s.Style
		w.add(s)
	}
	w.endWord()
	w.endLine(last)
	return w.lines, w.err
}

func (w *wrapper) add(s Span) {
	text := clean(s.Text)
	w.source = text
	if s.Mark != 0 {
		mw := markWidth * s.Style.Size
		w.word = append(w.word, atom{style: s.Style, width: mw, mark: s.Mark})
		w.wordW += mw
	}
	start, unit := 0, s.Style.Size/1000
	var font *typeface
	flush := func(end int) {
		if font == nil || end == start {
			return
		}
		t := strings.ReplaceAll(text[start:end], "\u00a0", " ") // the same glyph; copies out as a space
		a := atom{font: font, style: s.Style, text: t, link: s.Link, width: float64(font.width(t)) * unit}
		w.word = append(w.word, a)
		w.wordW += a.width
	}
	for i, r := range text {
		if r == ' ' || r == '\n' {
			flush(i)
			font = nil
			w.endWord()
			if r == '\n' {
				w.trail()
				w.endLine(s.Style)
			} else if f := faceFor(s.Style.Face, ' '); len(w.cur.atoms) > 0 {
				w.space = &atom{font: f, style: s.Style, text: " ", link: s.Link, width: float64(f.width(" ")) * unit}
			}
			continue
		}
		f := faceFor(s.Style.Face, r)
		if r == '\u00a0' {
			f = faceFor(s.Style.Face, ' ')
		}
		if f == nil {
			w.missing(r, text)
			flush(i)
			font = nil
			continue
		}
		if f != font {
			flush(i)
			font, start = f, i
		}
	}
	flush(len(text))
}

// endWord puts the word on the line, or on the next, or breaks it.
func (w *wrapper) endWord() {
	if len(w.word) == 0 {
		return
	}
	lead := 0.0
	if w.space != nil {
		lead = w.space.width
	}
	const slack = 1e-6
	if w.cur.width+lead+w.wordW > w.width+slack && len(w.cur.atoms) > 0 {
		w.trail()
		w.endLine(w.word[0].style)
	}
	if w.space != nil {
		w.put(*w.space)
		w.space = nil
	}
	if w.wordW <= w.width+slack {
		for _, a := range w.word {
			w.put(a)
		}
	} else {
		for _, a := range w.word {
			w.putBroken(a)
		}
	}
	w.word, w.wordW = w.word[:0], 0
}

// trail ends the line with a space that takes no room, so that what is copied
// or read aloud has one where the line breaks.
func (w *wrapper) trail() {
	if n := len(w.cur.atoms); n > 0 && w.cur.atoms[n-1].text != "" {
		w.cur.atoms[n-1].text += " "
	}
}

func (w *wrapper) put(a atom) {
	w.cur.width += a.width
	if n := len(w.cur.atoms); n > 0 && w.cur.atoms[n-1].joins(&a) {
		l := &w.cur.atoms[n-1]
		l.text += a.text
		l.width += a.width
		return
	}
	w.cur.atoms = append(w.cur.atoms, a)
}

// putBroken puts a piece of an over-long word, letter by letter.
func (w *wrapper) putBroken(a atom) {
	if a.mark != 0 {
		w.put(a)
		return
	}
	unit := a.style.Size / 1000
	start, from, good := 0, w.cur.width, -1 // good: a preferred break after this byte
	x, goodX := from, 0.0
	emit := func(end int, width float64) {
		if end > start {
			p := a
			p.text, p.width = a.text[start:end], width
			w.put(p)
		}
		start = end
	}
	for i, r := range a.text {
		adv := float64(a.font.advances[r]) * unit
		for x+adv > w.width && !unicode.Is(unicode.Mn, r) && (i > start || len(w.cur.atoms) > 0) {
			cut, cutX := i, x
			if good > start && goodX-from > (w.width-from)/2 {
				cut, cutX = good, goodX
			}
			emit(cut, cutX-from)
			w.endLine(a.style)
			x, from, good = x-cutX, 0, -1
		}
		if x == 0 && adv > w.width {
			if w.err == nil {
				w.err = &WidthError{Text: w.source, Width: w.width, Needed: adv}
			}
			return
		}
		x += adv
		if strings.ContainsRune("-/–_.@,&=:;", r) {
			good, goodX = i+len(string(r)), x
		}
	}
	emit(len(a.text), x-from)
}

func (w *wrapper) endLine(s Style) {
	l := w.cur
	below := 0.0
	if len(l.atoms) == 0 {
		l.height = s.Leading
	}
	for _, a := range l.atoms {
		l.height = max(l.height, a.style.Leading)
	}
	measure := func(s Style) {
		half := (s.Leading - extent*s.Size) / 2
		l.baseline = max(l.baseline, half+ascent*s.Size)
		below = max(below, s.Leading-half-ascent*s.Size)
	}
	for _, a := range l.atoms {
		measure(a.style)
	}
	if len(l.atoms) == 0 {
		measure(s)
	}
	l.height = max(l.height, l.baseline+below)
	w.lines = append(w.lines, l)
	w.cur, w.space = line{}, nil
}

// sumHeight is the height of a run of lines.
func sumHeight(lines []line) (h float64) {
	for _, l := range lines {
		h += l.height
	}
	return h
}
