package layout_test

import (
	"math"
	"path/filepath"
	"testing"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
)

func TestLandscape(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{Landscape: true, Footer: layout.Footer("foot")})
	table := layout.Table{Columns: []layout.Column{{Head: "A", Weight: 1}, {Head: "B", Weight: 1}}}
	for range 60 {
		table.Rows = append(table.Rows, layout.TextRow("left", "right"))
	}
	d.Table(table)
	const width = layout.PageHeight - layout.MarginLeft - layout.MarginRight
	if got := d.Width(); math.Abs(got-width) > 1e-6 {
		t.Errorf("%v pt wide, want %v", got, width)
	}
	boxes := pdftest.Pages(t, pdftest.Check(t, mustBytes(t, d)))
	if len(boxes) < 3 {
		t.Fatalf("60 rows on %d pages", len(boxes))
	}
	for i, p := range boxes {
		if p.Width < 841 || p.Height > 596 {
			t.Errorf("page %d is %v by %v pt", i+1, p.Width, p.Height)
		}
		for _, w := range p.Words {
			if w.XMax > p.Width || w.YMax > p.Height-8*layout.MM {
				t.Errorf("page %d: %q at (%v, %v)", i+1, w.Text, w.XMax, w.YMax)
			}
		}
	}
}

// TestNoRules: without rules a table is nothing but its text.
func TestNoRules(t *testing.T) {
	t.Parallel()
	ink := func(noRules bool) int {
		d := layout.New(layout.Options{})
		d.Table(layout.Table{NoRules: noRules, Columns: []layout.Column{{Weight: 1}},
			Rows: []layout.Row{layout.TextRow(" "), layout.TextRow(" ")}})
		out := filepath.Join(t.TempDir(), "page")
		pdftest.Run(t, "pdftoppm", "-r", "72", "-gray", "-singlefile", pdftest.Check(t, mustBytes(t, d)), out)
		dots := readFile(t, out+".pgm")
		n := 0
		for _, v := range []byte(dots[len(dots)-595*842:]) { // what is left of the head is white too
			if v < 250 {
				n++
			}
		}
		return n
	}
	if n := ink(true); n != 0 {
		t.Errorf("%d dots of ink under rows without rules", n)
	}
	if ink(false) == 0 {
		t.Error("no rules where they are wanted")
	}
}
