package pdf_test

import (
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"gaugebook/pdf/pdftest"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
)

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
	out := pdftest.Run(tb, name, args...)
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

// pages gives the words of every page with their places.
func pages(tb testing.TB, path string) []pdftest.Page {
	tb.Helper()
	return pdftest.PagesIn(tb, ask(tb, "pdftotext", "-bbox", path, "-"))
}

func itoa(n int) string { return strconv.Itoa(n) }
