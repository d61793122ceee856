package pdf_test

import (
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaugebook/pdf"
	"gaugebook/pdf/layout"
	"gaugebook/pdf/pdftest"
	"gaugebook/records"
	"gaugebook/records/rules"
)

// scripts are letters that people here type names with.
var scripts = []string{"abcdefghijklmnopqrstuvwxyz", "ABCDEFGHIJKLMNOPQRSTUVWXYZ", "áéíóúàèìòùâêîôûŵŷ", "łżźćńśąęŁŻŚ",
	"αβγδεζηθικλμνξοπ", "бвгджзиклмнопрст", "0123456789"}

func word() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		letters := []rune(rapid.SampledFrom(scripts).Draw(t, "script"))
		n := rapid.IntRange(1, 14).Draw(t, "letters")
		out := make([]rune, n)
		for i := range out {
			out[i] = letters[rapid.IntRange(0, len(letters)-1).Draw(t, "letter")]
		}
		return string(out)
	})
}

// prose is words of at most most letters in all.
func prose(t *rapid.T, label string, most int) string {
	out := ""
	for _, w := range rapid.SliceOfN(word(), 1, 1+most/10).Draw(t, label) {
		if len([]rune(out))+1+len([]rune(w)) > most {
			break
		}
		if out != "" {
			out += " "
		}
		out += w
	}
	if out == "" {
		out = "x"
	}
	return out
}

func number(t *rapid.T, f *records.Field) string {
	d := rapid.IntRange(0, f.Decimals).Draw(t, "decimals")
	scale := math.Pow(10, float64(d))
	lo, hi := int(math.Ceil(f.Min*scale)), int(math.Floor(f.Max*scale))
	if lo > hi {
		return records.FormatNumber(f.Max, -1)
	}
	return records.FormatNumber(float64(rapid.IntRange(lo, hi).Draw(t, f.Key))/scale, d)
}

// entry is a random entry that the field accepts.
func entry(t *rapid.T, f *records.Field, instruments []records.Instrument) string {
	switch f.Kind {
	case records.NumberKind:
		return number(t, f)
	case records.ChoiceKind:
		return rapid.SampledFrom(f.Choices).Draw(t, f.Key).Code
	case records.FlagKind:
		return rapid.SampledFrom([]string{"yes", "no"}).Draw(t, f.Key)
	case records.ClockKind:
		return fmt.Sprintf("%02d:%02d", rapid.IntRange(0, 23).Draw(t, "h"), rapid.IntRange(0, 59).Draw(t, "m"))
	case records.DateKind:
		return records.MustDate("2020-01-01").AddDays(rapid.IntRange(0, 3000).Draw(t, f.Key)).String()
	case records.InstrumentKind:
		if len(instruments) == 0 {
			return "gone"
		}
		return rapid.SampledFrom(instruments).Draw(t, f.Key).ID
	case records.StrokesKind:
		return fmt.Sprintf("M%d,10 L60,%d", rapid.IntRange(0, 300).Draw(t, "x"), rapid.IntRange(0, 200).Draw(t, "y"))
	}
	return prose(t, f.Key, min(f.MaxLen, rapid.SampledFrom([]int{20, 80, 900}).Draw(t, "length")))
}

func randomRows(t *rapid.T, f *records.Field) []map[string]string {
	var out []map[string]string
	for range rapid.IntRange(0, f.MaxRows).Draw(t, f.Key) {
		row := map[string]string{}
		for _, c := range f.Columns {
			row[c.Key] = entry(t, c, nil)
		}
		out = append(out, row)
	}
	return out
}

// randomDocument is any record that the register could hold, judged by the
// rules.
func randomDocument(t *rapid.T, shots [][]byte) records.Document {
	r := record()
	r.Purpose = rapid.SampledFrom(records.Purposes).Draw(t, "purpose")
	r.Property.Nation = rapid.SampledFrom(records.Nations).Draw(t, "nation")
	r.Property.Line1, r.Property.Town = prose(t, "line1", 100), prose(t, "town", 60)
	r.Contact.Name, r.Contact.Address = prose(t, "name", 80), prose(t, "address", 200)
	r.Contact.Tenure = rapid.SampledFrom(records.Tenures).Draw(t, "tenure")
	r.Firm.Name, r.Engineer.Name = prose(t, "firm", 120), prose(t, "engineer", 80)
	r.Values = records.Values{}
	for _, s := range records.Sections {
		for _, f := range s.Fields() {
			if !rapid.Bool().Draw(t, "has "+f.Key) {
				continue
			}
			if f.Kind == records.RowsKind {
				if v, errs := (records.RowsField{Field: f}).ParseRows(randomRows(t, f)); len(errs) == 0 {
					r.Values[f.Key] = v
				}
				continue
			}
			v, err := f.Parse(entry(t, f, r.Instruments))
			if err != nil {
				t.Fatalf("%s: %v", f.Key, err)
			}
			r.Values[f.Key] = v
		}
	}
	doc := records.Document{Issued: records.Issued{Record: r, Findings: rules.Evaluate(r, records.Facts{})}}
	for i := range rapid.IntRange(0, 40).Draw(t, "photos") {
		addPhoto(&doc, shots[i%len(shots)], rapid.SampledFrom(records.Sections).Draw(t, "section").ID,
			prose(t, "caption", 120), 64, 48)
		if rapid.IntRange(0, 9).Draw(t, "lost") == 0 {
			delete(doc.Pictures, doc.Record.Photos[i].SHA256)
		}
	}
	if open := records.Unsettled(doc.Findings); len(open) > 0 {
		r.Condition = &records.ConditionReport{Told: prose(t, "told", 120), ToldHow: prose(t, "how", 120),
			LeftOff: rapid.Bool().Draw(t, "off"), Refused: rapid.Bool().Draw(t, "refused")}
		for _, f := range open[:rapid.IntRange(0, len(open)).Draw(t, "answered")] {
			r.Condition.Entries = append(r.Condition.Entries, records.ConditionEntry{Rule: f.Rule,
				Class: rapid.SampledFrom(records.Classes).Draw(t, "class"),
				Found: prose(t, "found", 300), Done: prose(t, "done", 300)})
		}
	}
	return doc
}

