package layout

import (
	"math"
	"testing"

	"github.com/signintech/gopdf"
)

// TestFontsAgree holds the glyphs and advances read by x/image against those
// that gopdf draws with: where they differ, text would be cut or vanish.
func TestFontsAgree(t *testing.T) {
	t.Parallel()
	set := fontSet()
	for _, f := range append(set.text[:], set.signs[:]...) {
		var p gopdf.GoPdf
		p.Start(gopdf.Config{PageSize: *gopdf.PageSizeA4})
		if err := p.AddTTFFontFromFontContainer(f.family, &set.container); err != nil {
			t.Fatal(err)
		}
		p.AddPage()
		if err := p.SetFont(f.family, "", 1000); err != nil {
			t.Fatal(err)
		}
		n := 0
		for r := rune(0x20); r < 0xfffe; r++ {
			if !f.has(r) {
				continue
			}
			n++
			if ok, err := p.IsCurrFontContainGlyph(r); err != nil || !ok {
				t.Fatalf("%s: gopdf has no %U: %v", f.family, r, err)
			}
			w, err := p.MeasureTextWidth(string(r))
			if err != nil || math.Abs(w-float64(f.advances[r])) > 0.01 {
				t.Fatalf("%s %U: %v by gopdf, %d here (%v)", f.family, r, w, f.advances[r], err)
			}
		}
		if n < 600 {
			t.Errorf("%s: %d glyphs only", f.family, n)
		}
	}
	for d := '0'; d <= '9'; d++ {
		for f := range set.text {
			if set.text[f].advances[d] != set.text[f].advances['0'] {
				t.Errorf("figure %c of face %d is not as wide as 0", d, f)
			}
		}
	}
}
