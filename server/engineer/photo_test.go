package engineer_test

import (
	"bytes"
	"fmt"
	"io/fs"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/picture/picturetest"
	"gaugebook/server/servertest"
)

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
	for name, no := range picturetest.Refusals {
		p := upload(t, c, address, "Kept <caption>", name, no.File(t))
		if p.Status != http.StatusUnprocessableEntity || !strings.Contains(p.Body, no.Says) ||
			!strings.Contains(p.Body, "Kept &lt;caption&gt;") || !strings.Contains(p.Body, "</html>") {
			t.Errorf("%s: status %d, says %s", name, p.Status, servertest.ErrorsOf(p.Body))
		}
	}
	if p := upload(t, c, address, strings.Repeat("x", 121), "a.jpg", picturetest.JPEG(t, picturetest.Quarters(20,
		20))); p.Status != 422 ||
		!strings.Contains(p.Body, "at most 120 characters") {
		t.Errorf("long caption: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	if p := c.Post(address, servertest.Form("photo", "x")); p.Status != 422 || !strings.Contains(p.Body,
		"was not sent as a form with a file") {
		t.Errorf("no file form: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}
	for _, bad := range []string{"/records/none/sections/flue/photos", "/records/" + r.ID + "/sections/roof/photos"} {
		if p := upload(t, c, bad, "", "a.jpg", picturetest.JPEG(t, picturetest.Quarters(20, 20))); p.Status != 404 {
			t.Errorf("%s: status %d", bad, p.Status)
		}
	}
	if p := upload(t, site.As(records.RoleOffice), address, "", "a.jpg",
		picturetest.JPEG(t, picturetest.Quarters(20, 20))); p.Status != http.StatusForbidden {
		t.Errorf("office: status %d", p.Status)
	}
	if got, err := site.Store.Records.Record(t.Context(), r.ID); err != nil || len(got.Photos) != 0 ||
		got.Revision != r.Revision {
		t.Errorf("after picturetest.Refusals: %+v, %v", got.Photos, err)
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
	before := servertest.RevisionIn(t, c.Get(section).Body)
	p := upload(t, c, section+"/photos", " Terminal & guard ", "IMG_1.JPG",
		picturetest.WithExif(picturetest.JPEG(t, picturetest.Quarters(4000, 3000)), 6))
	if p.Status != http.StatusSeeOther || p.Location != section+"#photos" {
		t.Fatalf("status %d %s", p.Status, servertest.ErrorsOf(p.Body))
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
	if servertest.RevisionIn(t, page) != before || !strings.Contains(page, "Terminal &amp; guard") ||
		strings.Contains(c.Get("/records/"+r.ID+"/sections/heat").Body, photo.SHA256) {
		t.Error("the page does not show the photo, shows it in another section, or has another revision")
	}
	// The form that was open all along is not stale.
	if p := c.Post(section, servertest.Form("revision", before, "flue.length_m",
		"2.4")); p.Status != http.StatusSeeOther {
		t.Errorf("form of before: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}

	at := "/records/" + r.ID + "/photos/" + photo.SHA256
	shown := c.Get(at)
	if shown.Status != 200 || shown.Header.Get("Content-Type") != "image/jpeg" ||
		shown.Header.Get("Cache-Control") != "private, no-store" ||
		picturetest.Corners(t, []byte(shown.Body)) != picturetest.Upright[6] {
		t.Errorf("picture: status %d %v", shown.Status, shown.Header)
	}
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
	if p := c.Post(change, servertest.Form("do", "caption", "was", "Terminal & guard", "caption",
		"Terminal from below")); p.Status != 303 {
		t.Errorf("caption: status %d", p.Status)
	}
	if p := c.Post(change, servertest.Form("do", "caption", "was", "Terminal & guard", "caption",
		"Mine <typed>")); p.Status != http.StatusConflict || !strings.Contains(p.Body, "Terminal from below") ||
		!strings.Contains(p.Body, "Mine &lt;typed&gt;") {
		t.Errorf("stale caption: status %d %s", p.Status, servertest.ErrorsOf(p.Body))
	}

	issueFromPage(t, c, r.ID)
	c.Expect("/records/"+r.ID, 200, []string{"Terminal from below", at}, nil)
	if p := upload(t, c, section+"/photos", "", "b.jpg",
		picturetest.JPEG(t, picturetest.Quarters(30, 20))); p.Status != http.StatusConflict {
		t.Errorf("photo after issue: status %d", p.Status)
	}
	if p := c.Post(change, servertest.Form("do", "remove")); p.Status != http.StatusConflict {
		t.Errorf("removed after issue: status %d", p.Status)
	}
	doc, err := site.App.Document(t.Context(), r.ID)
	if err != nil || len(doc.Pictures[photo.SHA256]) == 0 || doc.Record.Photos[0].Caption != "Terminal from below" {
		t.Errorf("document: %v", err)
	}
	images, text := servertest.PDFParts(t, c.Get("/records/"+r.ID+"/pdf").Body)
	if !strings.Contains(text, "Terminal from below") || !strings.Contains(images, "1200") ||
		!strings.Contains(images, "1600") {
		t.Errorf("PDF: images\n%s", images)
	}
}

func TestPhotoLostFromDiskStopsTheIssue(t *testing.T) {
	site := servertest.Start(t)
	r := site.Full()
	c := site.As(records.RoleEngineer)
	upload(t, c, "/records/"+r.ID+"/sections/flue/photos", "Terminal", "a.jpg",
		picturetest.JPEG(t, picturetest.Quarters(30, 20)))
	emptyFolder(t, site.Store.Photos.Dir())
	_, err := site.App.Issue(t.Context(), site.People[records.RoleEngineer], r.ID, r.Revision)
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
		if p := upload(t, c, address, "", fmt.Sprint(i),
			picturetest.JPEG(t, picturetest.Quarters(20+i, 20))); p.Status != 303 {
			t.Fatalf("photo %d: status %d %s", i, p.Status, servertest.ErrorsOf(p.Body))
		}
	}
	c.Header.Set("Gaugebook-Part", "photos")
	p := upload(t, c, address, "", "41", picturetest.JPEG(t, picturetest.Quarters(100, 20)))
	if p.Status != http.StatusConflict || !strings.Contains(p.Body, "as many as it may have") ||
		strings.Contains(p.Body, "<html") {
		t.Errorf("photo 41: status %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	if n := len(filesUnder(t, site.Store.Photos.Dir())); n != records.MaxPhotos {
		t.Errorf("%d files", n)
	}
	// One of the forty sent again is there already.
	if p := upload(t, c, address, "", "0", picturetest.JPEG(t, picturetest.Quarters(20, 20))); p.Status != 200 {
		t.Errorf("sent again: status %d", p.Status)
	}
}

func emptyFolder(t *testing.T, dir string) {
	t.Helper()
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
}
