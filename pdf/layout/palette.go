package layout

// Colour is 0xRRGGBB. The zero value means "none" for a fill or a pen and
// [Ink] for text; true black is [Black].
type Colour uint32

// The palette. Every text colour keeps a contrast of at least 4.5:1 on
// [White], [Paper] and [Mist] (WCAG 2.2, success criterion 1.4.3).
const (
	Black  Colour = 0x000001 // for codes read by machines
	Ink    Colour = 0x1d2433 // text
	Slate  Colour = 0x545b69 // labels, captions, footers
	Copper Colour = 0x8f4719 // the accent: rare, and never alone
	Grey   Colour = 0x9aa0ab // strokes of figures only, never text
	Hair   Colour = 0xc6c9d0 // hairline rules
	Mist   Colour = 0xf4f5f7 // cool tint: zebra rows
	Paper  Colour = 0xf8f4ee // warm tint: boxes
	White  Colour = 0xffffff
)

func (c Colour) rgb() (r, g, b uint8) { return uint8(c >> 16), uint8(c >> 8), uint8(c) }

// Lengths are points (1/72 inch) throughout; MM is one millimetre in points.
const MM = 72 / 25.4

// HairWidth is the width of a hairline rule in points.
const HairWidth = 0.5

// Align places text in its width.
type Align uint8

const (
	Left Align = iota
	Right
	Centre
)

// Style is how text looks. Zero fields take the value of [Body]; a zero
// Leading is 1.38 times the size.
type Style struct {
	Face    Face
	Size    float64 // points
	Leading float64 // distance between baselines, points
	Colour  Colour
	Align   Align
}

// The type scale.
var (
	Title    = Style{Face: Bold, Size: 21, Leading: 26}
	Heading1 = Style{Face: Bold, Size: 12.5, Leading: 17}
	Heading2 = Style{Face: Bold, Size: 10, Leading: 14}
	Heading3 = Style{Face: Bold, Size: 8.7, Leading: 11}
	Lead     = Style{Size: 11, Leading: 16.5}
	Body     = Style{Size: 9.5, Leading: 13.5}
	Strong   = Style{Face: Bold, Size: 9.5, Leading: 13.5}
	Small    = Style{Size: 8, Leading: 11, Colour: Slate}
	Label    = Style{Size: 8, Leading: 13.5, Colour: Slate}
	Head     = Style{Face: Bold, Size: 8, Leading: 11, Colour: Slate}
	Code     = Style{Face: Mono, Size: 8.5, Leading: 12.5}
)

// Aligned returns the style with another alignment.
func (s Style) Aligned(a Align) Style { s.Align = a; return s }

// Coloured returns the style in another colour.
func (s Style) Coloured(c Colour) Style { s.Colour = c; return s }

// filled completes a style.
func (s Style) filled() Style {
	if s.Size <= 0 {
		s.Size = Body.Size
	}
	if s.Leading <= 0 {
		s.Leading = 1.38 * s.Size
	}
	if s.Colour == 0 {
		s.Colour = Ink
	}
	return s
}
