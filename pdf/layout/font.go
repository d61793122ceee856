package layout

import (
	"fmt"
	"strings"
	"sync"
	"unicode"

	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansbold"
	"github.com/go-fonts/dejavu/dejavusansmono"
	"github.com/go-fonts/dejavu/dejavusansoblique"
	"github.com/go-fonts/liberation/liberationmonoregular"
	"github.com/go-fonts/liberation/liberationsansbold"
	"github.com/go-fonts/liberation/liberationsansitalic"
	"github.com/go-fonts/liberation/liberationsansregular"
	"github.com/signintech/gopdf"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// Face is one cut of the text type. Its figures are tabular.
type Face uint8

const (
	Regular Face = iota
	Bold
	Italic
	Mono
	faces
)

// Replacement is the sign that [Printable] puts for a rune that cannot be
// printed.
const Replacement = '□'

// typeface is one font file: its advances by rune, and its name in a PDF.
// It is read-only after loading, so all documents share it.
type typeface struct {
	family   string
	advances []uint16 // thousandths of the size by rune; absent = no glyph
}

const absent = 0xffff

// The subset tag before the name is what ISO 32000-1, 9.6.4 asks for.
var fontFiles = []struct {
	family string
	ttf    []byte
}{
	{"GBTEXT+LiberationSans", liberationsansregular.TTF},
	{"GBTEXT+LiberationSans-Bold", liberationsansbold.TTF},
	{"GBTEXT+LiberationSans-Italic", liberationsansitalic.TTF},
	{"GBTEXT+LiberationMono", liberationmonoregular.TTF},
	{"GBSIGN+DejaVuSans", dejavusans.TTF},
	{"GBSIGN+DejaVuSans-Bold", dejavusansbold.TTF},
	{"GBSIGN+DejaVuSans-Oblique", dejavusansoblique.TTF},
	{"GBSIGN+DejaVuSansMono", dejavusansmono.TTF},
}

type fonts struct {
	text, signs [faces]*typeface
	container   gopdf.FontContainer
}

// fontSet is parsed once for the process. A font file that came through go.mod
// and does not parse is a broken build, so loading panics.
var fontSet = sync.OnceValue(func() *fonts {
	s := new(fonts)
	for i, f := range fontFiles {
		t, err := loadTypeface(f.family, f.ttf)
		if err == nil {
			err = s.container.AddTTFFontData(f.family, f.ttf)
		}
		if err != nil {
			panic(fmt.Sprintf("layout: font %s: %v", f.family, err))
		}
		if i < int(faces) {
			s.text[i] = t
		} else {
			s.signs[i-int(faces)] = t
		}
	}
	return s
})

func loadTypeface(family string, ttf []byte) (*typeface, error) {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, err
	}
	t := &typeface{family: family, advances: make([]uint16, 0x10000)}
	var buf sfnt.Buffer
	em := int(f.UnitsPerEm())
	for r := range t.advances {
		t.advances[r] = absent
		if !shapeable(rune(r)) {
			continue
		}
		g, err := f.GlyphIndex(&buf, rune(r))
		if err != nil || g == 0 {
			continue
		}
		a, err := f.GlyphAdvance(&buf, g, fixed.I(em), font.HintingNone)
		if err != nil {
			return nil, fmt.Errorf("advance of %U: %w", r, err)
		}
		// The PDF holds whole thousandths, rounded down.
		t.advances[r] = uint16(a.Floor() * 1000 / em)
	}
	return t, nil
}

// shapeable tells whether a rune prints rightly when glyphs are simply set
// from left to right. A font may hold Arabic or Hebrew letters and they would
// still come out in the wrong form and order, which is worse than a refusal.
// Runes above U+FFFF are left out: gopdf writes them wrongly into the table
// that text is copied out by.
func shapeable(r rune) bool {
	switch {
	case r < 0x20, r >= 0x7f && r < 0xa0: // controls
		return false
	case r >= 0x0590 && r <= 0x109f: // Hebrew to Myanmar: right-to-left and Indic
		return false
	case r >= 0x1100 && r <= 0x11ff, r >= 0x1700 && r <= 0x18af, r >= 0x1900 && r <= 0x1cff:
		return false
	case r >= 0xa800 && r <= 0xabff, r >= 0xd800 && r <= 0xf8ff: // Indic, surrogates, private use
		return false
	case r >= 0xfb1d && r <= 0xfdff, r >= 0xfe70 && r <= 0xfeff: // presentation forms
		return false
	case r > 0xffff, r == unicode.ReplacementChar:
		return false
	}
	return true
}

// faceFor finds the font that holds a rune: the text face, else its fallback,
// else nil.
func faceFor(f Face, r rune) *typeface {
	set := fontSet()
	if f >= faces {
		f = Regular
	}
	if t := set.text[f]; t.has(r) {
		return t
	}
	if t := set.signs[f]; t.has(r) {
		return t
	}
	// The regular signs cover more than the bold and slanted ones.
	if t := set.signs[Regular]; t.has(r) {
		return t
	}
	return nil
}

func (t *typeface) has(r rune) bool {
	return r >= 0 && r < 0x10000 && t.advances[r] != absent
}

// width is the length of a text that the typeface holds, in thousandths of
// the size.
func (t *typeface) width(text string) (w int) {
	for _, r := range text {
		w += int(t.advances[r])
	}
	return w
}

// clean brings text to the form that is set: composed letters (NFC), one kind
// of line end, and none of the marks that have no shape of their own.
func clean(text string) string {
	plain := true
	for i := 0; i < len(text); i++ {
		if c := text[i]; c >= 0x80 || c == '\r' || c == '\t' {
			plain = false
			break
		}
	}
	if plain {
		return text
	}
	text = strings.ReplaceAll(text, "\r\n", "\n")
	text = norm.NFC.String(strings.ToValidUTF8(text, string(unicode.ReplacementChar)))
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\r', r == '\u2028', r == '\u2029', r == '\u0085':
			return '\n'
		case r == '\t':
			return ' '
		case r == '\u00ad', r == '\u200b', r == '\u200c', r == '\u200d', r == '\u200e', r == '\u200f',
			r == '\u2060', r == '\ufeff', r >= '\u202a' && r <= '\u202e', r >= '\u2066' && r <= '\u2069',
			r >= '\ufe00' && r <= '\ufe0f':
			return -1
		}
		return r
	}, text)
}

// Printable returns the text with every rune that no font can print rightly
// (and every byte that is not UTF-8) replaced by [Replacement], and those
// runes in the order met. Use it for names and notes that people type, and
// say on the page that signs were replaced; anything else that does not print
// makes [Document.Bytes] fail.
func Printable(text string) (printable string, replaced []rune) {
	printable = strings.Map(func(r rune) rune {
		if r == '\n' || faceFor(Regular, r) != nil {
			return r
		}
		replaced = append(replaced, r)
		return Replacement
	}, clean(text))
	return printable, replaced
}
