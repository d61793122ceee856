package servertest

import (
	"crypto/ed25519"
	"net/http"
	"strings"
	"testing"

	"gaugebook/pdf/pdftest"
	"gaugebook/records"
)

// Blank stands for the print of a record where a test is about anything else:
// with the race detector a real one takes seconds.
func Blank(doc records.Document, _ ed25519.PrivateKey) ([]byte, error) {
	return []byte("%PDF-1.7 " + doc.Number), nil
}

// PDFParts lists the images and the text of a PDF.
func PDFParts(tb testing.TB, file string) (images, text string) {
	tb.Helper()
	path := pdftest.Write(tb, "paper.pdf", []byte(file))
	return pdftest.Run(tb, "pdfimages", "-list", path), pdftest.Text(tb, path, "-layout")
}

// Words reads the words of an answer that is a PDF.
func (p Page) Words(tb testing.TB) string {
	tb.Helper()
	if p.Status != http.StatusOK || p.Header.Get("Content-Type") != "application/pdf" {
		tb.Fatalf("status %d, %s", p.Status, Clip(p.Body))
	}
	return pdftest.Words(tb, pdftest.Write(tb, "paper.pdf", []byte(p.Body)), "-layout")
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
