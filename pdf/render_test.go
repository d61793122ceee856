package pdf_test

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaugebook/pdf"
	"gaugebook/pdf/pdftest"
	"gaugebook/records"
)

var update = flag.Bool("update", false, "write the golden texts again")

// kinds are the documents that most tests go through.
var kinds = []struct {
	name string
	make func(testing.TB) records.Document
}{{"clear", clear}, {"adverse", adverse}, {"lpg", lpg}, {"draft", draft}, {"sample", sample}, {"failing", failing},
	{"pictured", pictured}}

// TestSamples reads every kind of document back with independent tools. With
// PDF_SAMPLES set it leaves the files in that folder, to look at.
func TestSamples(t *testing.T) {
	t.Parallel()
	for _, k := range kinds {
		t.Run(k.name, func(t *testing.T) {
			doc := k.make(t)
			file := render(t, doc)
			path := save(t, file)
			if dir := os.Getenv("PDF_SAMPLES"); dir != "" {
				if err := os.WriteFile(filepath.Join(dir, k.name+".pdf"), file, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			checkPages(t, path)
			checkValues(t, doc, path)
			checkFindings(t, doc, path)
		})
	}
}

// TestGolden compares the text of the documents whose findings are written by
// hand; go test -update writes it again.
func TestGolden(t *testing.T) {
	onlyFilled(t)
	for _, k := range kinds[:4] {
		got := pdftest.Run(t, "pdftotext", "-layout", save(t, render(t, k.make(t))), "-")
		name := filepath.Join("..", "testdata", "golden", "pdf", k.name+".txt")
		if *update {
			if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		a, b := strings.Split(got, "\n"), strings.Split(string(want), "\n")
		for i := range max(len(a), len(b)) {
			if i >= len(a) || i >= len(b) || a[i] != b[i] {
				t.Errorf("%s, line %d differs; look, then run go test -update:\ngot  %q\nwant %q", name, i+1, at(a, i),
					at(b, i))
				break
			}
		}
	}
}

func at(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return "(nothing)"
}

// printedWords are the words of every value that the document must show.
func printedWords(doc records.Document) []string {
	var out []string
	add := func(s string) { out = append(out, strings.Fields(s)...) }
	r := doc.Record
	one := func(f *records.Field, v records.Value) {
		switch f.Kind {
		case records.ChoiceKind:
			add(f.ChoiceLabel(v.Text()))
		case records.FlagKind: // see checkFlags
		case records.InstrumentKind:
			i, _ := r.Instrument(v.Text())
			add(i.Serial)
		case records.DateKind:
			add(records.MustDate(v.Text()).Long())
		case records.StrokesKind, records.RowsKind:
		default:
			add(v.Text())
		}
	}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			v := r.Values[f.Key]
			if !v.Present() || !r.Values.Shown(f) {
				continue
			}
			one(f, v)
			for _, row := range v.Rows() {
				for _, c := range f.Columns {
					if row[c.Key].Present() {
						one(c, row[c.Key])
					}
				}
			}
		}
	}
	return out
}

// checkValues asks for every word of the values at least as often as values
// hold it.
func checkValues(t *testing.T, doc records.Document, path string) {
	t.Helper()
	have := map[string]int{}
	for _, w := range strings.Fields(words(t, path)) {
		have[w]++
	}
	want := map[string]int{}
	for _, w := range printedWords(doc) {
		want[w]++
	}
	if len(want) == 0 {
		t.Fatal("no values to look for")
	}
	for w, n := range want {
		if have[w] < n {
			t.Errorf("%q is in the values %d times, in the text %d times", w, n, have[w])
		}
	}
	checkFlags(t, doc, path)
}

// otherLabels are those of yes or no questions that print under another name.
var otherLabels = map[string]string{
	records.Notifiable.Key:    "Building control must be told of the work",
	records.Declared.Key:      "Declared by the engineer: readings taken and true",
	records.NobodyPresent.Key: "Left on site, nobody present",
}

// checkFlags asks for every yes or no: by its label, or by the finding that
// judges it.
func checkFlags(t *testing.T, doc records.Document, path string) {
	t.Helper()
	text := strings.ToLower(words(t, path))
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			v := doc.Record.Values[f.Key]
			if f.Kind != records.FlagKind || !v.Present() || !doc.Record.Values.Shown(f) {
				continue
			}
			said := strings.ToLower(cmp.Or(otherLabels[f.Key], f.Label) + " " + v.Text())
			found := strings.Contains(text, said)
			for _, g := range doc.Findings {
				about := slices.Contains(g.Fields, f.Key) || g.Rule == f.Key
				found = found || about && strings.Contains(text, strings.ToLower(g.Title))
			}
			if !found {
				t.Errorf("the text does not say %q, nor a finding about it", said)
			}
		}
	}
}

// checkFindings asks for the words of every finding, answer and duty.
func checkFindings(t *testing.T, doc records.Document, path string) {
	t.Helper()
	text := words(t, path)
	want := []string{doc.Record.Firm.Registration, doc.Record.Engineer.Licence, doc.Record.Property.Town}
	for _, f := range doc.Findings {
		want = append(want, strings.Fields(f.Title+" "+f.Reading)...)
		for _, w := range f.Working {
			want = append(want, strings.Fields(w)...)
		}
		if f.Limit != nil {
			want = append(want, strings.Fields(f.Limit.Source.Document+" "+f.Limit.Source.Clause)...)
		}
	}
	if c := doc.Record.Condition; c != nil {
		for _, e := range c.Entries {
			want = append(want, strings.Fields(string(e.Class)+" "+e.Found+" "+e.Done)...)
		}
		want = append(want, strings.Fields(c.Told+" "+c.ToldHow)...)
	}
	for _, d := range doc.Duties {
		want = append(want, strings.Fields(d.Why+" "+d.Due.Long())...)
	}
	fold := strings.ToLower(text)
	for _, w := range want {
		if !strings.Contains(fold, strings.ToLower(w)) {
			t.Errorf("%q is not in the text", w)
		}
	}
}

