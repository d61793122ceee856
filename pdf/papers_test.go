package pdf_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/records/rules"
)

// landlordCheck is a check in a let flat.
func landlordCheck(tb testing.TB) records.Document {
	doc := clear(tb)
	doc.Record.Purpose = records.LandlordCheck
	doc.Record.Contact = records.Contact{Name: "Oduya Lettings", Tenure: records.Agent,
		Address: "2 Corn Hill, Emberwick EM1 3CC", Email: "lets@oduya.example", Phone: "01632 960177"}
	doc.Findings = append(doc.Findings,
		records.Finding{Rule: "ventilation.free_area", Section: "ventilation", Title: "Free area of the vents",
			Outcome: records.Exempt, Reason: "the appliance is room-sealed"},
		records.Finding{Rule: "combustion.inlet_o2", Section: "combustion", Title: "Oxygen in the air inlet",
			Outcome: records.Inside, Reading: "20.90 %"},
		records.Finding{Rule: records.SafetyDevices.Key, Section: "handover", Title: "Safety devices work",
			Outcome: records.Inside, Reading: "yes"})
	return sealed(tb, doc)
}

// keep leaves a file to look at in the folder PDF_SAMPLES, if that is set.
func keep(tb testing.TB, name string, file []byte) {
	if dir := os.Getenv("PDF_SAMPLES"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name+".pdf"), file, 0o644); err != nil {
			tb.Fatal(err)
		}
	}
}

// TestLandlordRecordHoldsTheNine: Gas Safety (Installation and Use)
// Regulations 1998, regulation 36(3)(c)(i) to (ix).
func TestLandlordRecordHoldsTheNine(t *testing.T) {
	t.Parallel()
	doc := landlordCheck(t)
	file := render(t, doc)
	keep(t, "landlord", file)
	path := save(t, file)
	checkPages(t, path)
	checkValues(t, doc, path)
	text := words(t, path, "-l", "1")
	for i, parts := range [][]string{
		{"Date of the check", "4 March 2026"},
		{"Address of the premises", "14 Tallow Row, Emberwick, EM4 7QT"},
		{"Landlord, or agent", "Oduya Lettings (agent), 2 Corn Hill, Emberwick EM1 3CC"},
		{"Appliance, flue, where", "Harrowgate Brassmere 24c", "flue: room-sealed, fanned",
			"where: Kitchen, north wall"},
		{"Defects that touch on safety", "None was found by the checks of this record."},
		{"What was done about them", "Nothing had to be done."},
		{"What the check covered", "Effectiveness of the flue: examined, 1 check.",
			"Supply of combustion air: examined, 2 checks.",
			"Operating pressure or heat input: examined, 2 checks.",
			"Operation of the appliance, so that it works without danger: examined, 1 check."},
		{"Name and signature", "Ifor Wynne-Jones, signed below.", "Signature of the person who made the check"},
		{"Registration", "Engineer LIC-448120; firm REG-120774 (Copperlea Heating,", "01632 960045"},
	} {
		for _, w := range parts {
			if !strings.Contains(text, w) {
				t.Errorf("point %d: page one lacks %q", i+1, w)
			}
		}
	}
	all := words(t, path)
	for _, w := range []string{doc.Record.Contact.Email, doc.Record.Contact.Phone} {
		if strings.Contains(all, w) {
			t.Errorf("the landlord's contact detail %q is printed", w)
		}
	}
}

// TestLandlordRecordClaimsNothing: what the record does not show is not
// claimed.
func TestLandlordRecordClaimsNothing(t *testing.T) {
	t.Parallel()
	doc := landlordCheck(t)
	doc.Findings, doc.Record.Values = nil, doc.Record.Values.Clone()
	delete(doc.Record.Values, records.EngineerSignature.Key)
	delete(doc.Record.Values, records.Declared.Key)
	doc.Record.Contact.Tenure = records.Tenant
	text := firstPage(t, sealed(t, doc))
	if n := strings.Count(text, "not shown by this record"); n != 4 {
		t.Errorf("%d of 4 parts are said not to be shown", n)
	}
	for _, w := range []string{"Ifor Wynne-Jones, not signed.", "Not named on this record"} {
		if !strings.Contains(text, w) {
			t.Errorf("page one lacks %q", w)
		}
	}
	found := adverse(t)
	found.Record.Purpose = records.LandlordCheck
	text = firstPage(t, sealed(t, found))
	for _, w := range []string{"Drop in the tightness test: 5.1 mbar, outside. At risk.", "Immediately dangerous.",
		"Appliance disconnected and a plug fitted.", "0800 111 999",
		"Not judged, because something is missing or doubtful: Heat input against the data plate."} {
		if !strings.Contains(text, w) {
			t.Errorf("adverse: page one lacks %q", w)
		}
	}
}

// TestPageCounts holds the samples to few pages, and page one to one page.
func TestPageCounts(t *testing.T) {
	t.Parallel()
	const most = 4
	names, err := filepath.Glob("../testdata/records/*.json")
	if err != nil || len(names) == 0 {
		t.Fatalf("no samples: %v", err)
	}
	for _, name := range names {
		file, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		r, err := records.DecodeRecord(file)
		if err = errors.Join(err, file.Close()); err != nil {
			t.Fatal(err)
		}
		doc := issue(t, r, rules.Evaluate(r, records.Facts{}))
		path := save(t, render(t, doc))
		checkPageOne(t, path)
		if n := len(pages(t, path)); n > most {
			t.Errorf("%s prints on %d pages", filepath.Base(name), n)
		}
	}
	for _, k := range kinds {
		checkPageOne(t, save(t, render(t, k.make(t))))
	}
}

// checkPageOne fails unless the second page starts with what the pages behind
// page one start with.
func checkPageOne(t *testing.T, path string) {
	t.Helper()
	second := words(t, path, "-f", "2", "-l", "2")
	if !strings.Contains(second, "inside within the limit; outside not within it;") {
		t.Errorf("%s: page one is not one page; the second reads %.300s", path, second)
	}
}
