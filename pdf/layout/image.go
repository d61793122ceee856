package layout

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg"
	_ "image/png"

	"rsc.io/qr"
)

// Image is a JPEG or PNG that [LoadImage] has looked at.
type Image struct {
	data          []byte
	Width, Height int // pixels
}

// LoadImage takes a JPEG or PNG that was encoded afresh. It refuses what would
// print wrongly (interlaced or 16-bit PNG) and what was plainly not encoded
// afresh: EXIF data, whose rotation would be ignored and whose place of
// taking would be passed on.
func LoadImage(data []byte) (Image, error) {
	c, format, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return Image{}, fmt.Errorf("layout: image: %w: JPEG or PNG is wanted", err)
	}
	if c.Width < 1 || c.Height < 1 {
		return Image{}, errors.New("layout: image is empty")
	}
	switch format {
	case "png": // the header chunk is always first: depth at 24, interlace at 28
		if data[24] == 16 {
			return Image{}, errors.New("layout: image: PNG of 16 bits a channel: 8 or fewer are wanted")
		}
		if data[28] != 0 {
			return Image{}, errors.New("layout: image: interlaced PNG: a plain one is wanted")
		}
	case "jpeg":
		if hasEXIF(data) {
			return Image{}, errors.New("layout: image: JPEG with EXIF data: encode it afresh first")
		}
	}
	return Image{data, c.Width, c.Height}, nil
}

// hasEXIF walks the segments of a JPEG before the picture itself.
func hasEXIF(data []byte) bool {
	for p := 2; p+4 <= len(data) && data[p] == 0xff; {
		marker, n := data[p+1], int(binary.BigEndian.Uint16(data[p+2:]))
		if marker == 0xda || n < 2 {
			return false
		}
		if marker == 0xe1 && bytes.HasPrefix(data[p+4:], []byte("Exif\x00")) {
			return true
		}
		p += 2 + n
	}
	return false
}

// fit is the size of the image within a width and a height.
func (m Image) fit(w, h float64) (float64, float64) {
	s := min(w/float64(m.Width), h/float64(m.Height))
	return s * float64(m.Width), s * float64(m.Height)
}

// Image draws an image as large as fits into a rectangle of a figure, from its
// upper left corner. All four are points from that of the figure.
func (f *Figure) Image(m Image, x, y, w, h float64) {
	if m.data == nil {
		f.d.fail(errors.New("layout: image of 0 bytes: LoadImage is wanted"))
		return
	}
	fw, fh := m.fit(w, h)
	f.ops = append(f.ops, imageOp{x: f.X + x, y: f.Y + y, w: fw, h: fh, data: m.data})
}

// QuietZone is the clear edge that a QR code needs, in modules (ISO/IEC 18004).
const QuietZone = 4

// QR draws a QR code of a text in a square of a figure, quiet zone included;
// x, y and size are points from the upper left corner of the figure.
func (f *Figure) QR(x, y, size float64, text string) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		f.d.fail(fmt.Errorf("layout: QR code of %d bytes: %w", len(text), err))
		return
	}
	module := size / float64(code.Size+2*QuietZone)
	if !(module >= 0.75) {
		f.d.fail(fmt.Errorf("layout: QR code of %d modules in %.0f pt: a phone needs at least %.0f pt",
			code.Size, size, 0.75*float64(code.Size+2*QuietZone)))
		return
	}
	f.ops = append(f.ops, rectOp{x: f.X + x, y: f.Y + y, w: size, h: size, fill: White, pen: Pen{}})
	x += f.X + QuietZone*module
	y += f.Y + QuietZone*module
	done := make([]bool, code.Size*code.Size)
	black := func(i, j int) bool { return code.Black(i, j) && !done[j*code.Size+i] }
	for j := range code.Size {
		for i := range code.Size {
			if !black(i, j) {
				continue
			}
			// The largest run to the right, then down: fewer seams to show.
			w, h := 1, 1
			for black(i+w, j) && i+w < code.Size {
				w++
			}
			for row := true; row; {
				for k := range w {
					row = row && j+h < code.Size && black(i+k, j+h)
				}
				if row {
					h++
				}
			}
			for v := range h {
				for u := range w {
					done[(j+v)*code.Size+i+u] = true
				}
			}
			f.ops = append(f.ops, rectOp{x: x + float64(i)*module, y: y + float64(j)*module,
				w: float64(w) * module, h: float64(h) * module, fill: Black, pen: Pen{}})
		}
	}
}
