package pdf_test

import (
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"gaugebook/pdf"
	"gaugebook/records"
)

const manyLetters = "Łukasz Gżegżółka, Siân Llŷr-Ŵyn, Ελευθερία Παπαδοπούλου"

func TestLongNotes(t *testing.T) {
	t.Parallel()
	prose := strings.TrimSpace(strings.Repeat("A note that goes on and on, with café, naïve and 21 °C. ", 180))[:9990]
	for name, note := range map[string]string{
		"prose": prose, "one word": strings.Repeat("unbroken", 1250), "lines": strings.Repeat("x\n", 4998) + "end",
		"wide": strings.Repeat("W", 10000),
	} {
		doc := draft(t)
		doc.Record.Values.Put(records.ForUser.Field, note)
		path := save(t, render(t, doc))
		checkPages(t, path)
		text := words(t, path)
		switch name {
		case "prose":
			// A page may break in the middle of one.
			if n, want := strings.Count(text, "on and on"), strings.Count(prose, "on and on"); n < want-3 {
				t.Errorf("%d of %d sentences came back", n, want)
			}
			checkValues(t, doc, path)
		case "lines":
			if n := strings.Count(text, " x"); n < 4990 {
				t.Errorf("%d of 4998 lines came back", n)
			}
		default:
			if n := strings.Count(text, note[:1]); n < len(note)/8 {
				t.Errorf("%s: %d letters came back", name, n)
			}
		}
	}
}

func TestManyRows(t *testing.T) {
	t.Parallel()
	doc := draft(t)
	var runs, distances []map[string]string
	for i := range 60 {
		runs = append(runs, map[string]string{"pipe": "corrugated", "length_m": fmt.Sprintf("%d.37", i+1),
			"feeds": "yes", "elbows": "11", "bends": "12", "tees": "13", "bore_mm": "14.51", "litres_per_m": "0.165"})
	}
	for _, p := range records.TerminalPositions {
		distances = append(distances, map[string]string{"position": p.Code, "distance_mm": "12345",
			"stated_mm": "1234"})
	}
	doc.Record.Values.PutRows(records.TightnessRuns, runs...)
	doc.Record.Values.PutRows(records.FlueDistances, distances...)
	path := save(t, render(t, doc))
	checkPages(t, path)
	checkValues(t, doc, path)
}

func TestLongAndForeignNames(t *testing.T) {
	t.Parallel()
	doc := draft(t)
	r := doc.Record
	long := strings.Repeat("Llanfairpwllgwyngyll", 4)
	r.Contact.Name, r.Contact.Address, r.Firm.Name = long, strings.Repeat("Εν Αθήναις ", 18), long+long+long
	r.Property = records.Property{Line1: strings.Repeat("Ż", 100), Line2: strings.Repeat("very long ", 10),
		Town: strings.Repeat("ŵ", 60), Postcode: "AA9A 9AA", Nation: records.Wales}
	r.Engineer.Name, r.Firm.Registration = manyLetters, strings.Repeat("9", 60)
	r.Values.Put(records.ApplianceMake.Field, strings.Repeat("M", 60))
	r.Values.Put(records.ApplianceModel.Field, strings.Repeat("W", 60))
	r.Values.Put(records.EngineerName.Field, manyLetters)
	r.Values.Put(records.ReceivedBy.Field, long)
	r.Firm.Address = "First line\nSecond line\nThird line"
	path := save(t, render(t, doc))
	checkPages(t, path)
	text := words(t, path)
	for _, w := range append(strings.Fields(manyLetters), "Αθήναις", "Second line") {
		if !strings.Contains(text, w) {
			t.Errorf("%q is not in the text", w)
		}
	}
}

// TestSignsThatNoFontHolds: what people typed is never the reason that a
// record cannot be printed; the page says what was replaced.
func TestSignsThatNoFontHolds(t *testing.T) {
	t.Parallel()
	doc := draft(t)
	doc.Record.Contact.Name = "Ada 王 🙂"
	doc.Record.Values.Put(records.ForUser.Field, "tone \u202e mark, שלום and Ada")
	path := save(t, render(t, doc))
	text := words(t, path)
	if !strings.Contains(text, "Ada □ □") || !strings.Contains(text, "Signs that cannot be printed") ||
		!strings.Contains(text, "U+1F642") {
		t.Errorf("no visible replacement: %s", text)
	}
	if strings.Contains(words(t, save(t, render(t, draft(t)))), "Signs that cannot be printed") {
		t.Error("a record that prints whole speaks of replaced signs")
	}
}

func TestMissingParts(t *testing.T) {
	t.Parallel()
	bare := records.Document{Issued: records.Issued{Record: &records.Record{WorkDate: records.MustDate("2026-05-01")}}}
	path := save(t, render(t, bare))
	checkPages(t, path)
	if text := words(t, path); !strings.Contains(text, "Nothing was entered and nothing was judged under: ") ||
		!strings.Contains(text, "No date for the next service") {
		t.Errorf("an empty record: %s", text)
	}
	// Leave out one thing at a time.
	full := failing(t)
	for name, less := range map[string]func(*records.Document){
		"instruments": func(d *records.Document) { d.Record.Instruments = nil },
		"condition":   func(d *records.Document) { d.Record.Condition = nil },
		"duties":      func(d *records.Document) { d.Duties = nil },
		"findings":    func(d *records.Document) { d.Findings = nil },
		"values":      func(d *records.Document) { d.Record.Values = nil },
		"firm":        func(d *records.Document) { d.Record.Firm = records.Firm{} },
		"appliance mbar": func(d *records.Document) {
			delete(d.Record.Values, records.ApplianceMbar.Key)
		},
		"limits of findings": func(d *records.Document) {
			for i := range d.Findings {
				d.Findings[i].Limit = nil
			}
		},
	} {
		doc, r := full, *full.Record
		doc.Findings = append([]records.Finding(nil), full.Findings...)
		r.Values = r.Values.Clone()
		doc.Record, doc.Seal, doc.VerifyURL = &r, records.Seal{}, ""
		less(&doc)
		file, err := pdf.Render(doc)
		if err != nil {
			t.Errorf("without %s: %v", name, err)
			continue
		}
		checkPages(t, save(t, file))
	}
}

// TestImports keeps the package from reaching for the rules, the store or the
// network.
func TestImports(t *testing.T) {
	t.Parallel()
	out, err := exec.Command("go", "list", "-f", `{{join .Imports "\n"}}`, "gaugebook/pdf").Output()
	if err != nil {
		t.Fatal(err)
	}
	allowed := map[string]bool{"gaugebook/records": true, "gaugebook/records/gas": true, "gaugebook/pdf/layout": true,
		"gaugebook/pdf/seal": true}
	for _, p := range strings.Fields(string(out)) {
		if strings.Contains(p, ".") || strings.HasPrefix(p, "gaugebook") && !allowed[p] || p == "os" ||
			strings.HasPrefix(p, "net") {
			t.Errorf("pdf imports %s", p)
		}
	}
}
