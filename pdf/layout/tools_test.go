package layout_test

import (
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/go-fonts/liberation/liberationsansregular"

	"gaugebook/pdf/layout"
)

// run runs an independent tool; a tool that is not there fails the test.
func run(tb testing.TB, name string, args ...string) string {
	tb.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		tb.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
	return string(out)
}

func writeFile(tb testing.TB, name string, data []byte) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}

// mustBytes draws a document and has qpdf look for faults in it.
func mustBytes(tb testing.TB, d *layout.Document) []byte {
	tb.Helper()
	b, err := d.Bytes()
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

func check(tb testing.TB, pdf []byte) string {
	tb.Helper()
	path := writeFile(tb, "d.pdf", pdf)
	if out := run(tb, "qpdf", "--check", path); !strings.Contains(out, "No syntax or stream encoding errors") {
		tb.Fatalf("qpdf: %s", out)
	}
	return path
}

// words reads the text back with poppler, white space folded.
func words(tb testing.TB, path string, args ...string) string {
	tb.Helper()
	out := run(tb, "pdftotext", append(args, path, "-")...)
	if strings.Contains(out, "Syntax") {
		tb.Fatalf("pdftotext: %.300s", out)
	}
	return strings.Join(strings.Fields(out), " ")
}

type bboxWord struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

type bboxPage struct {
	Width  float64    `xml:"width,attr"`
	Height float64    `xml:"height,attr"`
	Words  []bboxWord `xml:"word"`
}

// bboxes gives the place of every word on every page.
func bboxes(tb testing.TB, path string) []bboxPage {
	tb.Helper()
	var doc struct {
		Pages []bboxPage `xml:"body>doc>page"`
	}
	out := run(tb, "pdftotext", "-bbox", path, "-")
	if err := xml.Unmarshal([]byte(out), &doc); err != nil {
		tb.Fatal(err)
	}
	if len(doc.Pages) == 0 {
		tb.Fatal("pdftotext -bbox gave no pages")
	}
	return doc.Pages
}

// checkMargins fails for any word in the filing margin or off the page.
func checkMargins(tb testing.TB, path string) {
	tb.Helper()
	n := 0
	for i, p := range bboxes(tb, path) {
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

// runMaybe runs a tool that tells by its exit code that it found nothing.
func runMaybe(name string, args ...string) (string, error) {
	out, err := exec.Command(name, args...).Output()
	return string(out), err
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
