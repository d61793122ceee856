package layout_test

import (
	"crypto/sha256"
	"sync"
	"testing"

	"github.com/signintech/gopdf"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
)

func TestDeterministic(t *testing.T) {
	t.Parallel()
	want := sha256.Sum256(finish(t, mustBytes(t, sample(t))))
	for i := range 19 {
		if sha256.Sum256(finish(t, mustBytes(t, sample(t)))) != want {
			t.Fatalf("render %d differs", i+2)
		}
	}
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			if b, err := sample(t).Bytes(); err != nil || sha256.Sum256(finish(t, b)) != want {
				t.Errorf("a render beside others differs: %v", err)
			}
		})
	}
	wg.Wait()
	d := sample(t)
	first := mustBytes(t, d)
	if string(first) != string(mustBytes(t, d)) {
		t.Error("Bytes called twice differs")
	}
}

func TestEmptyDocument(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{})
	d.NewPage()
	pdftest.Check(t, mustBytes(t, d))
}

// BenchmarkOverhead compares lines set by this kit with the same lines put at
// fixed places by gopdf alone, and prints the ratio.
func BenchmarkOverhead(b *testing.B) {
	const lines = 50
	text := "Reading 14 of the flue, taken at maximum rate: 9.12 %, within 8.60 to 9.60 % of the instructions"
	var fonts gopdf.FontContainer
	plain := func() {
		var p gopdf.GoPdf
		p.Start(gopdf.Config{PageSize: *gopdf.PageSizeA4})
		if err := p.AddTTFFontFromFontContainer("t", &fonts); err != nil {
			b.Fatal(err)
		}
		p.AddPage()
		if err := p.SetFont("t", "", 9.5); err != nil {
			b.Fatal(err)
		}
		for i := range lines {
			p.SetXY(60, 60+float64(i)*13.5)
			if err := p.Text(text); err != nil {
				b.Fatal(err)
			}
		}
		if _, err := p.GetBytesPdfReturnErr(); err != nil {
			b.Fatal(err)
		}
	}
	kit := func() {
		d := layout.New(layout.Options{})
		for range lines {
			d.Paragraph(layout.Body, text)
		}
		if d.Page() != 1 {
			b.Fatal("not one page")
		}
		mustBytes(b, d)
	}
	if err := fonts.AddTTFFontData("t", liberation); err != nil {
		b.Fatal(err)
	}
	var ours, theirs float64
	for b.Loop() { // side by side, so that both see the same machine
		theirs += seconds(plain)
		ours += seconds(kit)
	}
	b.ReportMetric(ours/theirs, "kit/gopdf")
	b.ReportMetric(ours*1e3/float64(b.N), "ms/page")
}

func BenchmarkSample(b *testing.B) {
	for b.Loop() {
		finish(b, mustBytes(b, sample(b)))
	}
}
