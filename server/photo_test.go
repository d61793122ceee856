package server_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io/fs"
	"mime/multipart"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server"
	"gaugebook/server/servertest"
)

// upright is what each orientation makes of the quarters. Source: CIPA DC-008
// (Exif), tag 274; TestOrientationsInABrowser holds it against a browser.
var upright = map[int]string{1: "rgby", 2: "gryb", 3: "ybgr", 4: "byrg", 5: "rbgy", 6: "bryg", 7: "ygbr", 8: "gyrb"}

func TestDecodePicture(t *testing.T) {
	file := jpegOf(t, quarters(4000, 3000))
	for orientation, want := range upright {
		pic, err := server.DecodePicture(withExif(file, orientation))
		if err != nil {
			t.Fatal(err)
		}
		w, h := 1600, 1200
		if orientation >= 5 {
			w, h = h, w
		}
		if got := corners(t, pic.JPEG); got != want || pic.Width != w || pic.Height != h {
			t.Errorf("orientation %d: %s, %d × %d, want %s, %d × %d", orientation, got, pic.Width, pic.Height, want, w,
				h)
		}
		if bytes.Contains(pic.JPEG, []byte("Exif")) || bytes.Contains(pic.JPEG, []byte("GPS")) {
			t.Errorf("orientation %d: Exif data are kept", orientation)
		}
	}
	one, two := must(t)(server.DecodePicture(file)), must(t)(server.DecodePicture(file))
	if !bytes.Equal(one.JPEG, two.JPEG) {
		t.Error("the same file gives two pictures")
	}
	for name, c := range map[string]struct {
		file []byte
		w, h int
	}{
		"small stays": {pngOf(t, quarters(30, 20)), 30, 20}, "thin": {pngOf(t, quarters(4000, 1)), 1600, 1},
		"one pixel": {pngOf(t, quarters(1, 1)), 1, 1},
		"tall":      {jpegOf(t, quarters(900, 3200)), 450, 1600},
		"grey":      {jpegOf(t, image.NewGray(image.Rect(0, 0, 40, 40))), 40, 40},
		"16 bits":   {pngOf(t, image.NewNRGBA64(image.Rect(0, 0, 40, 40))), 40, 40},
		"palette": {pngOf(t, image.NewPaletted(image.Rect(0, 0, 40, 40), color.Palette{color.Black, color.White})),
			40, 40},
	} {
		pic, err := server.DecodePicture(c.file)
		if err != nil || pic.Width != c.w || pic.Height != c.h {
			t.Errorf("%s: %d × %d, %v", name, pic.Width, pic.Height, err)
		}
	}
	// What is see-through is white, not black.
	clear := must(t)(server.DecodePicture(pngOf(t, image.NewNRGBA(image.Rect(0, 0, 8, 8)))))
	m, err := jpeg.Decode(bytes.NewReader(clear.JPEG))
	if err != nil {
		t.Fatal(err)
	}
	if r, _, _, _ := m.At(4, 4).RGBA(); r < 0xF000 {
		t.Error("a see-through picture is dark")
	}
}

