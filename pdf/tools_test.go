package pdf_test

import (
	"crypto/sha256"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
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

// saved is the folder of the files that were looked at, each under the hash of
// its bytes, so that the same file is checked and read back once however many
// tests ask.
var saved string

func TestMain(m *testing.M) {
	flag.Parse()
	var err error
	if saved, err = os.MkdirTemp("", "gaugebook-pdf-"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := m.Run()
	os.RemoveAll(saved)
	os.Exit(code)
}

// outputs holds what the tools said, by command line; a file never changes
// under its name.
var outputs sync.Map

// ask runs a tool on a saved file, once for each command line.
func ask(tb testing.TB, name string, args ...string) string {
	tb.Helper()
	key := name + "\x00" + strings.Join(args, "\x00")
	if out, ok := outputs.Load(key); ok {
		return out.(string)
	}
	out := run(tb, name, args...)
	outputs.Store(key, out)
	return out
}

// save writes a file and has qpdf look for faults in it.
func save(tb testing.TB, pdf []byte) string {
	tb.Helper()
	path := filepath.Join(saved, fmt.Sprintf("%x.pdf", sha256.Sum256(pdf)))
	if _, err := os.Stat(path); err != nil {
		part, err := os.CreateTemp(saved, "part-")
		if err != nil {
			tb.Fatal(err)
		}
		_, err = part.Write(pdf)
		if err = errors.Join(err, part.Close(), os.Rename(part.Name(), path)); err != nil {
			tb.Fatal(err)
		}
	}
	if out := ask(tb, "qpdf", "--check", path); !strings.Contains(out, "No syntax or stream encoding errors") {
		tb.Fatalf("qpdf: %s", out)
	}
	return path
}

// words reads the text back with poppler, white space folded.
func words(tb testing.TB, path string, args ...string) string {
	tb.Helper()
	return strings.Join(strings.Fields(ask(tb, "pdftotext", append(args, path, "-")...)), " ")
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
	if err := xml.Unmarshal([]byte(ask(tb, "pdftotext", "-bbox", path, "-")), &doc); err != nil {
		tb.Fatal(err)
	}
	if len(doc.Pages) == 0 {
		tb.Fatal("pdftotext -bbox gave no pages")
	}
	return doc.Pages
}

func itoa(n int) string { return strconv.Itoa(n) }

// raster is a page in grey, a byte a dot.
type raster struct {
	w, h int
	dots []byte
}

// rasters draws every page with poppler.
func rasters(tb testing.TB, path string, dpi int) []raster {
	tb.Helper()
	prefix := filepath.Join(tb.TempDir(), "p")
	run(tb, "pdftoppm", "-r", itoa(dpi), "-gray", path, prefix)
	files, err := filepath.Glob(prefix + "*.pgm")
	if err != nil || len(files) == 0 {
		tb.Fatalf("page images: %v, %v", files, err)
	}
	var out []raster
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			tb.Fatal(err)
		}
		var r raster
		var most int
		if _, err := fmt.Sscanf(string(data[:min(len(data), 40)]), "P5\n%d %d\n%d", &r.w, &r.h, &most); err != nil ||
			len(data) < r.w*r.h {
			tb.Fatalf("%s is no grey picture: %v", name, err)
		}
		r.dots = data[len(data)-r.w*r.h:]
		out = append(out, r)
	}
	return out
}

// inkAtEdge counts the dots that are not white within a width of the edge.
func (r raster) inkAtEdge(width float64) (n int) {
	m := int(width)
	for i, v := range r.dots {
		x, y := i%r.w, i/r.w
		if v < 250 && (x < m || y < m || x >= r.w-m || y >= r.h-m) {
			n++
		}
	}
	return n
}
