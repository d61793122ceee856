package pdf_test

import (
	"bytes"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gaugebook/pdf"
	"gaugebook/pdf/pdftest"
	"gaugebook/pdf/seal"
	"gaugebook/records"
)

// codes reads the QR codes of every page.
func codes(t *testing.T, path string) [][]string {
	t.Helper()
	prefix := filepath.Join(t.TempDir(), "p")
	pdftest.Run(t, "pdftoppm", "-r", "150", "-gray", path, prefix)
	files, err := filepath.Glob(prefix + "*.pgm")
	if err != nil || len(files) == 0 {
		t.Fatalf("page images: %v, %v", files, err)
	}
	var out [][]string
	for _, f := range files {
		got, err := exec.Command("zbarimg", "-q", "--raw", f).Output()
		if e, ok := err.(*exec.ExitError); err != nil && (!ok || e.ExitCode() != 4) { // 4: nothing found
			t.Fatalf("zbarimg: %v", err)
		}
		out = append(out, strings.Fields(string(got)))
	}
	return out
}

func TestCodeOnPageOne(t *testing.T) {
	t.Parallel()
	doc := failing(t)
	doc.VerifyURL = doc.VerifyURL + "?" + strings.Repeat("a", pdf.MaxVerifyURL-len(doc.VerifyURL)-1) // the finest code
	for _, doc := range []records.Document{clear(t), doc} {
		path := save(t, render(t, doc))
		read := codes(t, path)
		if len(read) != len(pages(t, path)) {
			t.Fatalf("%d images of %d pages", len(read), len(pages(t, path)))
		}
		for i, c := range read {
			if i > 0 && len(c) > 0 || i == 0 && (len(c) != 1 || c[0] != doc.VerifyURL) {
				t.Errorf("page %d: zbarimg read %q, want %q on page one alone", i+1, c, doc.VerifyURL)
			}
		}
	}
}

func TestDraft(t *testing.T) {
	t.Parallel()
	file := render(t, draft(t))
	path := save(t, file)
	for i := range pages(t, path) {
		n := itoa(i + 1)
		if text := words(t, path, "-f", n, "-l", n); !strings.Contains(text, "Draft, not issued") {
			t.Errorf("page %s does not say that it is a draft", n)
		}
	}
	for i, c := range codes(t, path) {
		if len(c) > 0 {
			t.Errorf("page %d of a draft has a code: %q", i+1, c)
		}
	}
	if regexp.MustCompile(`[0-9A-Z]{4}-[0-9A-Z]{4}-[0-9A-Z]{4}\b`).MatchString(words(t, path)) {
		t.Error("a draft shows a verification code")
	}
	if v, err := pdf.Verify(file, firmPublic()); err != nil || v.Judgement != pdf.NoSeal {
		t.Errorf("a draft is judged %q, %v", v.Judgement, err)
	}
	if _, err := pdf.RenderSealed(draft(t), firmKey); records.KindOf(err) != records.NotReady &&
		records.KindOf(err) != records.Invalid {
		t.Errorf("sealing a draft: %v", err)
	}
}

func TestCopyWithoutProof(t *testing.T) {
	t.Parallel()
	doc := clear(t)
	doc.Seal, doc.VerifyURL = records.Seal{}, ""
	path := save(t, render(t, doc))
	for i := range pages(t, path) {
		if text := words(t, path, "-f", itoa(i+1), "-l", itoa(i+1)); !strings.Contains(text, "copy without proof") {
			t.Errorf("page %d does not say that it is a copy without proof", i+1)
		}
	}
	for i, c := range codes(t, path) {
		if len(c) > 0 {
			t.Errorf("page %d has a code: %q", i+1, c)
		}
	}
}

// TestSealWithoutAddress: a firm without a public address still seals.
func TestSealWithoutAddress(t *testing.T) {
	t.Parallel()
	doc := clear(t)
	doc.VerifyURL = ""
	file := sealedFile(t, doc)
	if v := judge(t, file); v.Judgement != pdf.Genuine {
		t.Errorf("judged %q", v.Judgement)
	}
	text := words(t, save(t, file))
	if strings.Contains(text, "without proof") ||
		!strings.Contains(text, "Ask the firm to confirm number and code.") || !strings.Contains(text, doc.Seal.Code) {
		t.Error("the text does not fit a sealed record without an address")
	}
}

func sealedFile(t testing.TB, doc records.Document) []byte {
	t.Helper()
	file, err := pdf.RenderSealed(doc, firmKey)
	if err != nil {
		t.Fatal(err)
	}
	return file
}

func judge(t testing.TB, file []byte) pdf.Verdict {
	t.Helper()
	v, err := pdf.Verify(file, firmPublic())
	if err != nil {
		t.Fatal(err)
	}
	if v.Reason == "" || v.Judgement != pdf.Genuine && v.Number+v.Code+v.Firm != "" {
		t.Fatalf("verdict %+v", v)
	}
	return v
}

