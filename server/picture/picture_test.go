package picture_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/picture"
	"gaugebook/server/picture/picturetest"
)

func TestDecode(t *testing.T) {
	file := picturetest.JPEG(t, picturetest.Quarters(4000, 3000))
	for orientation, want := range picturetest.Upright {
		pic, err := picture.Decode(picturetest.WithExif(file, orientation))
		if err != nil {
			t.Fatal(err)
		}
		w, h := 1600, 1200
		if orientation >= 5 {
			w, h = h, w
		}
		if got := picturetest.Corners(t, pic.JPEG); got != want || pic.Width != w || pic.Height != h {
			t.Errorf("orientation %d: %s, %d × %d, want %s, %d × %d", orientation, got, pic.Width, pic.Height, want, w,
				h)
		}
		if bytes.Contains(pic.JPEG, []byte("Exif")) || bytes.Contains(pic.JPEG, []byte("GPS")) {
			t.Errorf("orientation %d: Exif data are kept", orientation)
		}
	}
	one, two := must(t)(picture.Decode(file)), must(t)(picture.Decode(file))
	if !bytes.Equal(one.JPEG, two.JPEG) {
		t.Error("the same file gives two pictures")
	}
	for name, c := range map[string]struct {
		file []byte
		w, h int
	}{
		"small stays": {picturetest.PNG(t, picturetest.Quarters(30, 20)), 30, 20},
		"thin":        {picturetest.PNG(t, picturetest.Quarters(4000, 1)), 1600, 1},
		"one pixel":   {picturetest.PNG(t, picturetest.Quarters(1, 1)), 1, 1},
		"tall":        {picturetest.JPEG(t, picturetest.Quarters(900, 3200)), 450, 1600},
		"grey":        {picturetest.JPEG(t, image.NewGray(image.Rect(0, 0, 40, 40))), 40, 40},
		"16 bits":     {picturetest.PNG(t, image.NewNRGBA64(image.Rect(0, 0, 40, 40))), 40, 40},
		"palette": {picturetest.PNG(t, image.NewPaletted(image.Rect(0, 0, 40, 40),
			color.Palette{color.Black, color.White})),
			40, 40},
	} {
		pic, err := picture.Decode(c.file)
		if err != nil || pic.Width != c.w || pic.Height != c.h {
			t.Errorf("%s: %d × %d, %v", name, pic.Width, pic.Height, err)
		}
	}
	// What is see-through is white, not black.
	clear := must(t)(picture.Decode(picturetest.PNG(t, image.NewNRGBA(image.Rect(0, 0, 8, 8)))))
	m, err := jpeg.Decode(bytes.NewReader(clear.JPEG))
	if err != nil {
		t.Fatal(err)
	}
	if r, _, _, _ := m.At(4, 4).RGBA(); r < 0xF000 {
		t.Error("a see-through picture is dark")
	}
}

func must(t *testing.T) func(picture.Picture, error) picture.Picture {
	return func(p picture.Picture, err error) picture.Picture {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
}

// Whatever stands in the segments, the reader ends, within its bytes, with an
// orientation that there is.
func FuzzOrientation(f *testing.F) {
	file := picturetest.JPEG(f, picturetest.Quarters(8, 8))
	for o := range 10 {
		f.Add(picturetest.WithExif(file, o))
	}
	little := "\xff\xd8\xff\xe0\x00\x04JF\xff\xff\xe1\x00\x22Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00\x06\x00\x00\x00\x00\x00\x00\x00"
	if got := picture.OrientationOf([]byte(little)); got != 6 {
		f.Fatalf("little-endian: %d", got)
	}
	f.Add([]byte(little))
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00MM\x00*\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if o := picture.OrientationOf(data); o < 1 || o > 8 {
			t.Fatalf("orientation %d", o)
		}
	})
}

func FuzzDecode(f *testing.F) {
	f.Add(picturetest.WithExif(picturetest.JPEG(f, picturetest.Quarters(16, 8)), 6))
	f.Add(picturetest.PNG(f, picturetest.Quarters(16, 8)))
	for name, no := range picturetest.Refusals {
		if !strings.Contains(name, "many bytes") {
			f.Add(no.File(f))
		}
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		pic, err := picture.Decode(file)
		if err != nil {
			if records.KindOf(err) != records.Invalid {
				t.Fatalf("kind %s: %v", records.KindOf(err), err)
			}
			return
		}
		m, err := jpeg.DecodeConfig(bytes.NewReader(pic.JPEG))
		if err != nil || m.Width != pic.Width || m.Height != pic.Height || max(m.Width, m.Height) > 1600 ||
			bytes.Contains(pic.JPEG, []byte("Exif\x00")) {
			t.Fatalf("kept as %d × %d, %+v, %v", pic.Width, pic.Height, m, err)
		}
	})
}
