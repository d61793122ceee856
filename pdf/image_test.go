package pdf_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"gaugebook/pdf"
	"gaugebook/pdf/pdftest"
	"gaugebook/records"
)

// Pages are compared at imageDPI, in grey of 16 steps to keep the files small.
const imageDPI = 70

// How far two pages may differ, in steps of 255: on average, and in the worst
// of the tiles, tileDots wide and high. Different versions of the tool that
// draws them smooth letters differently; text that moved or changed differs by
// more.
const (
	mostDifference = 2.5
	mostOfTile     = 10
	tileDots       = 32
)

// looks are the pages whose look is kept.
var looks = []struct {
	name string
	page int
	file func(t *testing.T) []byte
}{
	{"clear-1", 1, func(t *testing.T) []byte { return render(t, clear(t)) }},
	{"adverse-1", 1, func(t *testing.T) []byte { return render(t, adverse(t)) }},
	{"pictured-3", 3, func(t *testing.T) []byte { return render(t, pictured(t)) }},
	{"landlord-1", 1, func(t *testing.T) []byte { return render(t, landlordCheck(t)) }},
	{"notice-2", 2, func(t *testing.T) []byte {
		file, err := pdf.ConditionReport(adverse(t))
		if err != nil {
			t.Fatal(err)
		}
		return file
	}},
	{"reminder-1", 1, func(t *testing.T) []byte {
		file, err := pdf.Reminders([]pdf.ReminderLetter{reminder()})
		if err != nil {
			t.Fatal(err)
		}
		return file
	}},
}

func TestLooks(t *testing.T) {
	onlyFilled(t)
	total := 0
	for _, l := range looks {
		got := pdftest.Rasters(t, save(t, l.file(t)), imageDPI)[l.page-1]
		for i, v := range got.Dots {
			got.Dots[i] = v &^ 15
		}
		name := filepath.Join("..", "testdata", "golden", "pdf", l.name+".png")
		if *update {
			writePNG(t, name, got)
		}
		want, size := readPNG(t, name)
		total += size
		if mean, worst := difference(got, want); mean > mostDifference || worst > mostOfTile {
			t.Errorf("%s looks otherwise, by %.1f on average and %.1f in one place; look, then run go test -update",
				l.name, mean, worst)
		}
	}
	if total > 300_000 {
		t.Errorf("the pictures kept have %d bytes, at most 300 000 are wanted", total)
	}
}

// TestLooksTellChanges keeps the tolerance from letting a change through.
func TestLooksTellChanges(t *testing.T) {
	t.Parallel()
	was := pdftest.Rasters(t, save(t, render(t, draft(t))), imageDPI)
	for name, change := range map[string]func(*records.Document){
		"an outcome": func(d *records.Document) { d.Findings[1].Outcome = records.Outside },
		"a name":     func(d *records.Document) { d.Record.Contact.Name = "Somebody Else Altogether" },
		"a duty":     func(d *records.Document) { d.Duties = d.Duties[:1] },
	} {
		doc := draft(t) // without the code, which changes with anything
		change(&doc)
		is := pdftest.Rasters(t, save(t, render(t, doc)), imageDPI)
		if mean, worst := difference(is[0], was[0]); mean <= mostDifference && worst <= mostOfTile {
			t.Errorf("%s changed, and the page differs by %.1f and %.1f only", name, mean, worst)
		}
	}
	if mean, worst := difference(was[0], was[0]); mean != 0 || worst != 0 {
		t.Errorf("a page differs from itself by %v, %v", mean, worst)
	}
}

// difference is the mean absolute difference of two pages, and that of the
// worst tile. Pages of different size differ wholly.
func difference(a, b pdftest.Raster) (mean, worst float64) {
	if a.W != b.W || a.H != b.H {
		return 255, 255
	}
	across := (a.W + tileDots - 1) / tileDots
	tiles := make([]float64, across*((a.H+tileDots-1)/tileDots))
	for i := range a.Dots {
		d := float64(a.Dots[i]) - float64(b.Dots[i])
		if d < 0 {
			d = -d
		}
		mean += d
		tiles[i/a.W/tileDots*across+i%a.W/tileDots] += d
	}
	for _, d := range tiles {
		worst = max(worst, d/(tileDots*tileDots))
	}
	return mean / float64(len(a.Dots)), worst
}

func writePNG(t *testing.T, name string, r pdftest.Raster) {
	t.Helper()
	palette := make(color.Palette, 16)
	for i := range palette {
		palette[i] = color.Gray{Y: uint8(i * 16)}
	}
	m := image.NewPaletted(image.Rect(0, 0, r.W, r.H), palette)
	for i, v := range r.Dots {
		m.Pix[i] = v / 16
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

func readPNG(t *testing.T, name string) (pdftest.Raster, int) {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	r := pdftest.Raster{W: m.Bounds().Dx(), H: m.Bounds().Dy()}
	for y := range r.H {
		for x := range r.W {
			r.Dots = append(r.Dots, color.GrayModel.Convert(m.At(x, y)).(color.Gray).Y)
		}
	}
	return r, len(data)
}
