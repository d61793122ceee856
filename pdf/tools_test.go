package pdf_test

import (
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
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

// save writes a file and has qpdf look for faults in it.
func save(tb testing.TB, pdf []byte) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "record.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		tb.Fatal(err)
	}
	if out := run(tb, "qpdf", "--check", path); !strings.Contains(out, "No syntax or stream encoding errors") {
		tb.Fatalf("qpdf: %s", out)
	}
	return path
}

// words reads the text back with poppler, white space folded.
func words(tb testing.TB, path string, args ...string) string {
	tb.Helper()
	return strings.Join(strings.Fields(run(tb, "pdftotext", append(args, path, "-")...)), " ")
}

type page struct {
	Width  float64 `xml:"width,attr"`
	Height float64 `xml:"height,attr"`
	Words  []struct {
		XMin float64 `xml:"xMin,attr"`
		YMin float64 `xml:"yMin,attr"`
		XMax float64 `xml:"xMax,attr"`
		YMax float64 `xml:"yMax,attr"`
		Text string  `xml:",chardata"`
	} `xml:"word"`
}

// pages gives the words of every page with their places.
func pages(tb testing.TB, path string) []page {
	tb.Helper()
	var doc struct {
		Pages []page `xml:"body>doc>page"`
	}
	if err := xml.Unmarshal([]byte(run(tb, "pdftotext", "-bbox", path, "-")), &doc); err != nil {
		tb.Fatal(err)
	}
	if len(doc.Pages) == 0 {
		tb.Fatal("pdftotext -bbox gave no pages")
	}
	return doc.Pages
}
