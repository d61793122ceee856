package owner_test

import (
	"bytes"
	"mime/multipart"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/picture/picturetest"
	"gaugebook/server/servertest"
)

// A logo is kept small, printed on what is issued from then on, covered by
// its seal, and gone from later records when it is taken away.
func TestLogo(t *testing.T) {
	site := servertest.Start(t)
	owner := site.As(records.RoleOwner)
	plain := site.Issued()
	send := func(c *servertest.Client, data []byte) servertest.Page {
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		part, err := w.CreateFormFile("file", "logo")
		if err != nil {
			t.Fatal(err)
		}
		_, _ = part.Write(data)
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return c.Send("POST", "/firm/logo", w.FormDataContentType(), &body)
	}
	for name, data := range map[string][]byte{"text": []byte("no picture"), "nothing": nil,
		"large": make([]byte, 3<<19)} {
		if p := send(owner, data); p.Status != 422 {
			t.Errorf("%s: status %d", name, p.Status)
		}
	}
	if p := send(site.As(records.RoleOffice), picturetest.PNG(t, picturetest.Quarters(300, 100))); p.Status != 403 {
		t.Errorf("the office: status %d", p.Status)
	}
	if p := send(owner, picturetest.PNG(t, picturetest.Quarters(1500, 500))); p.Status != 303 {
		t.Fatalf("status %d\n%s", p.Status, servertest.Clip(p.Body))
	}
	// keeps the logo
	owner.Post("/firm", servertest.Form("name", "Tweddle Heating", "phone", "01632 960 111", "email",
		"office@tweddle.example"))
	address := regexp.MustCompile(`/firm/logo/[0-9a-f]{64}`).FindString(owner.Get("/firm").Body)
	if p := owner.Get(address); p.Status != 200 || !strings.HasPrefix(p.Body, "\xff\xd8\xff") {
		t.Fatalf("%q: status %d", address, p.Status)
	}
	owner.Expect("/firm/logo/"+strings.Repeat("0", 64), 404, nil, nil)

	again := func(of store.IssuedRow) store.IssuedRow {
		who := site.People[records.RoleEngineer]
		r, err := site.App.Amend(t.Context(), who, of.ID, "The logo.")
		if err != nil {
			t.Fatal(err)
		}
		r = site.Declare(who, r)
		row, err := site.App.Issue(t.Context(), who, r.ID, r.Revision)
		if err != nil {
			t.Fatal(err)
		}
		return row
	}
	issued := again(plain)
	if !strings.Contains(string(issued.Canonical), `"logo_sha256":"`+filepath.Base(address)+`"`) {
		t.Error("the record does not name the logo")
	}
	if got := picturesIn(t, site, issued.ID); !strings.Contains(got, "600   200") {
		t.Errorf("no logo of 600 by 200 in\n%s", got)
	}
	if got := picturesIn(t, site, plain.ID); strings.Contains(got, "600   200") {
		t.Errorf("a record issued before has the logo:\n%s", got)
	}
	if p := owner.Post("/firm/logo/remove", nil); p.Status != 303 {
		t.Fatalf("status %d", p.Status)
	}
	if strings.Contains(string(again(issued).Canonical), "logo_sha256") {
		t.Error("a logo was taken away and is still named")
	}
}

func picturesIn(t *testing.T, site *servertest.Site, id string) string {
	t.Helper()
	file, err := site.Store.Records.PDF(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	images, _ := servertest.PDFParts(t, string(file))
	return images
}