// checkPages fails for a blank page and for anything near the edge of a page.
func checkPages(t *testing.T, path string) {
	t.Helper()
	const mm = 72 / 25.4
	for i, p := range pages(t, path) {
		body := 0
		for _, w := range p.Words {
			if w.XMin < 20*mm || w.XMax > p.Width-8*mm || w.YMin < 8*mm || w.YMax > p.Height-8*mm {
				t.Errorf("page %d: %q at (%.0f, %.0f) is in the margin", i+1, w.Text, w.XMin, w.YMin)
			}
			if w.YMin > 22*mm && w.YMax < p.Height-18*mm {
				body++
			}
		}
		if body == 0 {
			t.Errorf("page %d is blank but for header and footer", i+1)
		}
	}
	for i, img := range pdftest.Rasters(t, path, 50) {
		if n := img.InkAtEdge(50 * 4 / 25.4); n > 0 {
			t.Errorf("page %d: %d dots of ink within 4 mm of the edge", i+1, n)
		}
	}
}

func TestSameBytes(t *testing.T) {
	t.Parallel()
	doc := failing(t)
	hashes := map[string]int{}
	for range 4 {
		hashes[fmt.Sprintf("%x", sha256.Sum256(render(t, doc)))]++
	}
	again := failing(t)
	hashes[fmt.Sprintf("%x", sha256.Sum256(render(t, again)))]++
	if len(hashes) != 1 {
		t.Errorf("the same document gave %d different files", len(hashes))
	}
}

func TestChangedValueShows(t *testing.T) {
	t.Parallel()
	doc := draft(t)
	doc.Record.Values.Put(records.ApplianceSerial.Field, "QX-00000001")
	text := words(t, save(t, render(t, doc)))
	if strings.Contains(text, "HG-24C-0091-7734") || !strings.Contains(text, "QX-00000001") {
		t.Error("the text does not follow the serial number of the record")
	}
}

// A reading that stands on the record is printed, whatever the answers rule
// out: it is judged too.
func TestValueThatIsNotAskedForIsPrinted(t *testing.T) {
	t.Parallel()
	doc := draft(t)
	doc.Record.Values.Put(records.COMinPPM.Field, "777")
	doc.Record.Values.Put(records.MinRate.Field, "not-possible")
	if !strings.Contains(words(t, save(t, render(t, doc))), "777") {
		t.Error("a value that is not asked for is not printed")
	}
}

func TestAttachments(t *testing.T) {
	t.Parallel()
	for _, k := range kinds {
		doc := k.make(t)
		path := save(t, render(t, doc))
		want, err := doc.Canonical()
		if err != nil {
			t.Fatal(err)
		}
		out := filepath.Join(t.TempDir(), "out.json")
		pdftest.Run(t, "pdfdetach", "-savefile", pdf.RecordFile, "-o", out, path)
		if got, err := os.ReadFile(out); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s: the attached record is not the canonical JSON (%v)", k.name, err)
		}
		listed := pdftest.Run(t, "pdfdetach", "-list", path)
		if issued := doc.Number != ""; issued != strings.Contains(listed, pdf.SealFile) {
			t.Errorf("%s: seal attached: %v, issued: %v", k.name, !issued, issued)
		} else if issued {
			pdftest.Run(t, "pdfdetach", "-savefile", pdf.SealFile, "-o", out, path)
			data, _ := os.ReadFile(out)
			if s, err := records.UnmarshalSeal(data); err != nil || !s.Holds(want, firmPublic()) {
				t.Errorf("%s: the attached seal does not hold: %v", k.name, err)
			}
		}
	}
}

func TestMetadataAndBookmarks(t *testing.T) {
	t.Parallel()
	path := save(t, render(t, clear(t)))
	info := pdftest.Run(t, "env", "TZ=UTC", "pdfinfo", path)
	for _, want := range []string{"Title: +Commissioning record 2026-00042", "Author: +Copperlea Heating",
		"Subject: +Harrowgate Brassmere 24c, 14 Tallow Row", "CreationDate: +Wed Mar +4 12:40:00 2026",
		"Page size: .*A4"} {
		if !regexp.MustCompile(want).MatchString(info) {
			t.Errorf("pdfinfo lacks %q:\n%s", want, info)
		}
	}
	if out := pdftest.Run(t, "qpdf", "--json", "--json-key=qpdf", path); !strings.Contains(out, `"/Lang": "u:en-GB"`) {
		t.Error("the language is not en-GB")
	}
	outlines := pdftest.Run(t, "qpdf", "--json", "--json-key=outlines", path)
	for _, title := range []string{"For the customer", "Tightness test", "Combustion", "Sources of the limits",
		"About this record"} {
		if !strings.Contains(outlines, `"title": "`+title+`"`) {
			t.Errorf("no bookmark %q", title)
		}
	}
	if info := pdftest.Run(t, "env", "TZ=UTC", "pdfinfo", save(t, render(t, draft(t)))); !strings.Contains(info,
		"Mar  4 00:00:00 2026") {
		t.Errorf("a draft is not dated by the work:\n%s", info)
	}
}
