package pdf_test

import (
	"html"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/go-fonts/liberation/liberationsansregular"
	"github.com/signintech/gopdf"

	"gaugebook/pdf"
	"gaugebook/pdf/pdftest"
)

// plainLines draws lines of text with bare gopdf, sixty to a page.
func plainLines(tb testing.TB, lines []string) {
	tb.Helper()
	var p gopdf.GoPdf
	p.Start(gopdf.Config{PageSize: *gopdf.PageSizeA4})
	if err := p.AddTTFFontData("t", liberationsansregular.TTF); err != nil {
		tb.Fatal(err)
	}
	for i, l := range lines {
		if i%60 == 0 {
			p.AddPage()
			if err := p.SetFont("t", "", 9); err != nil {
				tb.Fatal(err)
			}
		}
		p.SetXY(50, 40+12*float64(i%60))
		if err := p.Text(l); err != nil {
			tb.Fatal(err)
		}
	}
	if _, err := p.GetBytesPdfReturnErr(); err != nil {
		tb.Fatal(err)
	}
}

// BenchmarkRender prints the sample record and, beside it, the same lines of
// text with bare gopdf; the ratio is what to compare.
func BenchmarkRender(b *testing.B) {
	doc := sample(b)
	file := render(b, doc)
	lines := strings.Split(strings.TrimSpace(pdftest.Run(b, "pdftotext", "-layout", save(b, file), "-")), "\n")
	plainLines(b, lines)
	var ours, plain time.Duration
	for b.Loop() {
		start := time.Now()
		if _, err := pdf.RenderSealed(doc, firmKey); err != nil {
			b.Fatal(err)
		}
		half := time.Now()
		plainLines(b, lines)
		ours += half.Sub(start)
		plain += time.Since(half)
	}
	b.ReportMetric(ours.Seconds()/plain.Seconds(), "×plain")
	b.ReportMetric(float64(len(lines)), "lines")
	b.ReportMetric(float64(len(file))/1024, "kB/doc")
}

// printWithBrowser has a browser without a window print lines of text, and
// gives the size of the file.
func printWithBrowser(tb testing.TB, lines []string) int64 {
	tb.Helper()
	dir := tb.TempDir()
	page, out := filepath.Join(dir, "record.html"), filepath.Join(dir, "record.pdf")
	body := "<!doctype html><meta charset=utf-8><style>pre{font:9pt Liberation " +
		"Sans,sans-serif;white-space:pre-wrap}</style><pre>" + html.EscapeString(strings.Join(lines, "\n")) + "</pre>"
	if err := os.WriteFile(page, []byte(body), 0o600); err != nil {
		tb.Fatal(err)
	}
	pdftest.Run(tb, "chromium-headless-shell", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
		"--no-first-run",
		"--user-data-dir="+filepath.Join(dir, "profile"), "--no-pdf-header-footer", "--print-to-pdf="+out,
		"file://"+page)
	info, err := os.Stat(out)
	if err != nil {
		tb.Fatal(err)
	}
	return info.Size()
}

// BenchmarkAgainstBrowser prints the sample record and, beside it, its words
// with a browser started for it. Times and sizes are the browser's as a
// multiple of ours.
func BenchmarkAgainstBrowser(b *testing.B) {
	doc := sample(b)
	file := render(b, doc)
	lines := strings.Split(strings.TrimSpace(pdftest.Run(b, "pdftotext", "-layout", save(b, file), "-")), "\n")
	var ours, theirs time.Duration
	var size int64
	for b.Loop() {
		start := time.Now()
		render(b, doc)
		half := time.Now()
		size = printWithBrowser(b, lines)
		ours += half.Sub(start)
		theirs += time.Since(half)
	}
	b.ReportMetric(theirs.Seconds()/ours.Seconds(), "browser×time")
	b.ReportMetric(float64(size)/float64(len(file)), "browser×size")
}

// BenchmarkVerify judges a sealed file of the sample record.
func BenchmarkVerify(b *testing.B) {
	file := sealedFile(b, sample(b))
	b.SetBytes(int64(len(file)))
	for b.Loop() {
		judge(b, file)
	}
}
