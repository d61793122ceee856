// Package picturetest makes photos for tests: whole ones, and such as are
// refused.
package picturetest

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"
)

// Upright is what each orientation makes of the Quarters. Source: CIPA DC-008
// (Exif), tag 274; TestOrientationsInABrowser holds it against a browser.
var Upright = map[int]string{1: "rgby", 2: "gryb", 3: "ybgr", 4: "byrg", 5: "rbgy", 6: "bryg", 7: "ygbr", 8: "gyrb"}

// Quarters is a picture of four colours: red and green above, blue and yellow
// below.
func Quarters(w, h int) *image.RGBA {
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

func JPEG(tb testing.TB, m image.Image) []byte {
	tb.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 90}); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func PNG(tb testing.TB, m image.Image) []byte {
	tb.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// WithExif puts an Exif segment with an orientation, and a place as phones
// write it, into a JPEG.
func WithExif(file []byte, orientation int) []byte {
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

// Corners names the colours of a picture's Quarters, in reading order.
func Corners(tb testing.TB, file []byte) string {
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

// claims returns a PNG that says of itself that it is w × h.
func claims(tb testing.TB, w, h uint32) []byte {
	return reclaim(PNG(tb, Quarters(4, 4)), w, h)
}

// Refusal is a file that is not taken, and what its sender is told.
type Refusal struct {
	File func(testing.TB) []byte
	Says string
}

// Refusals are such files by their names.
var Refusals = map[string]Refusal{
	"nothing": {func(testing.TB) []byte { return nil }, "no photo was chosen"},
	"text.jpg": {func(testing.TB) []byte {
		return []byte("dear diary, this is no picture at all")
	}, "is not a photo, whatever its name says"},
	"cut.jpg": {func(tb testing.TB) []byte {
		f := JPEG(tb, Quarters(2000, 1500))
		return f[:len(f)/2]
	}, "breaks off before the picture ends"},
	"head-only.jpg": {func(tb testing.TB) []byte {
		return JPEG(tb, Quarters(20, 20))[:30]
	}, "breaks off before the picture ends"},
	"cut.png": {func(tb testing.TB) []byte {
		f := PNG(tb, Quarters(300, 300))
		return f[:len(f)-40]
	}, "breaks off before the picture ends"},
	"400 megapixels.png": {func(tb testing.TB) []byte {
		return claims(tb, 20000, 20000)
	}, "400 megapixels; at most 50 megapixels"},
	"beyond count.png": {func(tb testing.TB) []byte {
		return claims(tb, 0x7fffffff, 0x7fffffff)
	}, "far larger than the 50 megapixels"},
	"no size.png": {func(tb testing.TB) []byte { return claims(tb, 0, 4) }, "damaged and cannot be read"},
	"deep.png": {func(tb testing.TB) []byte {
		f := PNG(tb, image.NewNRGBA64(image.Rect(0, 0, 2, 2)))
		return reclaim(f, 6000, 5000)
	}, "16 bits a colour"},
	"bad checksum.png": {func(tb testing.TB) []byte {
		f := PNG(tb, Quarters(30, 30))
		f[len(f)-20] ^= 1
		return f
	}, "damaged and cannot be read"},
	"photo.heic": {func(testing.TB) []byte {
		return []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic")
	}, "HEIC"},
	"photo.webp": {func(testing.TB) []byte {
		return []byte("RIFF\x24\x00\x00\x00WEBPVP8 \x18\x00\x00\x00")
	}, "WebP"},
	"photo.gif": {func(testing.TB) []byte {
		return []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;")
	}, "of the kind gif"},
	"paper.pdf": {func(testing.TB) []byte { return []byte("%PDF-1.7\n1 0 obj") }, "PDF, not a photo"},
	"too many bytes.jpg": {func(tb testing.TB) []byte {
		return append(JPEG(tb, Quarters(20, 20)), make([]byte, 12<<20)...)
	}, "larger than 12 MB"},
	"far too many bytes.md": {func(testing.TB) []byte { return make([]byte, 41<<20) }, "far larger than the 12 MB"},
}

func reclaim(file []byte, w, h uint32) []byte {
	ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), w), h)
	ihdr = append(ihdr, file[24:29]...)
	return append(binary.BigEndian.AppendUint32(append(file[:12:12], ihdr...), crc(ihdr)), file[33:]...)
}