func must(t *testing.T) func(server.Picture, error) server.Picture {
	return func(p server.Picture, err error) server.Picture {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
}

// claims returns a PNG that says of itself that it is w × h.
func claims(tb testing.TB, w, h uint32) []byte {
	return reclaim(pngOf(tb, quarters(4, 4)), w, h)
}

var refusals = map[string]struct {
	file func(testing.TB) []byte
	says string
}{
	"nothing": {func(testing.TB) []byte { return nil }, "no photo was chosen"},
	"text.jpg": {func(testing.TB) []byte {
		return []byte("dear diary, this is no picture at all")
	}, "is not a photo, whatever its name says"},
	"cut.jpg": {func(tb testing.TB) []byte {
		f := jpegOf(tb, quarters(2000, 1500))
		return f[:len(f)/2]
	}, "breaks off before the picture ends"},
	"head-only.jpg": {func(tb testing.TB) []byte {
		return jpegOf(tb, quarters(20, 20))[:30]
	}, "breaks off before the picture ends"},
	"cut.png": {func(tb testing.TB) []byte {
		f := pngOf(tb, quarters(300, 300))
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
		f := pngOf(tb, image.NewNRGBA64(image.Rect(0, 0, 2, 2)))
		return reclaim(f, 6000, 5000)
	}, "16 bits a colour"},
	"bad checksum.png": {func(tb testing.TB) []byte {
		f := pngOf(tb, quarters(30, 30))
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
		return append(jpegOf(tb, quarters(20, 20)), make([]byte, 12<<20)...)
	}, "larger than 12 MB"},
	"far too many bytes.md": {func(testing.TB) []byte { return make([]byte, 41<<20) }, "far larger than the 12 MB"},
}

func reclaim(file []byte, w, h uint32) []byte {
	ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), w), h)
	ihdr = append(ihdr, file[24:29]...)
	return append(binary.BigEndian.AppendUint32(append(file[:12:12], ihdr...), crc(ihdr)), file[33:]...)
}

// upload posts a photo as a browser without script does: two file fields, one
// of them blank.
func upload(t *testing.T, c *servertest.Client, address, caption, name string, file []byte) servertest.Page {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, step := range []func() error{
		func() error { return w.WriteField("caption", caption) },
		func() error { _, err := w.CreateFormFile("photo", ""); return err },
		func() error {
			part, err := w.CreateFormFile("photo", name)
			if err == nil {
				_, err = part.Write(file)
			}
			return err
		},
		w.Close,
	} {
		if err := step(); err != nil {
			t.Fatal(err)
		}
	}
	return c.Send(http.MethodPost, address, w.FormDataContentType(), &b)
}

