package pdf_test

import (
	"strings"
	"testing"
	"time"

	"github.com/go-fonts/liberation/liberationsansregular"
	"github.com/signintech/gopdf"

	"gaugebook/pdf"
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
	lines := strings.Split(strings.TrimSpace(run(b, "pdftotext", "-layout", save(b, file), "-")), "\n")
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

// BenchmarkVerify judges a sealed file of the sample record.
func BenchmarkVerify(b *testing.B) {
	file := sealedFile(b, sample(b))
	b.SetBytes(int64(len(file)))
	for b.Loop() {
		judge(b, file)
	}
}
