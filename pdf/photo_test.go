package pdf_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"strings"
	"testing"

	"gaugebook/pdf/pdftest"
	"gaugebook/records"
)

// snapshot is a drawn picture, encoded afresh as the phone does.
func snapshot(tb testing.TB, w, h, seed int) []byte {
	tb.Helper()
	m := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := 120 + 60*x/w + 40*y/h
			if (x/(w/8+1)+y/(h/6+1)+seed)%3 == 0 {
				v -= 50
			}
			m.SetGray(x, y, color.Gray{Y: uint8(v)})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 70}); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// addPhoto adds a picture to the record and its bytes to the document.
func addPhoto(doc *records.Document, data []byte, section records.SectionID, caption string, w, h int) {
	sum := sha256.Sum256(data)
	hash := hex.EncodeToString(sum[:])
	doc.Record.Photos = append(doc.Record.Photos, records.Photo{SHA256: hash, Section: section, Caption: caption,
		Width: w, Height: h})
	if doc.Pictures == nil {
		doc.Pictures = map[string][]byte{}
	}
	doc.Pictures[hash] = data
}

// pictured is the clear record of a later visit, with photos and three visits
// before it.
func pictured(tb testing.TB) records.Document {
	doc := clear(tb)
	doc.Record.Purpose = records.Service
	doc.Record.WorkDate = records.MustDate("2026-03-04")
	addPhoto(&doc, snapshot(tb, 640, 480, 0), "flue", "Terminal on the garden wall, seen from below", 640, 480)
	addPhoto(&doc, snapshot(tb, 480, 640, 1), "appliance", "Data plate", 480, 640)
	addPhoto(&doc, snapshot(tb, 640, 360, 2), "tightness", "Gauge at the end of the test", 640, 360)
	addPhoto(&doc, snapshot(tb, 64, 48, 3), "handover", "A picture that was lost", 64, 48)
	delete(doc.Pictures, doc.Record.Photos[3].SHA256)
	for i, date := range []string{"2023-02-20", "2024-03-11", "2025-02-28"} {
		doc.Earlier = append(doc.Earlier, records.EarlierVisit{Number: fmt.Sprintf("%s-%05d", date[:4], 17+i),
			WorkDate: records.MustDate(date),
			Purpose:  records.Service, Readings: map[string]string{records.ApplianceMbar.Key: fmt.Sprintf("20.%d",
				7-2*i),
				records.COMaxPPM.Key: fmt.Sprint(60 + 9*i), records.CO2MaxPct.Key: "9.2",
				records.COMinPPM.Key: fmt.Sprint(7 + i), records.CO2MinPct.Key: "8.8"}})
	}
	return sealed(tb, doc)
}

// images counts the pictures of a file with an independent tool.
func images(tb testing.TB, path string) int {
	tb.Helper()
	return max(0, strings.Count(strings.TrimSpace(pdftest.Run(tb, "pdfimages", "-list", path)), "\n")-1)
}

func TestPhotos(t *testing.T) {
	t.Parallel()
	doc := pictured(t)
	path := save(t, render(t, doc))
	if n := images(t, path); n != 3 {
		t.Errorf("%d pictures in the file, want 3", n)
	}
	text := words(t, path)
	for _, ph := range doc.Record.Photos {
		if !strings.Contains(text, ph.Caption) {
			t.Errorf("caption %q is not in the text", ph.Caption)
		}
	}
	lost := doc.Record.Photos[3].SHA256
	if squeezed := strings.ReplaceAll(text, " ", ""); !strings.Contains(text, "The picture is not in this file.") ||
		!strings.Contains(squeezed, lost) {
		t.Error("a lost picture leaves no note with its hash")
	}
	// Bytes that are not those of the record are not printed as if they were.
	first := doc.Record.Photos[0].SHA256
	doc.Pictures[first] = snapshot(t, 640, 480, 7)
	path = save(t, render(t, doc))
	if n := images(t, path); n != 2 || !strings.Contains(words(t, path), "not the one of this record") {
		t.Errorf("a picture with another hash: %d pictures printed", n)
	}
	doc.Pictures[first] = []byte("no picture")
	save(t, render(t, doc))
}

func TestOverTheVisits(t *testing.T) {
	t.Parallel()
	doc := pictured(t)
	text := words(t, save(t, render(t, doc)))
	// 60 ppm and 9.2 %: 60 ÷ 92 000 = 0.00065; plain arithmetic.
	for _, w := range []string{"Over the visits", "20 February 2023", "2024-00018", "20.7", "20.1", "78", "0.0007",
		"this one", "Feb 2023", "Mar 2026"} {
		if !strings.Contains(text, w) {
			t.Errorf("%q is not in the text", w)
		}
	}
	doc.Earlier = nil
	if strings.Contains(words(t, save(t, render(t, sealed(t, doc)))), "Over the visits") {
		t.Error("one visit alone has a trend")
	}
	// Several visits on one day, and visits without readings.
	doc = pictured(t)
	for i := range doc.Earlier {
		doc.Earlier[i].WorkDate, doc.Earlier[i].Readings = doc.Record.WorkDate, map[string]string{}
	}
	checkPages(t, save(t, render(t, sealed(t, doc))))
}
