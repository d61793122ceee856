package main

import (
	"bytes"
	"encoding/base64"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gaugebook/pdf/pdftest"
	"gaugebook/records"
	"gaugebook/records/rules"
	"gaugebook/server/servertest"
)

// letter is a message as a mail program reads it.
type letter struct {
	id, from, to, subject string
	text                  string
	files                 map[string][]byte
}

// letters reads every message in the folder of outgoing mail.
func letters(tb testing.TB, dir string) []letter {
	tb.Helper()
	names, err := filepath.Glob(filepath.Join(dir, "mail", "*.eml"))
	if err != nil {
		tb.Fatal(err)
	}
	var out []letter
	for _, name := range names {
		out = append(out, parseLetter(tb, read(tb, name)))
	}
	return out
}

func parseLetter(tb testing.TB, raw []byte) letter {
	tb.Helper()
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		tb.Fatal(err)
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if err != nil {
		tb.Fatal(err)
	}
	l := letter{id: m.Header.Get("Message-ID"), from: m.Header.Get("From"), to: m.Header.Get("To"), subject: subject,
		files: map[string][]byte{}}
	l.part(tb, m.Header.Get("Content-Type"), m.Header.Get("Content-Transfer-Encoding"), "", m.Body)
	return l
}

func (l *letter) part(tb testing.TB, kind, encoding, disposition string, body io.Reader) {
	tb.Helper()
	media, params, err := mime.ParseMediaType(kind)
	if err != nil {
		tb.Fatalf("content type %q: %v", kind, err)
	}
	if strings.HasPrefix(media, "multipart/") {
		parts := multipart.NewReader(body, params["boundary"])
		for {
			p, err := parts.NextRawPart()
			if err == io.EOF {
				return
			}
			if err != nil {
				tb.Fatal(err)
			}
			l.part(tb, p.Header.Get("Content-Type"), p.Header.Get("Content-Transfer-Encoding"),
				p.Header.Get("Content-Disposition"), p)
		}
	}
	switch strings.ToLower(encoding) {
	case "base64":
		body = base64.NewDecoder(base64.StdEncoding, body)
	case "quoted-printable":
		body = quotedprintable.NewReader(body)
	}
	data, err := io.ReadAll(body)
	if err != nil {
		tb.Fatal(err)
	}
	if _, file, err := mime.ParseMediaType(disposition); err == nil && file["filename"] != "" {
		l.files[file["filename"]] = data
	} else if media == "text/plain" {
		l.text = string(data)
	}
}

var privateLink = regexp.MustCompile(`/r/([A-Za-z0-9_-]+)`)

// letterInFolder waits for the customer's letter and returns the token of the
// private link in it.
func letterInFolder(t *testing.T, f *firm, is issued, file []byte) string {
	t.Helper()
	var got []letter
	servertest.Eventually(t, "a letter in the folder", func() bool { got = letters(t, f.dir); return len(got) > 0 })
	if len(got) != 1 {
		t.Fatalf("%d letters", len(got))
	}
	l := got[0]
	if !strings.Contains(l.to, "imogen.farrow@example.org") || !strings.Contains(l.from, firmEmail) ||
		!strings.Contains(l.subject, is.number) {
		t.Errorf("from %s to %s: %s", l.from, l.to, l.subject)
	}
	for _, want := range []string{"Dear Imogen Farrow", is.number, is.code, f.base + "/v/" + is.number + "/" + is.code,
		"0800 111 999", "Due next:"} {
		if !strings.Contains(l.text, want) {
			t.Errorf("the letter does not say %q:\n%s", want, l.text)
		}
	}
	if len(l.files) != 1 || !bytes.Equal(l.files["record-"+is.number+".pdf"], file) {
		t.Errorf("the letter has %d files, or another PDF than the firm's", len(l.files))
	}
	link := privateLink.FindStringSubmatch(l.text)
	if link == nil {
		t.Fatalf("no private link in:\n%s", l.text)
	}
	f.office.get("/messages").says("imogen.farrow@example.org", "sent")
	return link[1]
}

// paper reads the PDF with programs that know nothing of this one, and asks
// our own command what it makes of it when one byte is another.
func paper(t *testing.T, f *firm, is issued, data []byte) {
	dir := t.TempDir()
	file := write(t, dir, "record.pdf", data)
	pdftest.CheckFile(t, file)
	text := fold(pdftest.Text(t, file))
	vs := rules.Sample().Values
	for _, field := range []*records.Field{records.ApplianceSerial.Field, records.TestPressureMbar.Field,
		records.MeterMbar.Field, records.ApplianceMbar.Field,
		records.HeatStartM3.Field, records.COMaxPPM.Field, records.CO2MaxPct.Field, records.FlueTempMaxC.Field,
		records.ReceivedBy.Field, records.ForUser.Field} {
		if want := vs[field.Key].Text(); !strings.Contains(text, want) {
			t.Errorf("%s: %q is not on the paper", field.Label, want)
		}
	}
	for _, want := range []string{is.number, is.code, "14 Larkspur Rise", "Greystane Heating", "Sorrel Yarrow",
		"8800112", "QM-20417", "QM-77120"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on the paper", want)
		}
	}
	qrCodes(t, file, f.base+"/v/"+is.number+"/"+is.code)

	if out := must(t, "", "verify", "--data", f.dir, file); !strings.Contains(out, "genuine") ||
		!strings.Contains(out, is.number) || !strings.Contains(out, is.code) {
		t.Errorf("verify: %s", out)
	}
	// Somebody far away has the file and the public key only.
	public := write(t, dir, "firm.pem", f.visitor(t).get("/verify/key").body)
	must(t, "", "verify", "--data", dir, "--key", public, file)
	if got := gaugebook(t, "", "verify", "--data", dir, file); got.code != exitOpen {
		t.Errorf("without a key: exit %d: %s", got.code, got.out)
	}
	for i := range 12 {
		at := len(data) * (2*i + 1) / 24
		other := bytes.Clone(data)
		other[at] ^= 1
		changed := write(t, dir, "changed.pdf", other)
		if got := gaugebook(t, "", "verify", "--data", f.dir, changed); got.code != exitAdverse ||
			strings.Contains(got.out, "genuine") {
			t.Errorf("byte %d changed: exit %d: %s%s", at, got.code, got.out, got.err)
		}
	}
	changed := write(t, dir, "changed.pdf", append(bytes.Clone(data), '\n'))
	if got := gaugebook(t, "", "verify", "--data", f.dir, changed); got.code != exitAdverse {
		t.Errorf("a byte added: exit %d: %s", got.code, got.out)
	}
}

// qrCodes draws page one and reads the code on it. The paper has at most four
// pages.
func qrCodes(t *testing.T, file, want string) {
	t.Helper()
	info := pdftest.Run(t, "pdfinfo", file)
	count := regexp.MustCompile(`Pages:\s+(\d+)`).FindStringSubmatch(info)
	if count == nil {
		t.Fatalf("pdfinfo: %s", info)
	}
	pages, _ := strconv.Atoi(count[1])
	if pages < 2 || pages > 4 {
		t.Errorf("%d pages", pages)
	}
	images := pdftest.Drawn(t, file, "-r", "150", "-l", "1", "-gray")
	if len(images) != 1 {
		t.Fatalf("%d images of page one", len(images))
	}
	for _, image := range images {
		codes := pdftest.Codes(t, image)
		if len(codes) == 0 {
			t.Errorf("%s has no code", filepath.Base(image))
		}
		for _, got := range codes {
			if got != want {
				t.Errorf("%s: the code reads %q, not %q", filepath.Base(image), got, want)
			}
		}
	}
}
