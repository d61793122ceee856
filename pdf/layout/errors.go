package layout

import (
	"fmt"
	"strings"
)

// MissingGlyph is one rune that no font holds, with the first text it was
// met in.
type MissingGlyph struct {
	Rune rune
	Text string
}

// MissingGlyphError reports every rune of a document that cannot be printed.
// Pass such text through [Printable] to print a visible replacement.
type MissingGlyphError struct{ Missing []MissingGlyph }

func (e *MissingGlyphError) Error() string {
	var b strings.Builder
	b.WriteString("layout: no font can print ")
	for i, m := range e.Missing {
		if i == 5 {
			fmt.Fprintf(&b, " and %d more", len(e.Missing)-i)
			break
		}
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprintf(&b, "%U %q in %q", m.Rune, m.Rune, shorten(m.Text))
	}
	return b.String()
}

// WidthError reports a text that does not fit because not even its widest
// letter does.
type WidthError struct {
	Text          string
	Width, Needed float64 // points
}

func (e *WidthError) Error() string {
	return fmt.Sprintf("layout: %.1f pt is too narrow for %q: at least %.1f pt is needed",
		e.Width, shorten(e.Text), e.Needed)
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
