package layout_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
	"gaugebook/pdf/seal"
)

const manyScripts = "Łódź zażółć, ŵ ŷ Ŵ Ŷ, Iùil à è ò, Ελληνικά, Кириллица, CO₂ " +
	"O₂ ≤ ≥ ± ° ² ³ µ Δ → – ✓ ☐ £1,250.00 €5 ½ ×"

func testJPEG(tb testing.TB) []byte {
	img := image.NewRGBA(image.Rect(0, 0, 320, 200))
	for y := range 200 {
		for x := range 320 {
			img.Set(x, y, color.RGBA{R: uint8(x / 2), G: uint8(90 + y/3), B: uint8(140 - x/4), A: 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func testPNG(tb testing.TB) []byte {
	img := image.NewNRGBA(image.Rect(0, 0, 240, 60))
	for x := range 240 {
		y := 30 + 20*math.Sin(float64(x)/14)
		for k := range 3 {
			img.Set(x, int(y)+k, color.NRGBA{R: 0x1d, G: 0x24, B: 0x33, A: 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func mustImage(tb testing.TB, data []byte) layout.Image {
	tb.Helper()
	m, err := layout.LoadImage(data)
	if err != nil {
		tb.Fatal(err)
	}
	return m
}

// sample uses everything the kit has.
func sample(tb testing.TB) *layout.Document {
	d := layout.New(layout.Options{
		Header: layout.Header("Harrow Lane Heating", "GB-2026-000123"),
		Footer: layout.Footer("Readings are held against the limits named beside them."),
	})
	d.Rich(layout.Span{Text: "SAMPLE SHEET", Style: layout.Style{Face: layout.Bold, Size: 8, Colour: layout.Copper}})
	d.Paragraph(layout.Title, "Readings taken at 4 Example Row")
	d.Space(4)
	d.Paragraph(layout.Lead, "Each reading below was taken with the instrument named, and is shown with the limit "+
		"it was held against, where that limit comes from and how it was worked out.")
	d.Space(12)
	d.Pairs(2,
		layout.Pair{Label: "Kind", Value: layout.Cell{Text: "Wall unit, room sealed"}},
		layout.Pair{Label: "Serial number", Value: layout.Cell{Text: "0042-11-7781", Style: layout.Code}},
		layout.Pair{Label: "Fuel", Value: layout.Cell{Text: "Natural gas"}},
		layout.Pair{Label: "Rated input", Value: layout.Cell{Text: "24.6 kW gross"}},
		layout.Pair{Label: "Address", Value: layout.Cell{Text: "4 Example Row, Sample Town, where the address goes " +
			"on for so long that it wraps"}},
		layout.Pair{Label: "Outcome", Value: layout.Cell{Text: "outside", Mark: layout.Outside,
			Note: "2 of 31 readings"}},
		layout.Pair{Label: "Web page", Value: layout.Cell{Text: "look this record up",
			Link: "https://records.example/v/123(4)"}},
	)
	d.Space(14)
	d.Box(layout.Callout, func() {
		d.Paragraph(layout.Strong, "If you smell gas")
		d.Paragraph(layout.Body, "Turn the supply off at the meter, open the windows, use no switches, leave, and "+
			"call the emergency line of your gas network from outside.")
	})
	d.Heading(1, "What was measured")
	d.Table(layout.Table{
		Zebra: true,
		Columns: []layout.Column{{Head: "Reading", Weight: 4}, {Head: "Value", Weight: 2, Align: layout.Right},
			{Head: "Limit", Weight: 3}, {Head: "Outcome", Weight: 2.2}, {Head: "Source", Weight: 3.4}},
		Rows: []layout.Row{
			{Group: "Combustion"},
			{Cells: []layout.Cell{{Text: "CO₂ at maximum rate"}, {Text: "9.12 %"}, {Text: "8.60 to 9.60 %"},
				{Text: "inside", Mark: layout.Inside}, {Text: "Manufacturer's instructions", Note: "section 6.2"}}},
			{Cells: []layout.Cell{{Text: "CO to CO₂ ratio"}, {Text: "0.0051"}, {Text: "≤ 0.0040"},
				{Text: "outside", Mark: layout.Outside}, {Text: "Standard, edition 3", Note: "clause 5"}}},
			{Cells: []layout.Cell{{Text: "O₂ at minimum rate"}, {}, {Text: "≥ 3.0 %"},
				{Text: "missing", Mark: layout.Missing}, {Text: "Standard, edition 3"}}},
			{Group: "Flow of gas"},
			{Cells: []layout.Cell{{Text: "Working pressure"}, {Text: "21.4 mbar"}, {Text: "18.5 to 23.0 mbar"},
				{Text: "doubtful", Mark: layout.Doubtful}, {Text: "Above standing pressure"}}},
			{Cells: []layout.Cell{{Text: "Spillage"}, {}, {}, {Text: "exempt", Mark: layout.Exempt},
				{Text: "Room sealed"}}},
		},
	})
	d.Heading(1, "Pressure along the pipe")
	captioned(d, 150, "Pressure from the meter to the appliance at full rate; the shaded band is allowed.", plot)
	d.Heading(2, "Signatures and photographs")
	d.Columns(16, []float64{1, 1, 1},
		func() {
			captioned(d, 90, "Photograph 1: terminal seen from the path", func(f *layout.Figure) {
				f.Image(mustImage(tb, testJPEG(tb)), 0, 0, f.W, f.H)
			})
		},
		func() {
			d.Figure(60, func(f *layout.Figure) { f.Image(mustImage(tb, testPNG(tb)), 0, 0, f.W, f.H) })
			d.Paragraph(layout.Small, "Signed by the person who took the readings")
		},
		func() {
			captioned(d, 96, "Compare with the record held", func(f *layout.Figure) {
				f.QR(0, 0, 96, "https://records.example/v/GB-2026-000123")
			})
		})
	d.Heading(1, "Letters of many languages")
	d.Paragraph(layout.Body, manyScripts)
	d.Paragraph(layout.Style{Face: layout.Bold}, manyScripts)
	d.Paragraph(layout.Style{Face: layout.Italic}, manyScripts)
	d.Paragraph(layout.Code, "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")
	d.Space(6)
	d.Bullets(layout.Body, "Keep this sheet with the instructions.",
		"Have the appliance looked after every year by a registered, competent person, and keep what they write down.")
	d.Space(10)
	d.Box(layout.Panel, func() {
		d.Rich(layout.Span{Text: "outside", Style: layout.Strong, Mark: layout.Outside},
			layout.Span{Text: " means that the reading is beyond the limit. ", Style: layout.Body},
			layout.Span{Text: "Write to the office", Style: layout.Body.Coloured(layout.Copper),
				Link: "mailto:office@firm.example"},
			layout.Span{Text: " with any question.", Style: layout.Body})
	})
	return d
}

// captioned sets a figure with its caption.
func captioned(d *layout.Document, h float64, caption string, draw func(*layout.Figure)) {
	d.KeepTogether(func() {
		d.Figure(h, draw)
		d.Space(4)
		d.Paragraph(layout.Small, caption)
	})
}

func plot(f *layout.Figure) {
	axis := layout.Pen{Colour: layout.Slate, Width: 0.5}
	f.Window(0, 12, 17, 23, layout.Inset{Left: 28, Top: 8, Right: 60, Bottom: 24})
	f.Rect(0, 18.5, 12, 22, layout.Mist, layout.Pen{})
	for v := 17.0; v <= 23; v++ {
		f.Line(0, v, 12, v, layout.Pen{Colour: layout.Hair, Width: 0.3})
		f.Text(0, v, -4, 3, layout.Small.Aligned(layout.Right), fmt.Sprint(v))
	}
	for x := 0.0; x <= 12; x += 3 {
		f.Text(x, 17, 0, 11, layout.Small.Aligned(layout.Centre), fmt.Sprintf("%.0f m", x))
	}
	f.Line(0, 17, 12, 17, axis)
	f.Line(0, 18.5, 12, 18.5, layout.Pen{Colour: layout.Copper, Width: 0.8, Dash: 3})
	f.Text(12, 18.5, 4, 3, layout.Small.Coloured(layout.Copper), "least, 18.5")
	f.Polyline(layout.Pen{Colour: layout.Ink, Width: 1.2}, layout.Point{X: 0, Y: 21}, layout.Point{X: 4, Y: 20.3},
		layout.Point{X: 7, Y: 20}, layout.Point{X: 12, Y: 19.2}, layout.Point{X: 15, Y: 10})
	for _, p := range []layout.Point{{X: 0, Y: 21}, {X: 4, Y: 20.3}, {X: 7, Y: 20}, {X: 12, Y: 19.2}} {
		f.Circle(p.X, p.Y, 2.4, layout.White, layout.Pen{Colour: layout.Ink, Width: 1})
	}
	f.Mark(12, 19.2, 6, 3, layout.Small, layout.Inside, "19.2")
}

func finish(tb testing.TB, pdf []byte) []byte {
	tb.Helper()
	out, err := seal.Finish(pdf, seal.Meta{Title: "Sample sheet", Author: "Harrow Lane Heating",
		Created: time.Date(2026, 3, 4, 10, 30, 0, 0, time.UTC)},
		[]seal.Attachment{{Name: "record.json", MIME: "application/json", Description: "the record",
			Data: []byte(`{"a":1}`)}})
	if err != nil {
		tb.Fatal(err)
	}
	return out
}

func TestSample(t *testing.T) {
	t.Parallel()
	pdf := finish(t, mustBytes(t, sample(t)))
	path := pdftest.Check(t, pdf)
	if dir := os.Getenv("LAYOUT_PAGES"); dir != "" { // to look at
		if err := os.WriteFile(filepath.Join(dir, "sample.pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	checkMargins(t, path)
	text := pdftest.Words(t, path)
	for _, want := range []string{
		"Readings taken at 4 Example Row", "If you smell gas", "CO₂ at maximum rate", "≤ 0.0040", "doubtful",
		"section 6.2",
		"page 1 of 2", "page 2 of 2", "GB-2026-000123", "least, 18.5", "Write to the office with any question.",
		"9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in the text", want)
		}
	}
	if n := strings.Count(text, manyScripts); n != 3 {
		t.Errorf("letters of many languages came back %d times of 3:\n%s", n, text)
	}
	if out := pdftest.Run(t, "pdffonts", path); strings.Count(out, "yes yes yes") != strings.Count(out, "GB") {
		t.Errorf("a font is not embedded, cut down and readable:\n%s", out)
	}
	files := pdftest.Drawn(t, path, "-r", "110", "-gray")
	if len(files) != 2 {
		t.Fatalf("page images: %v", files)
	}
	found := false
	for _, f := range files {
		found = found || slices.Contains(pdftest.Codes(t, f), "https://records.example/v/GB-2026-000123")
	}
	if !found {
		t.Error("zbarimg did not read the QR code")
	}
	if out := pdftest.Run(t, "qpdf", "--json", "--json-key=outlines", path); strings.Count(out, `"title"`) != 3 {
		t.Errorf("bookmarks: %s", out)
	}
}
