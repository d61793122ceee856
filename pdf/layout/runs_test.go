package layout_test

import (
	"fmt"
	"strings"
	"testing"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
)

// TestRuns fills two runs a page and reads the words back where they stand.
func TestRuns(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{})
	d.Paragraph(layout.Body, "ABOVE")
	d.Runs(2, 20, func() {
		for i := range 150 {
			d.Paragraph(layout.Body, fmt.Sprintf("line%03d", i))
		}
		d.Table(layout.Table{Columns: []layout.Column{{Head: "Left", Weight: 1}, {Head: "Right", Weight: 1}},
			Rows: []layout.Row{layout.TextRow("cellA", "cellB")}})
	})
	d.Paragraph(layout.Body, "BELOW")
	path := pdftest.Check(t, mustBytes(t, d))
	checkMargins(t, path)
	pages := pdftest.Pages(t, path)
	if len(pages) != 2 {
		t.Fatalf("%d pages, want 2", len(pages))
	}
	lowest, below := 0.0, 0.0
	last, lastX, lastY, turns := "", 0.0, 0.0, 0
	for _, p := range pages {
		for _, w := range p.Words {
			if w.Text == "BELOW" {
				below = w.YMin
			} else if strings.HasPrefix(w.Text, "cell") && w.YMax > lowest {
				lowest = w.YMax
			}
			if !strings.HasPrefix(w.Text, "line") {
				continue
			}
			if last != "" && w.Text <= last {
				t.Errorf("%s comes after %s", w.Text, last)
			}
			if w.XMin > lastX+1 && last != "" {
				turns++
				if w.YMin > lastY {
					t.Errorf("the second run starts with %s, below the end of the first", w.Text)
				}
			}
			last, lastX, lastY = w.Text, w.XMin, w.YMin
		}
	}
	if last != "line149" || turns < 1 {
		t.Errorf("the last line is %s, %d runs at the right", last, turns)
	}
	if below < lowest {
		t.Errorf("what follows the runs stands at %.0f, the runs end at %.0f", below, lowest)
	}
	nested := layout.New(layout.Options{})
	nested.Runs(2, 10, func() { nested.Runs(2, 10, func() {}) })
	if _, err := nested.Bytes(); err == nil {
		t.Error("runs within runs are let through")
	}
}

func TestFits(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{})
	if d.Fits(func() { d.Paragraph(layout.Body, strings.Repeat("TALL\n", 100)) }) || d.Page() != 1 || !d.AtTop() {
		t.Error("a block of two pages fits on one")
	}
	if !d.Fits(func() { d.Paragraph(layout.Body, "SHORT") }) {
		t.Error("a line does not fit on a page")
	}
	if text := pdftest.Words(t, pdftest.Check(t, mustBytes(t, d))); text != "SHORT" {
		t.Errorf("the page reads %q", text)
	}
}
