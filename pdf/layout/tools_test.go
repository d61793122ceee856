package layout_test

import (
	"os"
	"testing"
	"time"

	"github.com/go-fonts/liberation/liberationsansregular"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
)

// mustBytes draws a document.
func mustBytes(tb testing.TB, d *layout.Document) []byte {
	tb.Helper()
	b, err := d.Bytes()
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// checkMargins fails for any word in the filing margin or off the page.
func checkMargins(tb testing.TB, path string) {
	tb.Helper()
	n := 0
	for i, p := range pdftest.Pages(tb, path) {
		for _, w := range p.Words {
			n++
			if w.XMin < 20*layout.MM || w.XMax > p.Width-8*layout.MM || w.YMin < 8*layout.MM ||
				w.YMax > p.Height-8*layout.MM {
				tb.Errorf("page %d: %q at (%.1f, %.1f)-(%.1f, %.1f)", i+1, w.Text, w.XMin, w.YMin, w.XMax, w.YMax)
			}
		}
	}
	if n == 0 {
		tb.Error("no words at all")
	}
}

func readFile(tb testing.TB, path string) string {
	tb.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		tb.Fatal(err)
	}
	return string(b)
}

var liberation = liberationsansregular.TTF

func seconds(f func()) float64 {
	start := time.Now()
	f()
	return time.Since(start).Seconds()
}
