package pdf_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/pdf"
	"gaugebook/pdf/pdftest"
	"gaugebook/records"
)

// A record of an older version prints whole: values beyond today's ranges and
// codes, fields and sections that are no longer asked for, and what stood
// outside the sections. The data attached to it is what was sealed.
func TestOldRecordPrints(t *testing.T) {
	t.Parallel()
	canonical, err := sample(t).Canonical()
	if err != nil {
		t.Fatal(err)
	}
	text := string(canonical)
	swap := func(from, to string) {
		if !strings.Contains(text, from) {
			t.Fatalf("the record holds no %s", from)
		}
		text = strings.Replace(text, from, to, 1)
	}
	swap(`"record":{`, `"record":{"weather":"dry 🔥 and frosty",`)
	swap(`"sections":{`, `"sections":{"chimney":{"height_m":6.50,"swept":true,"plan":{"floors":[1,2]}},`)
	swap(`"fuel":"natural-gas"`, `"fuel":"town-gas","old_plate":"A1\u0007B","parts":[{"name":"pump","size":7}]`)
	swap(`"seconds":`, `"others_off":"mostly","seconds":4`)
	swap(`"section":"tightness"`, `"section":"gasholder"`)
	swap(`"outcome":"inside"`, `"outcome":"passed"`)
	issued, err := records.DecodeIssued([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	file, err := pdf.Render(records.Document{Issued: issued})
	if err != nil {
		t.Fatal(err)
	}
	path := save(t, file)
	got := strings.Join(strings.Fields(pdftest.Run(t, "pdftotext", "-layout", path, "-")), " ")
	for _, want := range []string{"town-gas", "No longer asked for", "Old plate", "A1", "pump", "mostly",
		"Also on this record", "Chimney: height m 6.50", "Chimney: swept yes", `{"floors":[1,2]}`, "frosty",
		"Other checks",
		"All other appliances off"} {
		if !strings.Contains(got, want) {
			t.Errorf("the print does not say %q", want)
		}
	}
	out := filepath.Join(t.TempDir(), "record.json")
	pdftest.Run(t, "pdfdetach", "-savefile", pdf.RecordFile, "-o", out, path)
	if attached, err := os.ReadFile(out); err != nil || string(attached) != text {
		t.Errorf("attached is\n%s\nsealed was\n%s, %v", attached, text, err)
	}
}