func TestVerify(t *testing.T) {
	t.Parallel()
	doc := adverse(t)
	file := sealedFile(t, doc)
	save(t, file)
	v := judge(t, file)
	if v.Judgement != pdf.Genuine || v.Number != doc.Number || v.Code != doc.Seal.Code ||
		!v.IssuedAt.Equal(doc.IssuedAt) || v.Firm != "Copperlea Heating" {
		t.Errorf("the sealed file is judged %+v", v)
	}
	if !bytes.Equal(file, sealedFile(t, doc)) {
		t.Error("the same document and key gave other bytes")
	}
	if v := judge(t, render(t, doc)); v.Judgement != pdf.NoSeal {
		t.Errorf("without the seal: %q", v.Judgement)
	}
	other := testKey("somebody else")
	forged := doc
	canonical, _ := doc.Canonical()
	forged.Seal = records.SealOf(canonical, other)
	theirs, err := pdf.RenderSealed(forged, other)
	if err != nil {
		t.Fatal(err)
	}
	if v := judge(t, theirs); v.Judgement != pdf.OtherKey {
		t.Errorf("sealed by somebody else: %q", v.Judgement)
	}
	if _, err := pdf.RenderSealed(doc, other); records.KindOf(err) != records.NotReady {
		t.Errorf("sealing a record with a key that is not its own: %v", err)
	}
	if _, err := pdf.Verify(file, firmPublic()[1:]); records.KindOf(err) != records.Invalid {
		t.Errorf("a short key: %v", err)
	}
}

func TestChangedByteIsNotGenuine(t *testing.T) {
	t.Parallel()
	file := sealedFile(t, clear(t))
	changed := bytes.Clone(file)
	step := 41
	for i := 0; i < len(file); i += step {
		if i > len(file)-600 {
			step = 1 // the seal and the table before it, byte by byte
		}
		changed[i] ^= 1 << (i % 8)
		if v := judge(t, changed); v.Judgement == pdf.Genuine {
			t.Errorf("byte %d of %d changed: still genuine", i, len(file))
		}
		changed[i] = file[i]
	}
	for name, f := range map[string][]byte{
		"cut short": file[:len(file)-1], "a byte more": append(bytes.Clone(file), '\n'), "half": file[:len(file)/2],
		"empty": nil,
		"twice": append(bytes.Clone(file), file...),
	} {
		if v := judge(t, f); v.Judgement == pdf.Genuine {
			t.Errorf("%s: still genuine", name)
		}
	}
}

func TestChangedDigitIsNotGenuine(t *testing.T) {
	t.Parallel()
	doc := adverse(t)
	genuine := sealedFile(t, doc)
	changed := adverse(t)
	changed.Record.Values.Put(records.COMaxPPM.Field, "112") // was 612
	changed.Seal, changed.VerifyURL = doc.Seal, doc.VerifyURL
	if _, err := pdf.Render(changed); records.KindOf(err) != records.Invalid {
		t.Errorf("a changed record printed with the seal of the true one: %v", err)
	}
	// As a forger would: sealed with a key of their own, then given the true
	// seal line.
	other := testKey("somebody else")
	canonical, err := changed.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	changed.Seal = records.SealOf(canonical, other)
	forged := render(t, changed)
	at := bytes.LastIndex(genuine, []byte("\n%gaugebook-seal"))
	if v := judge(t, append(bytes.Clone(forged), genuine[at:]...)); v.Judgement != pdf.Altered {
		t.Errorf("with the true seal line: %q", v.Judgement)
	}
	// Even a file sealed with the true key fails if the data in it was not.
	if v := judge(t, seal.Seal(forged, firmKey)); v.Judgement != pdf.Altered {
		t.Errorf("data not sealed with the firm's key: %q", v.Judgement)
	}
	if v := judge(t, seal.Seal([]byte("%PDF-1.7\nnothing\n"), firmKey)); v.Judgement != pdf.Altered {
		t.Errorf("a sealed file without data: %q", v.Judgement)
	}
}

func TestRefused(t *testing.T) {
	t.Parallel()
	long := clear(t)
	long.VerifyURL = verifyBase + strings.Repeat("x", pdf.MaxVerifyURL)
	undated := draft(t)
	undated.Record.WorkDate = records.Date{}
	for name, doc := range map[string]records.Document{"no record": {}, "long address": long, "no date": undated} {
		if _, err := pdf.Render(doc); records.KindOf(err) != records.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// FuzzVerify gives Verify any bytes, as they are and sealed with the firm's
// key, so that the reader behind the seal is reached too.
func FuzzVerify(f *testing.F) {
	file := sealedFile(f, clear(f))
	f.Add(file)
	f.Add(file[:len(file)/2])
	f.Add([]byte("%PDF-1.7\nstartxref\n0\n%%EOF\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, b := range [][]byte{data, seal.Seal(data, firmKey)} {
			v, err := pdf.Verify(b, firmPublic())
			if err == nil && v.Judgement == "" {
				t.Error("no judgement and no error")
			}
		}
	})
}
