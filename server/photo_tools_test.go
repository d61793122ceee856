package server_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// quarters is a picture of four colours: red and green above, blue and yellow
// below.
func quarters(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	colours := []color.RGBA{{R: 220, G: 30, B: 30, A: 255}, {R: 30, G: 180, B: 30, A: 255},
		{R: 30, G: 30, B: 220, A: 255}, {R: 220, G: 220, B: 30, A: 255}}
	for y := range h {
		for x := range w {
			m.SetRGBA(x, y, colours[x*2/w+y*2/h*2])
		}
	}
	return m
}

func jpegOf(tb testing.TB, m image.Image) []byte {
	tb.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 90}); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func pngOf(tb testing.TB, m image.Image) []byte {
	tb.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// withExif puts an Exif segment with an orientation, and a place as phones
// write it, into a JPEG.
func withExif(file []byte, orientation int) []byte {
	t := binary.BigEndian
	tiff := []byte("MM\x00*\x00\x00\x00\x08\x00\x02")
	entry := func(tag, kind uint16, n uint32, value []byte) {
		tiff = t.AppendUint16(t.AppendUint16(tiff, tag), kind)
		tiff = append(t.AppendUint32(tiff, n), value...)
	}
	entry(274, 3, 1, []byte{0, byte(orientation), 0, 0})
	entry(0x8825, 4, 1, []byte{0, 0, 0, 38}) // where it was taken
	tiff = append(tiff, "\x00\x00\x00\x00GPS 54.97N 1.61W"...)
	segment := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{0xFF, 0xD8, 0xFF, 0xE1}, t.AppendUint16(nil, uint16(2+len(segment)))...)
	return append(append(out, segment...), file[2:]...)
}

// corners names the colours of a picture's quarters, in reading order.
func corners(tb testing.TB, file []byte) string {
	tb.Helper()
	m, err := jpeg.Decode(bytes.NewReader(file))
	if err != nil {
		tb.Fatal(err)
	}
	w, h := m.Bounds().Dx(), m.Bounds().Dy()
	name := ""
	for _, p := range []image.Point{{w / 4, h / 4}, {w * 3 / 4, h / 4}, {w / 4, h * 3 / 4}, {w * 3 / 4, h * 3 / 4}} {
		name += colourName(m.At(p.X, p.Y))
	}
	return name
}

func colourName(c color.Color) string {
	r, g, b, _ := c.RGBA()
	switch high := uint32(0x8000); {
	case r > high && g > high:
		return "y"
	case r > high:
		return "r"
	case g > high:
		return "g"
	case b > high:
		return "b"
	}
	return "?"
}

func crc(chunk []byte) uint32 { return crc32.ChecksumIEEE(chunk) }

func emptyFolder(t *testing.T, dir string) {
	t.Helper()
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
}

// pdfParts lists the images and the text of a PDF as an independent reader
// finds them.
func pdfParts(t *testing.T, file string) (images, text string) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "record.pdf")
	if err := os.WriteFile(name, []byte(file), 0o600); err != nil {
		t.Fatal(err)
	}
	run := func(program string, args ...string) string {
		out, err := exec.Command(program, args...).Output()
		if err != nil {
			t.Fatalf("%s: %v", program, err)
		}
		return string(out)
	}
	return run("pdfimages", "-list", name), run("pdftotext", "-layout", name, "-")
}