func filesUnder(t *testing.T, dir string) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if d == nil {
			return nil // the folder is made with the first photo
		}
		if err == nil && !d.IsDir() {
			out = append(out, p)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestPhotosRefused(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	c := site.As(records.RoleEngineer)
	address := "/records/" + r.ID + "/sections/flue/photos"
	for name, no := range refusals {
		p := upload(t, c, address, "Kept <caption>", name, no.file(t))
		if p.Status != http.StatusUnprocessableEntity || !strings.Contains(p.Body, no.says) ||
			!strings.Contains(p.Body, "Kept &lt;caption&gt;") || !strings.Contains(p.Body, "</html>") {
			t.Errorf("%s: status %d, says %s", name, p.Status, errorsOf(p.Body))
		}
	}
	if p := upload(t, c, address, strings.Repeat("x", 121), "a.jpg", jpegOf(t, quarters(20, 20))); p.Status != 422 ||
		!strings.Contains(p.Body, "at most 120 characters") {
		t.Errorf("long caption: status %d %s", p.Status, errorsOf(p.Body))
	}
	if p := c.Post(address, form("photo", "x")); p.Status != 422 || !strings.Contains(p.Body,
		"was not sent as a form with a file") {
		t.Errorf("no file form: status %d %s", p.Status, errorsOf(p.Body))
	}
	for _, bad := range []string{"/records/none/sections/flue/photos", "/records/" + r.ID + "/sections/roof/photos"} {
		if p := upload(t, c, bad, "", "a.jpg", jpegOf(t, quarters(20, 20))); p.Status != 404 {
			t.Errorf("%s: status %d", bad, p.Status)
		}
	}
	if p := upload(t, site.As(records.RoleOffice), address, "", "a.jpg",
		jpegOf(t, quarters(20, 20))); p.Status != http.StatusForbidden {
		t.Errorf("office: status %d", p.Status)
	}
	if got, err := site.Store.Records.Record(t.Context(), r.ID); err != nil || len(got.Photos) != 0 ||
		got.Revision != r.Revision {
		t.Errorf("after refusals: %+v, %v", got.Photos, err)
	}
	// that with the long caption was kept before it was refused
	if left := filesUnder(t, site.Store.Photos.Dir()); len(left) > 1 {
		t.Errorf("left behind: %v", left)
	}
}

func TestPhotosFromFormToPDF(t *testing.T) {
	site := servertest.Start(t)
	r := site.Full()
	c, guest := site.As(records.RoleEngineer), site.Guest()
	section := "/records/" + r.ID + "/sections/flue"
	before := revisionIn(t, c.Get(section).Body)
	p := upload(t, c, section+"/photos", " Terminal & guard ", "IMG_1.JPG",
		withExif(jpegOf(t, quarters(4000, 3000)), 6))
	if p.Status != http.StatusSeeOther || p.Location != section+"#photos" {
		t.Fatalf("status %d %s", p.Status, errorsOf(p.Body))
	}
	saved, err := site.Store.Records.Record(t.Context(), r.ID)
	if err != nil || len(saved.Photos) != 1 {
		t.Fatalf("photos %+v, %v", saved.Photos, err)
	}
	photo := saved.Photos[0]
	if photo.Caption != "Terminal & guard" || photo.Width != 1200 || photo.Height != 1600 || photo.Section != "flue" {
		t.Errorf("photo %+v", photo)
	}
	page := c.Get(section).Body
	if revisionIn(t, page) != before || !strings.Contains(page, "Terminal &amp; guard") ||
		strings.Contains(c.Get("/records/"+r.ID+"/sections/heat").Body, photo.SHA256) {
		t.Error("the page does not show the photo, shows it in another section, or has another revision")
	}
	// The form that was open all along is not stale.
	if p := c.Post(section, form("revision", before, "flue.length_m", "2.4")); p.Status != http.StatusSeeOther {
		t.Errorf("form of before: status %d %s", p.Status, errorsOf(p.Body))
	}

	at := "/records/" + r.ID + "/photos/" + photo.SHA256
	shown := c.Get(at)
	if shown.Status != 200 || shown.Header.Get("Content-Type") != "image/jpeg" ||
		!strings.Contains(shown.Header.Get("Cache-Control"), "private") ||
		!strings.Contains(shown.Header.Get("Cache-Control"), "immutable") ||
		corners(t, []byte(shown.Body)) != upright[6] {
		t.Errorf("picture: status %d %v", shown.Status, shown.Header)
	}
	c.Header.Set("If-None-Match", shown.Header.Get("ETag"))
	if p := c.Get(at); p.Status != http.StatusNotModified {
		t.Errorf("asked again: status %d", p.Status)
	}
	c.Header.Del("If-None-Match")
	if p := guest.Get(at); p.Status != http.StatusSeeOther || !strings.HasPrefix(p.Location, "/sign-in") {
		t.Errorf("guest: status %d", p.Status)
	}
	other := site.Draft()
	for _, bad := range []string{"/records/" + other.ID + "/photos/" + photo.SHA256,
		"/records/" + r.ID + "/photos/" + strings.Repeat("0", 64), "/records/" + r.ID + "/photos/..%2Fsite.db"} {
		if p := c.Get(bad); p.Status != 404 {
			t.Errorf("%s: status %d", bad, p.Status)
		}
	}

	change := section + "/photos/" + photo.SHA256
	if p := c.Post(change, form("do", "caption", "was", "Terminal & guard", "caption",
		"Terminal from below")); p.Status != 303 {
		t.Errorf("caption: status %d", p.Status)
	}
	if p := c.Post(change, form("do", "caption", "was", "Terminal & guard", "caption",
		"Mine <typed>")); p.Status != http.StatusConflict || !strings.Contains(p.Body, "Terminal from below") ||
		!strings.Contains(p.Body, "Mine &lt;typed&gt;") {
		t.Errorf("stale caption: status %d %s", p.Status, errorsOf(p.Body))
	}

	issueFromPage(t, c, r.ID)
	check(t, c, expect{"/records/" + r.ID, 200, []string{"Terminal from below", at}, nil})
	if p := upload(t, c, section+"/photos", "", "b.jpg", jpegOf(t, quarters(30, 20))); p.Status != http.StatusConflict {
		t.Errorf("photo after issue: status %d", p.Status)
	}
	if p := c.Post(change, form("do", "remove")); p.Status != http.StatusConflict {
		t.Errorf("removed after issue: status %d", p.Status)
	}
	doc, err := site.Book.Document(t.Context(), r.ID)
	if err != nil || len(doc.Pictures[photo.SHA256]) == 0 || doc.Record.Photos[0].Caption != "Terminal from below" {
		t.Errorf("document: %v", err)
	}
	images, text := pdfParts(t, c.Get("/records/"+r.ID+"/pdf").Body)
	if !strings.Contains(text, "Terminal from below") || !strings.Contains(images, "1200") ||
		!strings.Contains(images, "1600") {
		t.Errorf("PDF: images\n%s", images)
	}
}

func TestPhotoLostFromDiskStopsTheIssue(t *testing.T) {
	site := servertest.Start(t)
	r := site.Full()
	c := site.As(records.RoleEngineer)
	upload(t, c, "/records/"+r.ID+"/sections/flue/photos", "Terminal", "a.jpg", jpegOf(t, quarters(30, 20)))
	emptyFolder(t, site.Store.Photos.Dir())
	_, err := site.Book.Issue(t.Context(), site.People[records.RoleEngineer], r.ID, r.Revision)
	if records.KindOf(err) != records.NotReady || !strings.Contains(err.Error(), "photo 1 “Terminal”") {
		t.Errorf("issued with a lost photo: %v", err)
	}
}

func TestFortyOnePhotos(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	c := site.As(records.RoleEngineer)
	address := "/records/" + r.ID + "/sections/flue/photos"
	for i := range records.MaxPhotos {
		if p := upload(t, c, address, "", fmt.Sprint(i), jpegOf(t, quarters(20+i, 20))); p.Status != 303 {
			t.Fatalf("photo %d: status %d %s", i, p.Status, errorsOf(p.Body))
		}
	}
	c.Header.Set("Gaugebook-Part", "photos")
	p := upload(t, c, address, "", "41", jpegOf(t, quarters(100, 20)))
	if p.Status != http.StatusConflict || !strings.Contains(p.Body, "as many as it may have") ||
		strings.Contains(p.Body, "<html") {
		t.Errorf("photo 41: status %d\n%s", p.Status, clip(p.Body))
	}
	if n := len(filesUnder(t, site.Store.Photos.Dir())); n != records.MaxPhotos {
		t.Errorf("%d files", n)
	}
	// One of the forty sent again is there already.
	if p := upload(t, c, address, "", "0", jpegOf(t, quarters(20, 20))); p.Status != 200 {
		t.Errorf("sent again: status %d", p.Status)
	}
}

// Whatever stands in the segments, the reader ends, within its bytes, with an
// orientation that there is.
func FuzzOrientation(f *testing.F) {
	file := jpegOf(f, quarters(8, 8))
	for o := range 10 {
		f.Add(withExif(file, o))
	}
	little := "\xff\xd8\xff\xe0\x00\x04JF\xff\xff\xe1\x00\x22Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00\x06\x00\x00\x00\x00\x00\x00\x00"
	if got := server.OrientationOf([]byte(little)); got != 6 {
		f.Fatalf("little-endian: %d", got)
	}
	f.Add([]byte(little))
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00MM\x00*\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if o := server.OrientationOf(data); o < 1 || o > 8 {
			t.Fatalf("orientation %d", o)
		}
	})
}

func FuzzDecodePicture(f *testing.F) {
	f.Add(withExif(jpegOf(f, quarters(16, 8)), 6))
	f.Add(pngOf(f, quarters(16, 8)))
	for name, no := range refusals {
		if !strings.Contains(name, "many bytes") {
			f.Add(no.file(f))
		}
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		pic, err := server.DecodePicture(file)
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
