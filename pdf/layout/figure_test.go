package layout_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
)

func TestFigureRefusals(t *testing.T) {
	t.Parallel()
	nan, inf := math.NaN(), math.Inf(1)
	pen := layout.Pen{Colour: layout.Ink, Width: 1}
	for name, draw := range map[string]func(f *layout.Figure){
		"NaN point":    func(f *layout.Figure) { f.Line(0, 0, nan, 1, pen) },
		"infinite":     func(f *layout.Figure) { f.Circle(inf, 0, 2, 0, pen) },
		"empty window": func(f *layout.Figure) { f.Window(3, 3, 0, 1, layout.Inset{}) },
		"NaN window":   func(f *layout.Figure) { f.Window(nan, 1, 0, 1, layout.Inset{}) },
		"all inset":    func(f *layout.Figure) { f.Window(0, 1, 0, 1, layout.Inset{Left: 900}) },
		"off the page": func(f *layout.Figure) { f.Text(f.W, 10, 0, 0, layout.Title, "far too long for what is left") },
		"two lines":    func(f *layout.Figure) { f.Text(0, 10, 0, 0, layout.Body, "a\nb") },
		"bare mark":    func(f *layout.Figure) { f.Mark(0, 10, 0, 0, layout.Body, layout.Inside, "") },
		"small QR":     func(f *layout.Figure) { f.QR(0, 0, 20, "https://records.example/") },
		"endless QR":   func(f *layout.Figure) { f.QR(0, 0, 90, strings.Repeat("x", 5000)) },
		"no image":     func(f *layout.Figure) { f.Image(layout.Image{}, 0, 0, 10, 10) },
	} {
		d := layout.New(layout.Options{})
		d.Figure(100, draw)
		if _, err := d.Bytes(); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	for _, h := range []float64{0, -1, nan, 5000} {
		d := layout.New(layout.Options{})
		d.Figure(h, func(*layout.Figure) {})
		if _, err := d.Bytes(); err == nil {
			t.Errorf("a figure %v pt high is let through", h)
		}
	}
}

// TestClipping draws far beyond a window and looks at the ink on the page.
func TestClipping(t *testing.T) {
	t.Parallel()
	d := layout.New(layout.Options{})
	d.Figure(200, func(f *layout.Figure) {
		f.Window(0, 10, 0, 10, layout.Inset{Left: 100, Top: 50, Right: 100, Bottom: 50})
		f.Polygon(layout.Ink, layout.Pen{}, layout.Point{X: 5, Y: 90}, layout.Point{X: 90, Y: 5},
			layout.Point{X: 5, Y: -90}, layout.Point{X: -90, Y: 5})
		f.Polyline(layout.Pen{Colour: layout.Copper, Width: 1}, layout.Point{X: -1e6, Y: -1e6},
			layout.Point{X: 1e6, Y: 1e6}, layout.Point{X: 3, Y: 1e9})
		f.Circle(20, 5, 3, layout.Ink, layout.Pen{})
	})
	path := pdftest.Check(t, mustBytes(t, d))
	out := filepath.Join(t.TempDir(), "p")
	pdftest.Run(t, "pdftoppm", "-r", "72", "-png", "-singlefile", path, out)
	img, err := png.Decode(strings.NewReader(readFile(t, out+".png")))
	if err != nil {
		t.Fatal(err)
	}
	ink := image.Rectangle{}
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			if r, _, _, _ := img.At(x, y).RGBA(); r < 0xf000 {
				ink = ink.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	left, top := layout.MarginLeft+100, layout.MarginTop+50.0
	right := layout.PageWidth - layout.MarginRight - 100
	want := image.Rect(int(left), int(top), int(right)+1, int(top)+101)
	if d := want.Inset(-2); !ink.In(d) || !want.Inset(2).In(ink) {
		t.Errorf("ink in %v, window %v", ink, want)
	}
}

func TestMarksDiffer(t *testing.T) {
	t.Parallel()
	seen := map[string]layout.Mark{}
	for m := layout.Inside; m <= layout.Exempt; m++ {
		d := layout.New(layout.Options{})
		d.Figure(20, func(f *layout.Figure) { f.Mark(0, 14, 0, 0, layout.Body, m, "same") })
		path := pdftest.Check(t, mustBytes(t, d))
		if got := pdftest.Words(t, path); got != "same" {
			t.Errorf("mark %d adds text: %q", m, got)
		}
		out := filepath.Join(t.TempDir(), "p")
		pdftest.Run(t, "pdftoppm", "-r", "60", "-mono", "-singlefile", path, out) // black and white, coarse
		pixels := readFile(t, out+".pbm")
		if other, ok := seen[pixels]; ok {
			t.Errorf("marks %d and %d look alike in black and white", m, other)
		}
		seen[pixels] = m
	}
}

func TestLoadImage(t *testing.T) {
	t.Parallel()
	good := testPNG(t)
	jpg := testJPEG(t)
	for name, data := range map[string][]byte{"png": good, "jpeg": jpg} {
		if _, err := layout.LoadImage(data); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	interlaced := bytes.Clone(good)
	interlaced[28] = 1
	binary.BigEndian.PutUint32(interlaced[29:], crc32.ChecksumIEEE(interlaced[12:29]))
	var deep bytes.Buffer
	if err := png.Encode(&deep, image.NewRGBA64(image.Rect(0, 0, 4, 4))); err != nil {
		t.Fatal(err)
	}
	exif := append([]byte{0xff, 0xd8, 0xff, 0xe1, 0, 10}, "Exif\x00\x00II"...)
	exif = append(exif, jpg[2:]...)
	if _, err := jpeg.Decode(bytes.NewReader(exif)); err != nil {
		t.Fatal(err)
	}
	for want, data := range map[string][]byte{
		"interlaced": interlaced, "16 bits": deep.Bytes(), "EXIF": exif,
		"JPEG or PNG": []byte("GIF89a"), "unknown": nil,
	} {
		if _, err := layout.LoadImage(data); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// TestContrast holds the palette against WCAG 2.2, success criterion 1.4.3.
func TestContrast(t *testing.T) {
	t.Parallel()
	lum := func(c layout.Colour) float64 {
		part := func(v layout.Colour) float64 {
			s := float64(v&0xff) / 255
			if s <= 0.04045 {
				return s / 12.92
			}
			return math.Pow((s+0.055)/1.055, 2.4)
		}
		return 0.2126*part(c>>16) + 0.7152*part(c>>8) + 0.0722*part(c)
	}
	for _, text := range []layout.Colour{layout.Black, layout.Ink, layout.Slate, layout.Copper} {
		for _, ground := range []layout.Colour{layout.White, layout.Paper, layout.Mist} {
			if c := (lum(ground) + 0.05) / (lum(text) + 0.05); c < 4.5 {
				t.Errorf("%06x on %06x: %.2f", text, ground, c)
			}
		}
	}
}
