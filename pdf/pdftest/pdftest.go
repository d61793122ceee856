// Package pdftest reads PDFs back in tests with tools that are independent of
// this project: Poppler's, qpdf and zbarimg. One that is not there fails the test.
package pdftest

import (
	"encoding/xml"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TB is what a test, a benchmark and a property test have in common.
type TB interface {
	Helper()
	Fatalf(format string, args ...any)
}

// Run runs a tool and returns what it printed.
func Run(tb TB, name string, args ...string) string {
	tb.Helper()
	var out, said strings.Builder
	cmd := exec.Command(name, args...)
	cmd.Stdout, cmd.Stderr = &out, &said
	if err := cmd.Run(); err != nil {
		tb.Fatalf("%s %v: %v\n%s%s", name, args, err, out.String(), said.String())
	}
	return out.String()
}

// Write writes a file in a directory of the test and returns its path.
func Write(tb testing.TB, name string, data []byte) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}

// Check writes a PDF, has qpdf look for faults in it and returns its path.
func Check(tb testing.TB, pdf []byte) string {
	tb.Helper()
	path := Write(tb, "paper.pdf", pdf)
	CheckFile(tb, path)
	return path
}

// CheckFile has qpdf look for faults in a PDF.
func CheckFile(tb TB, path string) {
	tb.Helper()
	if out := Run(tb, "qpdf", "--check", path); !strings.Contains(out, "No syntax or stream encoding errors") {
		tb.Fatalf("qpdf: %s", out)
	}
}

// Text reads the text of a PDF, as the options of pdftotext say.
func Text(tb TB, path string, options ...string) string {
	tb.Helper()
	return Run(tb, "pdftotext", append(options, path, "-")...)
}

// Words is Text with the white space folded.
func Words(tb TB, path string, options ...string) string {
	tb.Helper()
	return strings.Join(strings.Fields(Text(tb, path, options...)), " ")
}

// Word is a word and its place on the page, in points from the upper left.
type Word struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

// Page is the size of a page in points, and its words.
type Page struct {
	Width  float64 `xml:"width,attr"`
	Height float64 `xml:"height,attr"`
	Words  []Word  `xml:"word"`
}

// Pages returns the words of every page with their places.
func Pages(tb TB, path string) []Page {
	tb.Helper()
	return PagesIn(tb, Text(tb, path, "-bbox"))
}

// PagesIn is Pages of what pdftotext -bbox printed.
func PagesIn(tb TB, printed string) []Page {
	tb.Helper()
	var doc struct {
		Pages []Page `xml:"body>doc>page"`
	}
	if err := xml.Unmarshal([]byte(printed), &doc); err != nil || len(doc.Pages) == 0 {
		tb.Fatalf("pdftotext -bbox gave %d pages: %v", len(doc.Pages), err)
	}
	return doc.Pages
}

// Images counts the images in a PDF.
func Images(tb TB, path string) int {
	tb.Helper()
	return max(0, strings.Count(strings.TrimSpace(Run(tb, "pdfimages", "-list", path)), "\n")-1)
}

// Attachment returns a file that a PDF holds.
func Attachment(tb testing.TB, path, name string) []byte {
	tb.Helper()
	out := filepath.Join(tb.TempDir(), name)
	Run(tb, "pdfdetach", "-savefile", name, "-o", out, path)
	data, err := os.ReadFile(out)
	if err != nil {
		tb.Fatal(err)
	}
	return data
}

// Drawn has Poppler draw the pages as the options of pdftoppm say, and returns
// the files.
func Drawn(tb testing.TB, path string, options ...string) []string {
	tb.Helper()
	prefix := filepath.Join(tb.TempDir(), "p")
	Run(tb, "pdftoppm", append(options, path, prefix)...)
	files, err := filepath.Glob(prefix + "*")
	if err != nil || len(files) == 0 {
		tb.Fatalf("page images: %v, %v", files, err)
	}
	return files
}

// Codes reads the QR codes in the image of a page.
func Codes(tb TB, image string) []string {
	tb.Helper()
	out, err := exec.Command("zbarimg", "-q", "--raw", "-Sdisable", "-Sqrcode.enable", image).Output()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != 4) { // 4: nothing found
		tb.Fatalf("zbarimg: %v", err)
	}
	return strings.Fields(string(out))
}

// Raster is a page in grey, a byte a dot.
type Raster struct {
	W, H int
	Dots []byte
}

// Rasters draws every page in grey.
func Rasters(tb testing.TB, path string, dpi int) []Raster {
	tb.Helper()
	var out []Raster
	for _, name := range Drawn(tb, path, "-r", fmt.Sprint(dpi), "-gray") {
		data, err := os.ReadFile(name)
		if err != nil {
			tb.Fatal(err)
		}
		var r Raster
		var most int
		if _, err := fmt.Sscanf(string(data[:min(len(data), 40)]), "P5\n%d %d\n%d", &r.W, &r.H, &most); err != nil ||
			len(data) < r.W*r.H {
			tb.Fatalf("%s is no grey picture: %v", name, err)
		}
		r.Dots = data[len(data)-r.W*r.H:]
		out = append(out, r)
	}
	return out
}

// InkAtEdge counts the dots that are not white within a width of the edge.
func (r Raster) InkAtEdge(width float64) (n int) {
	m := int(width)
	for i, v := range r.Dots {
		x, y := i%r.W, i/r.W
		if v < 250 && (x < m || y < m || x >= r.W-m || y >= r.H-m) {
			n++
		}
	}
	return n
}
