package servertest

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// PDFParts lists the images and the text of a PDF as an independent reader,
// Poppler, finds them.
func PDFParts(tb testing.TB, file string) (images, text string) {
	tb.Helper()
	name := filepath.Join(tb.TempDir(), "paper.pdf")
	if err := os.WriteFile(name, []byte(file), 0o600); err != nil {
		tb.Fatal(err)
	}
	run := func(program string, args ...string) string {
		out, err := exec.Command(program, args...).Output()
		if err != nil {
			tb.Fatalf("%s, of poppler-utils: %v", program, err)
		}
		return string(out)
	}
	return run("pdfimages", "-list", name), run("pdftotext", "-layout", name, "-")
}

// Words reads the words of an answer that is a PDF.
func (p Page) Words(tb testing.TB) string {
	tb.Helper()
	if p.Status != http.StatusOK || p.Header.Get("Content-Type") != "application/pdf" {
		tb.Fatalf("status %d, %s", p.Status, Clip(p.Body))
	}
	_, text := PDFParts(tb, p.Body)
	return strings.Join(strings.Fields(text), " ")
}

// Says reports words that a paper does not say.
func Says(tb testing.TB, paper string, words ...string) {
	tb.Helper()
	for _, w := range words {
		if !strings.Contains(paper, w) {
			tb.Errorf("the paper does not say %q:\n%s", w, Clip(paper))
		}
	}
}