// everyWord is every word that the paper must show.
func everyWord(doc records.Document) []string {
	r := doc.Record
	out := printedWords(doc)
	add := func(texts ...string) {
		for _, s := range texts {
			out = append(out, strings.Fields(s)...)
		}
	}
	add(r.Property.Line1, r.Property.Town, r.Property.Postcode, r.Contact.Name, r.Contact.Address, r.Firm.Name,
		r.Firm.Registration, r.Engineer.Name, r.Engineer.Licence)
	for _, ph := range r.Photos {
		add(ph.Caption)
	}
	for _, f := range doc.Findings {
		add(f.Title, f.Reading)
		add(f.Working...)
		if f.Limit != nil {
			add(f.Limit.Text, f.Limit.Source.Document, f.Limit.Source.Edition, f.Limit.Source.Clause)
		}
		if !f.Settled() {
			add(f.Reason)
		}
	}
	if c := r.Condition; c != nil {
		add(c.Told, c.ToldHow)
		for _, e := range c.Entries {
			add(e.Found, e.Done)
		}
	}
	return out
}

func squeezed(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), "")) }

// TestAnyRecordPrintsWhole: every word of any record is on the paper, and
// nothing lies outside the page.
func TestAnyRecordPrintsWhole(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "any.pdf")
	var shots [][]byte
	for i := range 5 {
		shots = append(shots, snapshot(t, 64, 48, i))
	}
	// Each record is printed and read back twice by another tool: thirty unless
	// more are asked for.
	if f := flag.Lookup("rapid.checks"); f != nil && f.Value.String() == f.DefValue {
		if err := f.Value.Set("30"); err != nil {
			t.Fatal(err)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		doc := randomDocument(t, shots)
		file, err := pdf.Render(doc)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, file, 0o600); err != nil {
			t.Fatal(err)
		}
		raw, err := exec.Command("pdftotext", "-raw", path, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		text := squeezed(string(raw))
		for _, w := range everyWord(doc) {
			shown, _ := layout.Printable(w)
			if !strings.Contains(text, squeezed(shown)) && !splitOverPages(string(raw), shown) {
				t.Fatalf("%q is not in the text", w)
			}
		}
		for i, p := range pdftest.Pages(t, path) {
			for _, w := range p.Words {
				if w.XMin < 0 || w.YMin < 0 || w.XMax > p.Width || w.YMax > p.Height {
					t.Fatalf("page %d: %q is outside the page", i+1, w.Text)
				}
			}
		}
	})
}

// splitOverPages tells whether a word wider than its cell stands half at the
// end of one page and half on the next.
func splitOverPages(raw, word string) bool {
	flat := squeezed(strings.ReplaceAll(raw, "\f", ""))
	r := []rune(squeezed(word))
	for i := 3; i <= len(r)-3; i++ {
		if strings.Contains(flat, string(r[:i])) && strings.Contains(flat, string(r[i:])) {
			return true
		}
	}
	return false
}

// TestMostOfEverything: forty photos and the longest note.
func TestMostOfEverything(t *testing.T) {
	t.Parallel()
	doc := draft(t)
	shot := snapshot(t, 1600, 1200, 1)
	for i := range records.MaxPhotos {
		addPhoto(&doc, append(append([]byte{}, shot[:2]...), append([]byte{0xff, 0xfe, 0, 3, byte(i)},
			shot[2:]...)...), "flue", fmt.Sprintf("Picture%d", i+1), 1600, 1200)
	}
	doc.Record.Values.Put(records.ForUser.Field,
		strings.TrimSpace(strings.Repeat("Bleed the radiators before the winter. ", 256))[:9900])
	file := render(t, doc)
	path := save(t, file)
	checkPages(t, path)
	checkValues(t, doc, path)
	if n := images(t, path); n != records.MaxPhotos {
		t.Errorf("%d pictures, want %d", n, records.MaxPhotos)
	}
	text := words(t, path)
	for i := range records.MaxPhotos {
		if !strings.Contains(text, fmt.Sprintf("Picture%d.", i+1)) {
			t.Errorf("caption %d is missing", i+1)
		}
	}
	if most := records.MaxPhotos*len(shot)*115/100 + 300_000; len(file) > most {
		t.Errorf("%d bytes, at most %d are wanted", len(file), most)
	}
}
