package picture

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"net/http"
	"strings"

	"golang.org/x/image/draw"

	"gaugebook/records"
)

// What a photo may be as it comes, and what it is kept as.
const (
	MaxFile        = 12 << 20 // bytes
	maxPhotoPixels = 50_000_000
	maxDeepPixels  = 20_000_000 // of a picture with 16 bits a colour, which takes twice the memory
	photoSide      = 1600       // pixels of the longer side as kept
	photoQuality   = 82         // of JPEG, of 100
)

// Picture is a photo as it is kept: upright, small enough to print and send,
// and with nothing in it of where or with what it was taken.
type Picture struct {
	JPEG          []byte
	Width, Height int
}

func Refusal(msg string) error {
	return &records.Error{Kind: records.Invalid, Field: "photo", Label: "Photo", Msg: msg}
}

// Decode makes a Picture of a file that a person sent: a JPEG or PNG of
// at most 12 MB and 50 megapixels. The same file always gives the same bytes.
// Anything else is an Invalid error that says what to do. It takes up to four
// bytes of memory for each pixel, so a caller limits how many run at once.
func Decode(file []byte) (Picture, error) { return DecodeTo(file, photoSide) }

// DecodeTo is DecodePicture for a longer side of at most side pixels.
func DecodeTo(file []byte, side int) (Picture, error) {
	if len(file) > MaxFile {
		return Picture{}, Refusal("the file is larger than 12 MB; send a smaller one")
	}
	decode, config, err := decoderOf(file)
	if err != nil {
		return Picture{}, err
	}
	size, err := config(bytes.NewReader(file))
	if err != nil {
		return Picture{}, unreadable(err)
	}
	if err := checkSize(size); err != nil {
		return Picture{}, err
	}
	img, err := decode(bytes.NewReader(file))
	if err != nil {
		return Picture{}, unreadable(err)
	}
	upright := turned(shrunk(img, side), orientationOf(file))
	var out bytes.Buffer
	if err := jpeg.Encode(&out, upright, &jpeg.Options{Quality: photoQuality}); err != nil {
		return Picture{}, fmt.Errorf("encoding a photo: %w", err)
	}
	return Picture{out.Bytes(), upright.Bounds().Dx(), upright.Bounds().Dy()}, nil
}

type (
	decodeFunc func(io.Reader) (image.Image, error)
	configFunc func(io.Reader) (image.Config, error)
)

// decoderOf goes by what the file is, whatever its name says.
func decoderOf(file []byte) (decodeFunc, configFunc, error) {
	const send = "; send a JPEG or PNG"
	if len(file) == 0 {
		return nil, nil, Refusal("no photo was chosen, or the file is empty")
	}
	if len(file) >= 12 && string(file[4:8]) == "ftyp" {
		return nil, nil, Refusal("this is a HEIC, AVIF or video file, which cannot be read here" + send +
			". On the phone, choose the camera format that is called most compatible, or take the photo from this page")
	}
	switch kind := http.DetectContentType(file); {
	case kind == "image/jpeg":
		return jpeg.Decode, jpeg.DecodeConfig, nil
	case kind == "image/png":
		return png.Decode, png.DecodeConfig, nil
	case kind == "image/webp":
		return nil, nil, Refusal("this is a WebP picture, which cannot be read here" + send)
	case strings.HasPrefix(kind, "image/"):
		return nil, nil, Refusal("this is a picture of the kind " + strings.TrimPrefix(kind, "image/") +
			", which cannot be read here" + send)
	case kind == "application/pdf":
		return nil, nil, Refusal("this is a PDF, not a photo" + send)
	}
	return nil, nil, Refusal("this file is not a photo, whatever its name says" + send)
}

func checkSize(size image.Config) error {
	pixels := int64(size.Width) * int64(size.Height)
	megapixels := func(n int64) string { return records.FormatNumber(float64(n)/1e6, 0) + " megapixels" }
	switch {
	case size.Width < 1 || size.Height < 1:
		return Refusal("the picture has no size; take it again")
	case pixels > maxPhotoPixels:
		return Refusal("the picture has " + megapixels(pixels) + "; at most " + megapixels(maxPhotoPixels) +
			" can be read. Take it at a lower resolution")
	case deep(size.ColorModel) && pixels > maxDeepPixels:
		return Refusal("the picture has " + megapixels(pixels) + " of 16 bits a colour; at most " +
			megapixels(maxDeepPixels) + " of that kind can be read. Save it with 8 bits a colour")
	}
	return nil
}

func deep(m color.Model) bool {
	return m == color.RGBA64Model || m == color.NRGBA64Model || m == color.Gray16Model
}

// unreadable says what a decoder's error means to the person who sent the
// photo.
func unreadable(err error) error {
	var jpegKind jpeg.UnsupportedError
	var pngKind png.UnsupportedError
	says := func(words string) bool { return strings.Contains(err.Error(), words) }
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) || says("short Huffman data") ||
		says("not enough pixel data"):
		return Refusal("the file breaks off before the picture ends; send it again")
	case says("dimension overflow"):
		return Refusal("the picture claims to be far larger than the 50 megapixels that can be read")
	case errors.As(err, &jpegKind) || errors.As(err, &pngKind):
		return Refusal("this variant of JPEG or PNG cannot be read here (" + err.Error() +
			"); save it as an ordinary JPEG")
	}
	return Refusal("the file is damaged and cannot be read as a picture (" + err.Error() +
		"); send it again or take another")
}

// shrunk scales a picture so that its longer side is at most side pixels, over
// white where it is see-through.
func shrunk(img image.Image, side int) *image.RGBA {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if longer := max(w, h); longer > side {
		w, h = max(1, w*side/longer), max(1, h*side/longer)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	draw.ApproxBiLinear.Scale(out, out.Bounds(), img, b, draw.Over, nil)
	return out
}

// turned returns the picture as its orientation wants it seen: 1 to 4 keep the
// sides, 5 to 8 swap them; every other one is mirrored.
func turned(in *image.RGBA, orientation int) *image.RGBA {
	if orientation <= 1 || orientation > 8 {
		return in
	}
	w, h := in.Bounds().Dx(), in.Bounds().Dy()
	ow, oh := w, h
	if orientation >= 5 {
		ow, oh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, ow, oh))
	for y := range oh {
		for x := range ow {
			sx, sy := source(orientation, x, y, w, h)
			copy(out.Pix[out.PixOffset(x, y):][:4], in.Pix[in.PixOffset(sx, sy):][:4])
		}
	}
	return out
}

// source returns the pixel of a picture of w × h that is seen at x, y.
func source(orientation, x, y, w, h int) (int, int) {
	switch orientation {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return y, h - 1 - x
	case 7:
		return w - 1 - y, h - 1 - x
	}
	return w - 1 - y, x // 8
}
