package seal_test

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/go-fonts/liberation/liberationsansregular"
	"github.com/signintech/gopdf"

	"gaugebook/pdf/pdftest"
	"gaugebook/pdf/seal"
)

// plain is a document as gopdf makes it, with more than 100 different signs.
func plain(tb testing.TB) []byte {
	tb.Helper()
	var p gopdf.GoPdf
	p.Start(gopdf.Config{PageSize: *gopdf.PageSizeA4})
	if err := p.AddTTFFontData("GBTEXT+Text", liberationsansregular.TTF); err != nil {
		tb.Fatal(err)
	}
	p.AddPage()
	if err := p.SetFont("GBTEXT+Text", "", 10); err != nil {
		tb.Fatal(err)
	}
	p.AddOutline("start")
	for i, line := range lines() {
		p.SetXY(60, 60+float64(i)*14)
		if err := p.Text(line); err != nil {
			tb.Fatal(err)
		}
	}
	b, err := p.GetBytesPdfReturnErr()
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

func lines() (out []string) {
	for _, r := range [][2]rune{{'A', 'Z'}, {'a', 'z'}, {'0', '9'}, {'Α', 'Ρ'}, {'α', 'ω'}, {'А', 'я'}} {
		var b strings.Builder
		for c := r[0]; c <= r[1]; c++ {
			b.WriteRune(c)
		}
		out = append(out, b.String())
	}
	return out
}

var (
	record = []byte(strings.Repeat(`{"reading": 9.12, "unit": "%"}`+"\n", 300))
	meta   = seal.Meta{Title: "Żółw (4) – record", Author: "Łucja & <Sons>", Subject: "readings",
		Keywords: []string{"a", "b"}, Creator: "test", Created: time.Date(2026, 3, 4, 10, 30, 5, 0, time.FixedZone("",
			3600))}
	private = ed25519.NewKeyFromSeed(bytes.Repeat([]byte{7}, 32))
	public  = private.Public().(ed25519.PublicKey)
)

func finished(tb testing.TB) []byte {
	tb.Helper()
	b, err := seal.Finish(plain(tb), meta, []seal.Attachment{
		{Name: "record.json", MIME: "application/json", Description: "what a machine reads", Data: record},
		{Name: "ŵ note (2).txt", MIME: "text/plain; charset=utf-8", Data: []byte("hello")},
		{Name: "empty.bin", MIME: "application/octet-stream"},
	})
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

func TestFinishedIsReadByOthers(t *testing.T) {
	t.Parallel()
	pdf := seal.Seal(finished(t), private)
	path := pdftest.Check(t, pdf)
	info := pdftest.Run(t, "pdfinfo", path)
	for _, want := range []string{"Żółw (4) – record", "Łucja & <Sons>", "readings", "a, b", "Gaugebook",
		"Mar  4 09:30:05 2026"} {
		if !strings.Contains(info, want) {
			t.Errorf("pdfinfo lacks %q:\n%s", want, info)
		}
	}
	if x := pdftest.Run(t, "pdfinfo", "-meta", path); !strings.Contains(x, "Łucja &amp; &lt;Sons&gt;") ||
		!strings.Contains(x, "2026-03-04T09:30:05Z") {
		t.Errorf("XMP: %s", x)
	}
	if list := pdftest.Run(t, "pdfdetach", "-list", path); !strings.Contains(list, "3 embedded files") ||
		!strings.Contains(list, "ŵ note (2).txt") {
		t.Errorf("pdfdetach: %s", list)
	}
	if got := pdftest.Attachment(t, path, "record.json"); !bytes.Equal(got, record) {
		t.Errorf("pdfdetach gave %d bytes of %d", len(got), len(record))
	}
	if out := pdftest.Run(t, "qpdf", "--list-attachments", "--verbose", path); !strings.Contains(out,
		"what a machine reads") || !strings.Contains(out, "application/json") {
		t.Errorf("qpdf: %s", out)
	}
	catalog := pdftest.Run(t, "qpdf", "--show-object=1", path)
	for _, want := range []string{"/Lang (en-GB)", "/DisplayDocTitle true", "/AF [", "/Outlines",
		"/PageMode /UseOutlines", "/Metadata"} {
		if !strings.Contains(catalog, want) {
			t.Errorf("catalog lacks %q: %s", want, catalog)
		}
	}
	if out := pdftest.Run(t, "qpdf", "--show-object=trailer", path); !strings.Contains(out, "/ID [") ||
		!strings.Contains(out, "/Info ") {
		t.Errorf("trailer: %s", out)
	}
	text := pdftest.Text(t, path)
	for _, l := range lines() {
		if !strings.Contains(text, l) {
			t.Errorf("%q did not come back", l)
		}
	}
}

// TestCopyTable holds the tables for copying text against the rules of ISO
// 32000-1, 9.10.3 and of the CMap format: whole code space, 100 entries a block.
func TestCopyTable(t *testing.T) {
	t.Parallel()
	path := pdftest.Write(t, "d.pdf", finished(t))
	out := pdftest.Write(t, "q.pdf", nil)
	pdftest.Run(t, "qpdf", "--qdf", "--object-streams=disable", path, out)
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	tables := strings.Split(string(b), "begincmap")[1:]
	if len(tables) != 1 {
		t.Fatalf("%d tables", len(tables))
	}
	if !strings.Contains(tables[0], "<0000> <FFFF>") || strings.Contains(tables[0], "bfrange") {
		t.Errorf("table: %.300s", tables[0])
	}
	blocks := strings.Split(tables[0], " beginbfchar\n")[1:]
	if len(blocks) < 2 {
		t.Fatalf("%d blocks: the sample has more than 100 signs", len(blocks))
	}
	for _, block := range blocks {
		body, _, ok := strings.Cut(block, "endbfchar")
		if n := strings.Count(body, "\n"); !ok || n < 1 || n > 100 {
			t.Errorf("block of %d entries", n)
		}
	}
}

func TestFinishIsDeterministic(t *testing.T) {
	t.Parallel()
	a, b := finished(t), finished(t)
	if !bytes.Equal(a, b) {
		t.Error("the same input gives other bytes")
	}
	m := meta
	m.Title = "other"
	c, err := seal.Finish(plain(t), m, nil)
	if err != nil {
		t.Fatal(err)
	}
	id := func(pdf []byte) string {
		_, rest, _ := strings.Cut(string(pdf), "/ID [")
		id, _, _ := strings.Cut(rest, "]")
		return id
	}
	if id(a) == id(c) || len(id(a)) != 69 {
		t.Errorf("identifiers %q, %q", id(a), id(c))
	}
}

func TestFinishRefusals(t *testing.T) {
	t.Parallel()
	pdf := plain(t)
	day := meta.Created
	one := seal.Attachment{Name: "a", MIME: "text/plain"}
	for want, f := range map[string]func() ([]byte, error){
		"title is empty": func() ([]byte, error) {
			return seal.Finish(pdf, seal.Meta{Title: " ", Created: day}, nil)
		},
		"date of creation is": func() ([]byte, error) { return seal.Finish(pdf, seal.Meta{Title: "t"}, nil) },
		"not a PDF":           func() ([]byte, error) { return seal.Finish([]byte("hello"), meta, nil) },
		"cut short":           func() ([]byte, error) { return seal.Finish(pdf[:900], meta, nil) },
		"finished":            func() ([]byte, error) { return seal.Finish(finished(t), meta, nil) },
		"named \"a\"":         func() ([]byte, error) { return seal.Finish(pdf, meta, []seal.Attachment{one, one}) },
		"without slashes": func() ([]byte, error) {
			return seal.Finish(pdf, meta, []seal.Attachment{{Name: "../a", MIME: "text/plain"}})
		},
		"media type": func() ([]byte, error) {
			return seal.Finish(pdf, meta, []seal.Attachment{{Name: "a", MIME: "json"}})
		},
		"at most 33554432": func() ([]byte, error) {
			return seal.Finish(pdf, meta, []seal.Attachment{{Name: "a", MIME: "text/plain",
				Data: make([]byte, seal.MaxAttachmentBytes+1)}})
		},
		"at most 64": func() ([]byte, error) { return seal.Finish(pdf, meta, make([]seal.Attachment, 65)) },
	} {
		if _, err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

func TestSeal(t *testing.T) {
	t.Parallel()
	body := finished(t)
	pdf := seal.Seal(body, private)
	if err := seal.VerifySeal(pdf, public); err != nil {
		t.Fatal(err)
	}
	got, fingerprint, signature, err := seal.Unseal(pdf)
	if err != nil || !bytes.Equal(got, body) || fingerprint != seal.Fingerprint(public) {
		t.Fatalf("Unseal: %d bytes of %d, %s, %v", len(got), len(body), fingerprint, err)
	}
	other := ed25519.NewKeyFromSeed(bytes.Repeat([]byte{8}, 32))
	forged := bytes.Replace(seal.Seal(body, other), []byte(seal.Fingerprint(other.Public().(ed25519.PublicKey))),
		[]byte(fingerprint), 1)
	for name, c := range map[string]struct {
		pdf  []byte
		want error
	}{
		"not sealed":          {body, seal.ErrNoSeal},
		"empty":               {nil, seal.ErrNoSeal},
		"other key":           {seal.Seal(body, other), seal.ErrOtherKey},
		"other key, our name": {forged, seal.ErrAltered},
		"more after the seal": {append(bytes.Clone(pdf), "% more\n"...), seal.ErrAltered},
		"a newline after it":  {append(bytes.Clone(pdf), '\n'), seal.ErrAltered},
		"last newline gone":   {pdf[:len(pdf)-1], seal.ErrAltered},
		"cut inside the seal": {pdf[:len(pdf)-20], seal.ErrAltered},
		"a byte put in":       {slicesInsert(pdf, 500), seal.ErrAltered},
		"an update put before": {bytes.Replace(pdf, []byte("\n%gaugebook"),
			[]byte("\nstartxref\n9\n%%EOF\n%gaugebook"), 1), seal.ErrAltered},
	} {
		if err := seal.VerifySeal(c.pdf, public); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if err := seal.VerifySeal(pdf, nil); !errors.Is(err, seal.ErrOtherKey) {
		t.Errorf("no key: %v", err)
	}
	twice := seal.Seal(pdf, other)
	if inner, _, _, err := seal.Unseal(twice); err != nil || !bytes.Equal(inner, pdf) {
		t.Errorf("sealed twice: %v", err)
	}

	// OpenSSL agrees, from the document and the public key alone.
	digest := sha256.Sum256(body)
	der, err := x509.MarshalPKIXPublicKey(public)
	if err != nil {
		t.Fatal(err)
	}
	pdftest.Run(t, "openssl", "pkeyutl", "-verify", "-rawin", "-pubin",
		"-inkey", pdftest.Write(t, "key", pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: der})),
		"-sigfile", pdftest.Write(t, "sig", signature), "-in", pdftest.Write(t, "digest", digest[:]))
}

func slicesInsert(b []byte, at int) []byte {
	return append(append(bytes.Clone(b[:at]), ' '), b[at:]...)
}

// TestEveryAlteredByteIsSeen changes bytes all over the document, and every
// one of the seal itself.
func TestEveryAlteredByteIsSeen(t *testing.T) {
	t.Parallel()
	pdf := seal.Seal(finished(t), private)
	n := 0
	try := func(at int, with byte) {
		if pdf[at] == with {
			return
		}
		n++
		old := pdf[at]
		pdf[at] = with
		if err := seal.VerifySeal(pdf, public); err == nil {
			t.Errorf("byte %d of %d: %q for %q is not seen", at, len(pdf), with, old)
		}
		pdf[at] = old
	}
	for at := 0; at < len(pdf); at += 7 {
		try(at, pdf[at]^1)
	}
	for at := len(pdf) - 200; at < len(pdf); at++ {
		for c := range 256 {
			if pdf[at]^byte(c) == 0x20 || c == '\n' || c == '\r' || c == ' ' || c%16 == 1 {
				try(at, byte(c))
			}
		}
	}
	if err := seal.VerifySeal(pdf, public); err != nil || n < 3000 {
		t.Errorf("%d tries, %v", n, err)
	}
}

func TestAttachments(t *testing.T) {
	t.Parallel()
	pdf := seal.Seal(finished(t), private)
	got, err := seal.Attachments(pdf)
	if err != nil || len(got) != 3 || !bytes.Equal(got["record.json"], record) ||
		string(got["ŵ note (2).txt"]) != "hello" || got["empty.bin"] == nil {
		t.Errorf("%d files, %v", len(got), err)
	}
	if got, err := seal.Attachments(plain(t)); err != nil || len(got) != 0 {
		t.Errorf("none: %v, %v", got, err)
	}
	for _, b := range [][]byte{nil, []byte("%PDF-1.7"), []byte("%PDF-1.7 startxref 5"), pdf[:len(pdf)/2]} {
		if _, err := seal.Attachments(b); err == nil {
			t.Errorf("%.20q: no error", b)
		}
	}
}

// TestBomb reads a small file whose attachment would fill the memory.
func TestBomb(t *testing.T) {
	t.Parallel()
	const name = "zzzzzzzzzzzzzzzzzzzzzzzz"
	big, err := seal.Finish(plain(t), meta, []seal.Attachment{{Name: name, MIME: "text/plain",
		Data: make([]byte, seal.MaxAttachmentBytes)}})
	if err != nil {
		t.Fatal(err)
	}
	if got, err := seal.Attachments(big); err != nil || len(got[name]) != seal.MaxAttachmentBytes {
		t.Fatalf("the most allowed: %v", err)
	}
	// The name tree names the same stream twice: together too much. The file
	// keeps its length, so that all else in it stays right.
	_, rest, _ := bytes.Cut(big, []byte("/Names [ ("+name+") "))
	var num int
	if _, err := fmt.Sscan(string(rest[:20]), &num); err != nil {
		t.Fatal(err)
	}
	once := fmt.Sprintf("/Names [ (%s) %d 0 R ]", name, num)
	twice := fmt.Sprintf("/Names [ (a) %d 0 R (b) %[1]d 0 R ]", num)
	bomb := bytes.Replace(big, []byte(once), fmt.Appendf(nil, "%-*s", len(once), twice), 1)
	if len(bomb) != len(big) || bytes.Equal(bomb, big) {
		t.Fatal("the sample was not altered as meant")
	}
	if _, err := seal.Attachments(bomb); err == nil || !strings.Contains(err.Error(), "larger than") {
		t.Errorf("twice the most allowed: %v", err)
	}
}

// tiny is a finished document of one empty page: small, so that fuzzing is fast.
func tiny(tb testing.TB) []byte {
	tb.Helper()
	var b bytes.Buffer
	b.WriteString("%PDF-1.7\n")
	var at []int
	for i, o := range []string{"<< /Type /Catalog /Pages 2 0 R >>", "<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 9 9] >>"} {
		at = append(at, b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", i+1, o)
	}
	xref := b.Len()
	b.WriteString("xref\n0 4\n0000000000 65535 f \n")
	for _, o := range at {
		fmt.Fprintf(&b, "%010d 00000 n \n", o)
	}
	fmt.Fprintf(&b, "trailer\n<< /Size 4 /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", xref)
	out, err := seal.Finish(b.Bytes(), seal.Meta{Title: "t", Created: meta.Created},
		[]seal.Attachment{{Name: "a", MIME: "text/plain", Data: []byte("hello")}})
	if err != nil {
		tb.Fatal(err)
	}
	return out
}

func FuzzAttachments(f *testing.F) {
	pdf := tiny(f)
	f.Add(pdf)
	f.Add(seal.Seal(pdf, private))
	f.Add([]byte("%PDF-1.7\nxref\n0 1\n0000000000 65535 f \ntrailer\n<</Root 1 0 R /Prev 9>>\nstartxref\n9\n%%EOF\n"))
	f.Add([]byte("%PDF-1.7\n[[[[[[[[<<<<<</A[<(\\"))
	f.Fuzz(func(t *testing.T, b []byte) {
		files, err := seal.Attachments(b)
		if err != nil && files != nil {
			t.Error("files beside an error")
		}
		total := 0
		for _, d := range files {
			total += len(d)
		}
		if total > seal.MaxAttachmentBytes || len(files) > seal.MaxAttachments {
			t.Errorf("%d files of %d bytes", len(files), total)
		}
		if out, err := seal.Finish(b, meta, nil); err == nil {
			if _, err := seal.Attachments(out); err != nil {
				t.Errorf("finished, and then not read: %v", err)
			}
		}
	})
}

func FuzzUnseal(f *testing.F) {
	pdf := seal.Seal(tiny(f), private)
	f.Add(pdf)
	f.Add([]byte("\n%gaugebook-seal ed25519 "))
	want := sha256.Sum256(pdf)
	f.Fuzz(func(t *testing.T, b []byte) {
		body, fingerprint, signature, err := seal.Unseal(b)
		if err == nil {
			again := fmt.Sprintf("%s%%gaugebook-seal ed25519 %s %s\n", body, fingerprint,
				base64.StdEncoding.EncodeToString(signature))
			if again != string(b) {
				t.Error("two ways of writing one seal")
			}
		}
		if seal.VerifySeal(b, public) == nil && sha256.Sum256(b) != want {
			t.Error("a document nobody sealed verifies")
		}
	})
}

func BenchmarkFinishAndSeal(b *testing.B) {
	pdf := plain(b)
	for b.Loop() {
		out, err := seal.Finish(pdf, meta, []seal.Attachment{{Name: "record.json", MIME: "application/json",
			Data: record}})
		if err != nil {
			b.Fatal(err)
		}
		seal.Seal(out, private)
	}
}
