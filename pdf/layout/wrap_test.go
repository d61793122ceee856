package layout

import (
	"errors"
	"strings"
	"testing"
	"unicode"
)

// FuzzWrap sets any text in any width: it ends, no line is wider than the
// width, and nothing is lost or put in but white space.
func FuzzWrap(f *testing.F) {
	f.Add("some plain words", "and bold-ones/too", 60.0, 9.5)
	f.Add("Łódź ✓ ≤ a\u0301\u0302 \u00a0x", "\n\n", 12.0, 9.0)
	f.Add("aaaaaaaaaaaa-bbbbbbbbb", "ccccc", 20.5, 8.0)
	f.Add("a\u0301\u0301\u0301", "", 5.0, 9.0)
	f.Add("x", "y", -4.0, 0.0)
	f.Fuzz(func(t *testing.T, a, b string, width, size float64) {
		a, _ = Printable(a)
		b, _ = Printable(b)
		if size > 1000 || width > 1e5 {
			return
		}
		s := Style{Size: size}
		lines, err := wrap([]Span{{Text: a, Style: s}, {Text: b, Style: Strong, Mark: Missing}}, width,
			func(r rune, text string) { t.Errorf("%U of %q is missing", r, text) })
		var narrow *WidthError
		if errors.As(err, &narrow) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		var got strings.Builder
		for _, l := range lines {
			sum, hanging := 0.0, false
			for _, a := range l.atoms {
				sum += a.width
				for _, r := range a.text { // marks may stand over the edge with their letter
					hanging = hanging || unicode.Is(unicode.Mn, r)
				}
				hanging = hanging || a.mark != 0
				got.WriteString(a.text)
			}
			if d := sum - l.width; d > 1e-3 || d < -1e-3 {
				t.Errorf("line of %v pt says %v", sum, l.width)
			}
			if len(l.atoms) > 0 && l.width > width+1e-3 && !hanging {
				t.Errorf("line %q is %v pt wide in %v", l.atoms[0].text, l.width, width)
			}
			if !(l.height > 0 && l.baseline > 0 && l.baseline < l.height) {
				t.Errorf("line %v pt high with its baseline at %v", l.height, l.baseline)
			}
		}
		squeeze := func(s string) string {
			return strings.Join(strings.FieldsFunc(s, func(r rune) bool {
				return r == ' ' || r == '\n' || r == '\u00a0'
			}), "")
		}
		if w := squeeze(a + b); squeeze(got.String()) != w {
			t.Errorf("%q became %q", w, squeeze(got.String()))
		}
	})
}
